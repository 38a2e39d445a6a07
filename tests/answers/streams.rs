//! Whatever text the program reads, none of the text's control characters or marks of direction reaches a stream or the
//! title of a PDF.

use crate::{harness, support};

use std::fs;

use harness::{Run, breathline, home, scratch};
use support::{QUARTER, Track, file};

const TUNE: &str = "corpus/amazing-grace.musicxml";

/// Controls (ECMA-48: C0, delete and C1), and Unicode's bidirectional controls (Unicode Standard Annex #9, section 2).
fn is_raw(c: char) -> bool {
    matches!(c, '\0'..='\x1f' | '\x7f'..='\u{9f}' | '\u{61c}' | '\u{200e}' | '\u{200f}')
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Returns every character of [`is_raw`] except NUL, which no argument can contain, each after an `x`.
fn hostile() -> String {
    ('\u{1}'..='\u{2069}').filter(|&c| is_raw(c)).flat_map(|c| ['x', c]).collect()
}

/// Returns the text of [`hostile`] without the characters that XML forbids (XML 1.0, production 2).
fn hostile_xml() -> String {
    hostile().chars().filter(|&c| c >= ' ' || matches!(c, '\t' | '\n' | '\r')).collect()
}

/// Returns the text of [`hostile`] as a TOML string with escapes.
fn hostile_toml() -> String {
    hostile()
        .chars()
        .map(|c| if is_raw(c) { format!("\\u{:04X}", c as u32) } else { c.to_string() })
        .collect()
}

fn assert_clean(text: &str, of: &str) {
    let found: Vec<char> = text.chars().filter(|&c| c != '\n' && is_raw(c)).collect();
    assert!(found.is_empty(), "{of}: {found:?} in {}", text.chars().take(2000).collect::<String>());
}

/// Runs the command, and checks that both streams are clean, that the lines of stderr are short, and that the exit code
/// is 0, 1 or 2. Returns the text of both streams.
fn watch(run: Run, of: &str) -> String {
    let mut finished = run.run();
    // RFC 4180 ends the lines of CSV in CR LF.
    finished.stdout = finished.stdout.replace("\r\n", "\n");
    assert!(matches!(finished.code, Some(0..=2)), "{of}: {:?}", finished.code);
    assert_clean(&finished.stdout, of);
    assert_clean(&finished.stderr, of);
    for line in finished.stderr.lines() {
        assert!(line.chars().count() <= 200, "{of}: {line}");
    }
    finished.stdout + &finished.stderr
}

/// Makes a score that has the text in every element and attribute of MusicXML whose text the program reads.
fn score(text: &str) -> String {
    let note = |step: &str, more: &str| {
        format!(
            "<note><pitch><step>{step}</step><octave>4</octave></pitch><duration>1</duration><type>quarter</type>\
             <lyric number=\"{text}\"><syllabic>single</syllabic><text>{text}</text></lyric>{more}</note>"
        )
    };
    let notes: String = ["C", "E", "G", "E"].map(|step| note(step, "")).concat();
    let bars: String =
        (2..40).map(|bar| format!("<measure number=\"{bar}{text}\">{notes}</measure>")).collect();
    format!(
        "<score-partwise version=\"4.0\"><work><work-title>{text}</work-title></work>\
         <movement-title>{text}</movement-title><identification><creator type=\"{text}\">{text}</creator>\
         <creator type=\"composer\">{text}</creator><rights>{text}</rights></identification>\
         <part-list><score-part id=\"P1\"><part-name>{text}</part-name></score-part>\
         <score-part id=\"P2\"><part-name>{text} drums</part-name></score-part></part-list>\
         <part id=\"P1\"><measure number=\"{text}\"><attributes><divisions>1</divisions><key><fifths>0</fifths>\
         <mode>{text}</mode></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>\
         <direction><direction-type><words>{text}</words></direction-type></direction>\
         <direction><direction-type><rehearsal>{text}</rehearsal></direction-type></direction>\
         <harmony><root><root-step>C</root-step></root><kind text=\"{text}\">other</kind></harmony>\
         {notes}<barline><ending number=\"{text}\" type=\"start\">{text}</ending></barline></measure>{bars}</part>\
         <part id=\"P2\"><measure number=\"1\">{notes}</measure></part></score-partwise>"
    )
}

/// Makes a MIDI file that has the text in every kind of text event (1 to 15).
fn midi(text: &str) -> Vec<u8> {
    let texts = |track: Track| (1..=15).fold(track, |track, kind| track.meta(0, kind, text.as_bytes()));
    let sung = [60, 62, 64, 65, 67, 65, 64, 62, 60].iter().fold(texts(Track::new()), |track, &key| {
        track.meta(0, 5, text.as_bytes()).on(0, 0, key).off(QUARTER, 0, key)
    });
    file(1, &[texts(Track::new()), sung])
}

#[test]
fn no_text_of_a_file_brings_a_control_to_a_stream() {
    let folder = scratch();
    let tuning = folder.join("tuning.toml");
    let text = hostile_toml();
    let reeds = "blow = [0, 4, 7, 12, 16, 19, 24, 28, 31, 36]\ndraw = [2, 7, 11, 14, 17, 21, 23, 26, 29, 33]";
    fs::write(
        &tuning,
        format!("name = \"mine\"\ntitle = \"{text}\"\nalso = [\"{text}\"]\nabout = \"{text}\"\n{reeds}\n"),
    )
    .unwrap();
    fs::write(folder.join("score.musicxml"), score(&hostile_xml())).unwrap();
    fs::write(folder.join("tune.mid"), midi(&hostile())).unwrap();
    for name in ["score.musicxml", "tune.mid"] {
        let tune = folder.join(name);
        for command in [
            "suggest",
            "suggest --json",
            "suggest --format markdown",
            "suggest --harps C:mine",
            "suggest --harps C:mine --json",
            "notes --all-parts",
            "notes --json",
            "notes --format markdown",
            "tab --harp C:mine",
            "tab --harp C:mine --json",
            "tab --harp C:mine --format markdown",
            "check --harp C:mine",
            "check --harp C:mine --json",
            "book",
            "book --json",
            "book --csv",
            "bag",
            "bag --json",
            "set",
            "set --json",
            "set -o set.html",
        ] {
            let command = command.replace("set.html", &folder.join("set.html").display().to_string());
            let mut run = breathline(&command).arg(&tune);
            if !command.starts_with("notes") {
                run = run.arg("--tuning-file").arg(&tuning);
            }
            assert!(watch(run, &format!("{command} {name}")).len() > 100, "{command}");
        }
        // The program's own colours are the only escapes.
        let coloured = breathline("suggest --color always").arg(&tune).answers();
        let plain = coloured.split("\u{1b}[").enumerate().map(|(index, part)| match index {
            0 => part,
            _ => part.trim_start_matches(|c: char| c.is_ascii_digit()).strip_prefix('m').unwrap(),
        });
        assert_clean(&plain.collect::<String>(), "colours");
        for ending in ["html", "svg"] {
            for command in
                ["sheet --harp C:mine -o", "check --harp C:mine --sheet", "suggest --harps C:mine --sheet"]
            {
                let output = folder.join(format!("out.{ending}"));
                let run = breathline(&format!("{command} {}", output.display())).arg(&tune);
                watch(run.arg("--tuning-file").arg(&tuning), command);
                let mut pages: Vec<_> =
                    fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
                pages.retain(|path| path.extension().is_some_and(|found| found == ending));
                assert!(!pages.is_empty(), "{command} {ending}");
                for page in pages {
                    assert_clean(&fs::read_to_string(&page).unwrap(), &format!("{command} {ending} {name}"));
                    fs::remove_file(page).unwrap();
                }
            }
        }
    }
    for command in [
        "harp C:mine",
        "harp C:mine --json",
        "harp C:mine --chords",
        "positions --harp C:mine",
        "positions --harp C:mine --json",
    ] {
        watch(breathline(command).arg("--tuning-file").arg(&tuning), command);
    }
    fs::remove_dir_all(folder).unwrap();
}

/// Outside its compressed drawing, the only text of the tune in a PDF is the title.
#[test]
fn the_title_of_a_pdf_is_clean() {
    let folder = scratch();
    let (tune, sheet) = (folder.join("tune.musicxml"), folder.join("tune.pdf"));
    let title = format!("<work-title>Amazing{}Grace", hostile_xml().replace('x', ""));
    let score =
        fs::read_to_string(home().join(TUNE)).unwrap().replacen("<work-title>Amazing Grace", &title, 1);
    assert!(score.contains(&title));
    fs::write(&tune, score).unwrap();
    breathline("sheet -o").arg(&sheet).arg(&tune).answers();
    let bytes = fs::read(&sheet).unwrap();
    let text: String = bytes.iter().map(|&byte| char::from(byte)).collect();
    let title = text.split("/Title (").nth(1).unwrap().split(')').next().unwrap();
    assert_eq!(title.replace(' ', ""), "AmazingGrace");
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn no_option_brings_a_control_to_a_stream() {
    let text = hostile();
    for (command, last) in [
        ("", ""),
        ("suggest", ""),
        ("suggest corpus/amazing-grace.musicxml", "--"),
        ("suggest corpus/amazing-grace.musicxml --harps", ""),
        ("suggest corpus/amazing-grace.musicxml --harps", "C:"),
        ("suggest corpus/amazing-grace.musicxml --tunings", ""),
        ("suggest corpus/amazing-grace.musicxml --player", ""),
        ("suggest corpus/amazing-grace.musicxml --tuning-file", ""),
        ("suggest corpus/amazing-grace.musicxml --key", ""),
        ("suggest corpus/amazing-grace.musicxml --position", ""),
        ("suggest corpus/amazing-grace.musicxml --style", ""),
        ("suggest corpus/amazing-grace.musicxml --part", ""),
        ("suggest corpus/amazing-grace.musicxml --tempo", ""),
        ("suggest corpus/amazing-grace.musicxml --top", ""),
        ("suggest corpus/amazing-grace.musicxml --sheet", ""),
        ("suggest corpus/amazing-grace.musicxml --sheet", "no-folder/x.svg"),
        ("tab corpus/amazing-grace.musicxml --harp", ""),
        ("tab corpus/amazing-grace.musicxml --harp C --octave", ""),
        ("tab corpus/amazing-grace.musicxml --harp C --tab-style", ""),
        ("check corpus/amazing-grace.musicxml --harp C --tab", ""),
        ("export corpus/amazing-grace.musicxml --harp C -o", ""),
        ("sheet corpus/amazing-grace.musicxml -o", ""),
        ("harp", ""),
        ("harp C --tuning", ""),
        ("harp C --tuning-file", ""),
        ("positions --harp", ""),
        ("positions --key", ""),
        ("positions --feel", ""),
    ] {
        let said = watch(breathline(command).arg(format!("{last}{text}")), command);
        assert!(said.contains("xx"), "{command}: {said}");
        // A very long argument must not make the line long.
        watch(breathline(command).arg(format!("{last}{}", "long ".repeat(10_000))), command);
    }
}

#[test]
fn no_file_name_and_no_small_file_brings_a_control_to_a_stream() {
    let folder = scratch();
    let (name, toml) = (hostile().replace('x', ""), hostile_toml());
    let named = |ending: &str| folder.join(format!("{name}.{ending}"));
    // The names of files that are read and written are hostile.
    fs::copy(home().join(TUNE), named("musicxml")).unwrap();
    let tune = named("musicxml");
    for command in ["suggest", "notes --json", "tab --harp C --json"] {
        watch(breathline(command).arg(&tune), command);
    }
    for (command, ending) in [
        ("sheet -o", "html"),
        ("sheet --json -o", "svg"),
        ("sheet -o", "pdf"),
        ("export --harp C -o", "mid"),
        ("export --harp C --json -o", "mxl"),
    ] {
        let said = watch(breathline(command).arg(named(ending)).arg(&tune), command);
        assert!(!said.is_empty() && named(ending).is_file(), "{command}: {said}");
    }
    let long = breathline("sheet corpus/two-jigs.musicxml --size large -o").arg(named("svg")).run();
    assert_clean(&(long.stdout + &long.stderr), "pages");
    // The name of a tab file and the tab itself are hostile.
    fs::write(named("txt"), format!("4 {} 5 -4 4 {name} -5", hostile())).unwrap();
    for command in
        ["tab --harp C", "tab --harp C --json", "check corpus/amazing-grace.musicxml --harp C --tab"]
    {
        watch(breathline(command).arg(named("txt")), command);
    }
    // Fields and values of the user's own files are hostile.
    let kit = folder.join("breathline");
    fs::create_dir(&kit).unwrap();
    for content in [
        format!("\"{toml}\" = 1"),
        format!("name = \"{toml}\""),
        format!("name = \"{toml}\"\nbends_known = \"{toml}\""),
        format!("name = \"{toml}\"\ntitle = \"{toml}\"\nblow = [\"{toml}\"]"),
        format!("harps = [\"{toml}\"]"),
        hostile(),
    ] {
        fs::write(named("toml"), &content).unwrap();
        fs::write(kit.join("kit.toml"), &content).unwrap();
        for command in ["harp C --tuning-file", "suggest corpus/amazing-grace.musicxml --player"] {
            let said = watch(breathline(command).arg(named("toml")), command);
            assert!(said.starts_with("breathline: ") && said.lines().count() == 1, "{said}");
        }
        let run = breathline("suggest corpus/amazing-grace.musicxml")
            .env("XDG_CONFIG_HOME", folder.to_str().unwrap());
        let said = watch(run, "kit");
        assert!(said.starts_with("breathline: "), "{said}");
    }
    // The error about a damaged score quotes the score's text.
    for broken in ["<score-partwise {}>", "<score-partwise><{}></score-partwise>", "<{}/>", "<html{}/>", "{}"]
    {
        fs::write(named("musicxml"), broken.replace("{}", &hostile_xml())).unwrap();
        watch(breathline("notes").arg(&tune), broken);
        fs::write(named("musicxml"), broken.replace("{}", &hostile())).unwrap();
        watch(breathline("notes").arg(&tune), broken);
    }
    fs::remove_dir_all(folder).unwrap();
}
