//! The practice page and the page of a check as files: they need no other file, no text of a tune acts as markup, and
//! their numbers equal the numbers of the search.

#![cfg(feature = "sheet")]
#![allow(clippy::unwrap_used, reason = "a panic is how a test reports a failure")]

use crate::harness;

use std::{fs, io::Read};

use base64::{Engine, prelude::BASE64_STANDARD};
use breathline::{
    compare::lesson::{self, Stated},
    harp::{Harp, Technique, Tuning},
    import::{self, ImportOptions, Imported, repeats},
    melody::{
        Lyric,
        key::{self, KeyFinding},
    },
    pages::{
        self, Tune,
        comparison::Comparison,
        practice::{self, Practice},
    },
    pitch::Interval,
    render::html,
    search::{self, Ranking, Request, Weights},
    sheet::screen,
    tab::{Notation, read},
};
use flate2::read::DeflateDecoder;
use serde_json::Value;
use sha2::{Digest, Sha256};

fn tune(name: &str) -> Imported {
    let bytes = fs::read(format!("corpus/{name}.musicxml")).unwrap();
    import::import(&bytes, &ImportOptions::default()).unwrap()
}

/// Makes the practice page of a tune, and calls `check` with the page, the ranking and the page's HTML.
fn with_page(imported: &Imported, check: impl FnOnce(&Practice, &Ranking, &str)) {
    let key = key::find(&imported.melody);
    let harps = Harp::standard_set(&Tuning::richter());
    with_page_of(imported, &key, &harps, check);
}

fn with_page_of(
    imported: &Imported,
    key: &KeyFinding,
    harps: &[Harp],
    check: impl FnOnce(&Practice, &Ranking, &str),
) {
    let weights = Weights::default();
    let request = Request {
        melody: &imported.melody,
        key: key.key,
        harps,
        technique: Technique::All,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let (request, ranking) = search::ways::answer(&request, &search::Wanted::ALL);
    let tune = Tune { name: "a tune", imported, key };
    let page = practice::practice(&tune, &request, &ranking, Notation::default());
    let sheets = screen::sheets(&tune, &request, &practice::shown(&ranking), Notation::default().bend_mark);
    check(&page, &ranking, &html::render(&page, &sheets));
}

/// Returns the text between two pieces of text.
fn between<'a>(text: &'a str, before: &str, after: &str) -> &'a str {
    let start = text.find(before).unwrap() + before.len();
    &text[start..start + text[start..].find(after).unwrap()]
}

/// Returns the page with its packed rows unpacked.
fn unpacked(html: &str) -> String {
    let mut pieces = html.split("<template");
    let mut whole = pieces.next().unwrap().to_owned();
    for piece in pieces {
        let (opening, rest) = piece.split_once('>').unwrap();
        let (text, after) = rest.split_once("</template>").unwrap();
        let (deflated, mut row) = (BASE64_STANDARD.decode(text).unwrap(), String::new());
        DeflateDecoder::new(deflated.as_slice()).read_to_string(&mut row).unwrap();
        whole += &format!("<template{opening}>{row}</template>{after}");
    }
    whole
}

fn data(html: &str) -> Value {
    serde_json::from_str(between(html, "id=\"data\">", "</script>")).unwrap()
}

fn numbers(list: &Value) -> Vec<u64> {
    list.as_array().unwrap().iter().map(|number| number.as_u64().unwrap()).collect()
}

#[test]
fn the_policy_names_the_style_and_the_script_that_stand_in_the_page_and_nothing_else() {
    with_page(&tune("swallowtail-jig"), |_, _, html| {
        let policy = between(html, "Content-Security-Policy\" content=\"", "\"").replace("&#39;", "'");
        let named = |text: &str| format!("'sha256-{}'", BASE64_STANDARD.encode(Sha256::digest(text)));
        let style = named(between(html, "<style>", "</style>"));
        let script = named(between(html, "<script>", "</script>"));
        let expected = [
            "default-src 'none'".to_owned(),
            format!("script-src {script}"),
            format!("style-src {style}"),
            "font-src data:".to_owned(),
            "base-uri 'none'".to_owned(),
            "form-action 'none'".to_owned(),
        ];
        assert_eq!(policy.split("; ").collect::<Vec<_>>(), expected);
        // The page contains nothing that its security policy would block.
        assert_eq!((html.matches("<style").count(), html.matches("<script").count()), (1, 2));
        let markup = unpacked(&html.replace(between(html, "<script>", "</script>"), ""));
        for outside in
            [" style=", " src=", " onclick", " onload", "url(http", "@import", "http://", "https://"]
        {
            assert!(!markup.contains(outside), "{outside}");
        }
    });
}

/// The sheets use the fonts of the PDF, whatever fonts the reader has: the page contains each face once, however many
/// sheets there are.
#[test]
fn the_page_brings_the_letters_of_its_sheets() {
    with_page(&tune("amazing-grace"), |_, _, html| {
        let style = between(html, "<style>", "</style>");
        let faces: Vec<&str> = style.split("@font-face{").skip(1).collect();
        assert_eq!(faces.len(), 3);
        let mut bytes = 0;
        for face in faces {
            assert!(face.starts_with("font-family:'Libertinus Serif';"));
            let font = BASE64_STANDARD.decode(between(face, "data:font/otf;base64,", ")")).unwrap();
            assert!(font.starts_with(b"OTTO"));
            bytes += font.len();
        }
        assert!(bytes < 60_000, "{bytes}");
    });
}

#[test]
fn nothing_in_a_title_or_a_lyric_is_markup() {
    let hostile = [
        "</script><img src=x onerror=alert(1)>",
        "</title><script>alert(2)</script>",
        "<!--<script>",
        "\"' onmouseover='alert(3)",
        "\u{1b}]0;title\u{7}&lt;b&gt;\u{2028}x",
    ];
    let plain = tune("swallowtail-jig");
    let mut elements = 0;
    with_page(&plain, |_, _, html| elements = unpacked(html).matches('<').count());
    for text in hostile {
        let mut imported = plain.clone();
        imported.melody.title = Some(text.to_owned());
        with_page(&imported, |_, _, html| {
            let html = &unpacked(html);
            assert_eq!(html.matches('<').count(), elements, "{text}");
            let escaped: String = text.chars().filter(|c| !c.is_control() && *c != '\u{2028}').collect();
            let escaped = escaped.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
            let escaped = escaped.replace('"', "&quot;").replace('\'', "&#39;");
            assert_eq!(between(html, "<h1>", "</h1>"), escaped);
        });
        let mut imported = plain.clone();
        imported.melody.notes[3].lyrics.push(Lyric {
            verse: 1,
            text: text.to_owned(),
            hyphen: false,
            extend: false,
        });
        with_page(&imported, |_, _, html| {
            let place = data(html)["notes"]["place"][3].as_str().unwrap().to_owned();
            assert!(place.contains(text), "{place}");
            assert!(!between(html, "id=\"data\">", "</script>").contains('<'));
            assert_eq!(html.matches("<script").count(), 2, "{text}");
            assert!(!unpacked(html).contains("<img"), "{text}");
        });
    }
}

#[test]
fn the_script_is_told_when_each_note_sounds_and_which() {
    for name in ["swallowtail-jig", "amazing-grace", "londonderry-air"] {
        let imported = tune(name);
        with_page(&imported, |page, ranking, html| {
            let data = data(html);
            let melody = &imported.melody;
            let timing = melody.timing();
            let starts: Vec<u64> = timing.iter().map(|sounding| sounding.start / 1000).collect();
            let ends: Vec<u64> = timing.iter().map(|sounding| sounding.end / 1000).collect();
            assert_eq!(numbers(&data["notes"]["at"]), starts);
            assert_eq!(numbers(&data["notes"]["to"]), ends);
            assert_eq!(data["bars"].as_array().unwrap().len(), melody.bars.len());
            assert_eq!(page.rows.len(), 10);
            for (row, approach) in data["rows"].as_array().unwrap().iter().zip(&ranking.approaches) {
                for (index, note) in melody.notes.iter().enumerate() {
                    let way = &row["ways"][row["notes"][index].as_u64().unwrap() as usize];
                    let action = approach.playing.notes[index].action;
                    let sounds = action.and(note.pitch.transposed(approach.shift()));
                    assert_eq!(way["midi"].as_u64(), sounds.map(|pitch| pitch.midi().into()));
                    assert_eq!(way["hole"].as_u64(), action.map(|action| action.hole.into()));
                }
            }
        });
    }
}

#[test]
fn the_chords_are_told_below_the_tune_and_move_with_it() {
    let abc = "X:1\nM:4/4\nL:1/4\nQ:1/4=60\nK:C\n\"C\"CDEF|\"N.C.\"G2\"G7/B\"G2|\n";
    let imported = import::import(abc.as_bytes(), &ImportOptions::default()).unwrap();
    with_page(&imported, |_, ranking, html| {
        let data = data(html);
        // A C chord over C, no chord at "N.C.", G7 over B; the bass is from G2 up, the other notes from G3.
        let chord = |at, to, midi: &[u8]| serde_json::json!({"at": at, "to": to, "midi": midi});
        let wanted = [chord(0, 4000, &[48, 60, 64, 55]), chord(6000, 8000, &[47, 55, 59, 62, 65])];
        assert_eq!(data["chords"], Value::from(wanted.to_vec()));
        let first = ranking.best().unwrap();
        assert_eq!(data["rows"][0]["moved"], first.transposed.0);
        assert_eq!(data["rows"][0]["drone"], 48);
    });
}

#[test]
fn a_count_in_is_a_full_bar_of_felt_beats_and_an_upbeat_falls_into_its_place() {
    // The tune is in 6/8 with a pickup of an eighth at 168 quarters per minute: a dotted quarter lasts 535 ms, an
    // eighth 178 ms.
    with_page(&tune("swallowtail-jig"), |page, _, _| {
        let (pickup, first) = (&page.bars[0], &page.bars[1]);
        assert_eq!((pickup.label.as_str(), first.label.as_str()), ("pickup", "1"));
        assert_eq!((first.beat_us / 1000, first.beats, first.count_in_us / 1000), (535, 2, 1071));
        // The count-in has two beats, then a bar that lacks its last eighth.
        assert_eq!(pickup.count_in_us / 1000, 1071 + 1071 - 178);
    });
    // The tune is in 3/4 with a pickup of a quarter.
    with_page(&tune("amazing-grace"), |page, _, _| {
        let (pickup, first) = (&page.bars[0], &page.bars[1]);
        let beats = |count_in: u64| (count_in as f64 / first.beat_us as f64 * 1000.0).round() / 1000.0;
        assert_eq!((first.beats, beats(first.count_in_us), beats(pickup.count_in_us)), (3, 3.0, 5.0));
    });
}

#[test]
fn the_picture_shows_parts_that_are_the_whole() {
    with_page(&tune("swallowtail-jig"), |page, ranking, html| {
        for (row, approach) in page.rows.iter().zip(&ranking.approaches) {
            assert_eq!(row.effort, approach.playing.effort);
        }
        // The bar of the best row is a quarter as wide as the picture: the widths of its parts add up to 25%, apart
        // from rounding.
        let bar = between(html, "<svg class=\"bar\"", "</svg>");
        let before: Vec<&str> = bar.split("class=\"part").collect();
        let (_, before) = before.split_last().unwrap();
        let width =
            |rect: &&str| rect.rsplit_once(" width=\"").unwrap().1.split('%').next().unwrap().parse::<f64>();
        let widths: Vec<f64> = before.iter().map(|rect| width(rect).unwrap()).collect();
        assert!(widths.len() > 1 && (widths.iter().sum::<f64>() - 25.0).abs() < 0.05, "{widths:?}");
        assert_eq!(page.axis, 4 * page.rows[0].effort.total());
        // The number beside the bar states this effort in figures.
        assert!(html.contains(&format!("<td class=\"number\">{}</td>", page.rows[0].effort.total())));
    });
}

#[test]
fn every_note_stands_on_the_strip_and_the_sheets_of_every_approach() {
    let imported = tune("drunken-sailor");
    with_page(&imported, |page, _, html| {
        let html = &unpacked(html);
        for index in 0..imported.melody.notes.len() {
            let on_strip = |html: &str| html.matches(&format!("data-note=\"{index}\"")).count();
            let strips =
                html.split("class=\"strip\"").skip(1).map(|strip| strip.split("</svg>").next().unwrap());
            assert_eq!(strips.map(on_strip).collect::<Vec<_>>(), vec![1; page.rows.len()], "note {index}");
            // The note is on the sheet in long lines and in short lines, and more often if it is tied.
            assert!(on_strip(html) >= 3 * page.rows.len(), "note {index}");
        }
    });
}

#[test]
fn the_level_of_the_lungs_stays_within_them() {
    with_page(&tune("stille-nacht"), |page, ranking, _| {
        for (row, approach) in page.rows.iter().zip(&ranking.approaches) {
            assert!(row.air.iter().all(|level| level.ml <= page.lungs.capacity_ml));
            let last = approach.playing.notes.iter().rev().find(|played| played.action.is_some()).unwrap();
            assert_eq!(row.air.last().unwrap().ml, last.air_ml);
        }
    });
}

#[test]
fn a_long_tune_has_fewer_rows_and_says_so() {
    let mut imported = tune("korobeiniki");
    let melody = imported.melody.clone();
    let length = melody.bars.last().map(|bar| bar.start + bar.length).unwrap();
    let mut offset = length;
    // The tune gets 38 times 37 notes.
    for round in 1..38 {
        for note in &melody.notes {
            let mut note = note.clone();
            (note.onset, note.bar) = (note.onset + offset, note.bar + round * melody.bars.len());
            imported.melody.notes.push(note);
        }
        for bar in &melody.bars {
            let mut bar = bar.clone();
            bar.start += offset;
            imported.melody.bars.push(bar);
        }
        offset += length;
    }
    with_page(&imported, |page, _, html| {
        assert_eq!(page.rows.len(), 6000 / (38 * 37));
        assert!(
            html.contains("The tune is long, so the page has room for only the best four ways to play it.")
        );
        assert_eq!(html.matches("<template data-row").count(), 3);
    });
}

#[test]
fn a_tune_out_of_reach_says_so() {
    let mut imported = tune("amazing-grace");
    for note in &mut imported.melody.notes {
        note.pitch = breathline::pitch::Pitch::new(61).unwrap();
    }
    let key = key::find(&imported.melody);
    with_page_of(&imported, &key, &[], |page, _, html| {
        assert!(page.rows.is_empty());
        assert!(html.contains("None of the harps reaches a single note of this tune."));
        assert!(!html.contains("<script"), "there is nothing to play");
    });
}

#[test]
fn both_commands_write_the_page() {
    let path = format!("{}/amazing-grace.html", env!("CARGO_TARGET_TMPDIR"));
    harness::breathline(&format!("suggest corpus/amazing-grace.musicxml --sheet {path}")).answers();
    let suggested = fs::read_to_string(&path).unwrap();
    with_page(&tune("amazing-grace"), |_, _, html| assert_eq!(html, suggested));
    let said = harness::breathline(&format!("sheet corpus/amazing-grace.musicxml -o {path}")).answers();
    assert_eq!(said, format!("{path}\n"));
    assert!(fs::read_to_string(&path).unwrap() == suggested, "the two commands differ");
}

#[test]
fn a_page_for_a_chosen_harp_has_its_octaves_as_rows() {
    let path = format!("{}/chosen.html", env!("CARGO_TARGET_TMPDIR"));
    harness::breathline(&format!("sheet corpus/amazing-grace.musicxml --harp C -o {path}")).answers();
    let html = fs::read_to_string(&path).unwrap();
    let rows = data(&html)["rows"].as_array().unwrap().clone();
    assert!(rows.len() > 1);
    assert!(
        rows.iter().all(|row| row["name"].as_str().unwrap().starts_with("C harp, 2nd position")),
        "{rows:?}"
    );
}

#[test]
fn the_same_tune_gives_the_same_page() {
    let mut pages = Vec::new();
    for _ in 0..2 {
        with_page(&tune("korobeiniki"), |_, _, html| pages.push(html.to_owned()));
    }
    assert_eq!(pages[0], pages[1]);
}

/// The parts played one after another take as long as the tune with its repeats written out, which has no repeats left.
#[test]
fn repeats_are_played_as_they_are_written_out() {
    let mut repeated = 0;
    for path in harness::files("corpus", "musicxml") {
        let written = import::import(&fs::read(&path).unwrap(), &ImportOptions::default()).unwrap();
        let mut unfolded = written.clone();
        unfolded.melody = repeats::unfold(&written.melody, 1).0;
        let order = |imported: &Imported| {
            let mut order = Vec::new();
            with_page_of(imported, &key::find(&imported.melody), &harps(), |page, _, _| {
                order.clone_from(&page.order);
            });
            order
        };
        let time = |order: &[[u64; 2]]| order.iter().map(|[from, to]| to - from).sum::<u64>();
        let (parts, whole) = (order(&written), order(&unfolded));
        assert_eq!(whole.len(), 1, "{}", path.display());
        // The length of each part is rounded to milliseconds.
        assert!(time(&parts).abs_diff(time(&whole)) <= parts.len() as u64, "{}", path.display());
        repeated += usize::from(parts.len() > 1);
    }
    assert!(repeated > 10, "{repeated}");
}

fn harps() -> Vec<Harp> {
    vec![Harp::parse("C", Tuning::built_in()).unwrap()]
}

/// Makes the page of a check of the demo's lesson, and calls `check` with the page and its comparison.
fn with_check(imported: &Imported, check: impl FnOnce(&Comparison, &str)) {
    let key = key::find(&imported.melody);
    let weights = Weights::default();
    let harp = Harp::parse("G", Tuning::built_in()).unwrap();
    let request = Request {
        melody: &imported.melody,
        key: key.key,
        harps: std::slice::from_ref(&harp),
        technique: Technique::All,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let text = &read::read(&fs::read_to_string("demo/lamps-lesson.txt").unwrap(), None).unwrap();
    let stated = Stated { harp: &harp, transposed: Interval(0), octave: None };
    let lesson = &lesson::check(&request, stated, text).unwrap();
    let (tune, notation) = (Tune { name: "a tune", imported, key: &key }, Notation::default());
    let checked =
        pages::lesson::Checked { tune, request: &request, stated, text, lesson, best: None, notation };
    let comparison = pages::lesson::comparison(&checked);
    let sheets = screen::compared(&tune, &request, &comparison, notation.bend_mark);
    check(&comparison, &html::check(&comparison, &sheets));
}

#[test]
fn the_page_of_a_check_has_both_ways_and_says_what_to_change_and_runs_nothing() {
    let bytes = fs::read("demo/lamps-along-the-row.musicxml").unwrap();
    let plain = import::import(&bytes, &ImportOptions::default()).unwrap();
    let mut elements = 0;
    with_check(&plain, |comparison, html| {
        elements = html.matches('<').count();
        let policy = between(html, "Content-Security-Policy\" content=\"", "\"").replace("&#39;", "'");
        assert!(policy.contains("default-src 'none'; script-src 'none'; "), "{policy}");
        assert!(!html.contains("<script"));
        // The page begins with the things to change.
        let header = between(html, "<header>", "</header>");
        assert!(header.contains("61 of 63 notes are right; two things to change"), "{header}");
        assert_eq!(header.matches("<li>").count(), 2, "{header}");
        // Both tabs follow: every note appears twice in long lines and twice in short ones, each time with its head.
        assert_eq!(comparison.sides.len(), 2);
        for (class, end) in [("broad", "<div class=\"slim\">"), ("slim", "</section>")] {
            let drawn = between(html, &format!("<div class=\"{class}\">"), end);
            let heads = drawn.matches("href=\"#head_").count();
            let pieces = drawn.matches("data-note=").count();
            assert!(heads >= pieces && pieces == 2 * plain.melody.notes.len(), "{heads} {pieces}");
            assert_eq!(
                drawn.matches(r#"<rect class="frame""#).count(),
                2 + 1,
                "in both lines, and in the legend"
            );
        }
        let tabs = between(html, "<details class=\"tab\">", "</details>");
        assert!(tabs.contains("The tab, corrected") && tabs.contains("The easiest on this harp"));
        assert!(html.contains("The cost of the holes"));
    });
    let mut imported = plain;
    imported.melody.title = Some("</title><script>alert(1)</script>".to_owned());
    with_check(&imported, |_, html| assert_eq!(html.matches('<').count(), elements));
}

#[test]
fn a_page_names_no_option_of_the_command() {
    let page = harness::home().join("target/tmp/no-options.html");
    let tune = harness::home().join("demo/lamps-along-the-row.musicxml");
    let asked = harness::breathline("suggest --harps C --bends none --as-written --force -o")
        .arg(&page)
        .arg(&tune)
        .run();
    assert!(asked.stdout.replace("\n    ", " ").contains("draw bends (--bends draw)"), "{}", asked.stdout);
    let html = std::fs::read_to_string(&page).unwrap();
    let (_, body) = html.split_once("<body").unwrap();
    let (body, _) = body.split_once("<script").unwrap();
    assert!(body.contains("draw bends"), "the advice itself stays");
    for option in ["--bends", "--adapt", "--any-key", "--harps", "--key"] {
        assert!(!body.contains(option), "{option}");
    }
}
