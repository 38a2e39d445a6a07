//! The key as the user sees it: the runner-up if the key is in doubt, keys that change, shades, and spelling.

use crate::harness;

use harness::breathline;
use serde_json::{Value, json};

/// Makes a tune in 4/4 from note names with a length in quarters (`F#4:2`); `(1)` sets the signature of a new bar, in
/// sharps.
fn tune(text: &str) -> String {
    let (mut bars, mut bar, mut filled) = (String::new(), String::new(), 0);
    for word in text.split_whitespace() {
        if let Some(sharps) = word.strip_prefix('(').and_then(|word| word.strip_suffix(')')) {
            bar += &format!(
                "<attributes><divisions>1</divisions><key><fifths>{sharps}</fifths></key></attributes>"
            );
            continue;
        }
        let (name, length) = word.split_once(':').unwrap_or((word, "1"));
        let (step, octave) = (&name[..1], &name[name.len() - 1..]);
        let alter = match &name[1..name.len() - 1] {
            "#" => 1,
            "b" => -1,
            _ => 0,
        };
        bar += &format!(
            "<note><pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>\
             <duration>{length}</duration></note>"
        );
        filled += length.parse::<u32>().unwrap();
        if filled == 4 {
            let number = bars.matches("<measure").count() + 1;
            let meter = if number == 1 {
                "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
            } else {
                ""
            };
            bars += &format!("<measure number=\"{number}\">{meter}{bar}</measure>");
            (bar, filled) = (String::new(), 0);
        }
    }
    assert_eq!(filled, 0, "bars are not full");
    format!(
        "<score-partwise><part-list><score-part id=\"P1\"/></part-list><part id=\"P1\">{bars}</part></score-partwise>"
    )
}

fn answer(command: &str, tune: &str) -> String {
    // At this width no sentence wraps.
    breathline(&format!("{command} - --width 400")).stdin(tune).answers()
}

fn data(command: &str, tune: &str) -> Value {
    serde_json::from_str(&breathline(&format!("{command} - --json")).stdin(tune).answers()).unwrap()
}

/// The tune starts in A minor and ends in C.
const IN_DOUBT: &str = "(0) A4 B4 C5 E5 D5 C5 A4:2 G4 A4 C5 D5 E5 D5 C5:2";

/// The tune goes up and down the scale and ends on the tonic, in G.
const IN_G: &str = "G4 A4 B4 C5 D5 E5 F#5 G5 D5 B4 A4 D5 G4:4";
/// The same tune in D.
const IN_D: &str = "D4 E4 F#4 G4 A4 B4 C#5 D5 A4 F#4 E4 A4 D4:4";

#[test]
fn a_key_in_doubt_is_ranked_beside_its_rival() {
    let tune = tune(IN_DOUBT);
    let found = data("suggest --top 60", &tune);
    let rival = &found["rival"];
    assert_ne!(rival["tonic"], found["key"]["tonic"], "{found}");
    // The rival's rows equal the rows of `--key` with the rival's name.
    let name = format!("{} {}", rival["tonic"].as_str().unwrap(), rival["mode"].as_str().unwrap());
    let path = std::env::temp_dir().join(format!("breathline-keys-{}.musicxml", std::process::id()));
    std::fs::write(&path, &tune).unwrap();
    let asked = breathline("suggest --top 60 --json --key").arg(&name).arg(&path).answers();
    std::fs::remove_file(&path).unwrap();
    let asked: Value = serde_json::from_str(&asked).unwrap();
    let short = |row: &Value| {
        let bends: u64 = match &row["bends"] {
            Value::Number(bends) => bends.as_u64().unwrap(),
            kinds => kinds.as_object().unwrap().values().map(|kind| kind.as_u64().unwrap()).sum(),
        };
        let effort = row["effort"].get("total").unwrap_or(&row["effort"]).clone();
        let playing = ["rank", "harp", "position", "octave", "sounding_key", "playable"]
            .map(|field| row[field].clone());
        (playing, bends, effort)
    };
    let rows = |list: &Value| list.as_array().unwrap().iter().map(short).collect::<Vec<_>>();
    assert!(rows(&rival["approaches"]).len() > 12);
    assert_eq!(rows(&rival["approaches"]), rows(&asked["approaches"]));
    // If the user names the key, there is no rival.
    assert!(asked.get("rival").is_none());

    let page = answer("suggest --ranking", &tune);
    assert!(
        page.contains("If the key is ") && !page.contains("only the names of the positions change"),
        "{page}"
    );
    // On one harp all rows of the rival have another position, whose price is the same for all rows.
    assert!(answer("suggest --harps C --ranking", &tune).contains("only the names of the positions change"));
    // The short answer names the way for the other key, if that way differs.
    let first = &rival["approaches"][0]["harp"]["key"];
    let told = format!(
        "likely), not {} {}: {} {} harp in ",
        found["key"]["tonic"].as_str().unwrap(),
        found["key"]["mode"].as_str().unwrap(),
        if "AEF".contains(&first.as_str().unwrap()[..1]) { "an" } else { "a" },
        first.as_str().unwrap()
    );
    let page = answer("suggest", &tune);
    assert!(page.contains("If the key is ") && page.contains(&told), "{told}: {page}");
    assert!(!answer("suggest --harps C", &tune).contains("If the key is "));
    assert!(!answer("suggest --key C", &tune).contains("If the key is "));
    assert!(!answer("suggest", &self::tune(IN_G)).contains("If the key is "));
}

#[test]
fn the_position_asked_for_is_another_harp_in_the_rival_key() {
    let found = data("suggest --position 2", &tune(IN_DOUBT));
    let harp = |rows: &Value| rows[0]["harp"]["key"].as_str().unwrap().to_owned();
    assert_ne!(harp(&found["approaches"]), harp(&found["rival"]["approaches"]));
    let rows = found["rival"]["approaches"].as_array().unwrap();
    assert!(rows.iter().all(|row| row["position"] == 2));
    let any = answer("suggest --any-key --ranking", &tune(IN_DOUBT));
    assert_eq!(any.matches("in key").count(), 2, "{any}");
    let page = answer("suggest --position 2 --ranking", &tune(IN_DOUBT));
    assert!(!page.contains("only the names of the positions change"), "{page}");
}

#[test]
fn a_very_doubtful_key_does_not_name_the_position_unasked() {
    // Five notes circle without a clear end, so any of several tonics is possible.
    let tune = tune("D5 B4 G4 A4 B4 D5 B4 E4 D5 B4 A4 G4 E4 D4 A4:2");
    let found = data("suggest", &tune);
    assert!(found["key"]["tonic_confidence"].as_f64().unwrap() < 0.7, "{}", found["key"]);
    let doubt = "which is doubtful";
    let page = answer("suggest", &tune);
    assert!(page.contains(doubt) && answer("tab --harp C", &tune).contains(doubt));
    // The second key's way is shown next to the first, and its odds are the same figure wherever they appear.
    let rival = &found["rival"];
    let odds = format!("{}%", (100.0 * rival["tonic_confidence"].as_f64().unwrap()).round());
    assert_eq!(page.matches(&odds).count(), 3, "{odds}\n{page}");
    assert!(page.contains(&format!("({odds} likely), this is ")), "{page}");
    assert!(!answer("suggest --key C", &tune).contains(doubt));
}

#[test]
fn a_tune_that_changes_key_is_read_in_sections() {
    let changing = tune(&format!("(1) {IN_G} {IN_G} (2) {IN_D}"));
    let found = data("tab --harp C", &changing);
    let sections: Vec<(u64, &str)> = found["key"]["sections"]
        .as_array()
        .unwrap()
        .iter()
        .map(|section| (section["bar"].as_u64().unwrap(), section["tonic"].as_str().unwrap()))
        .collect();
    assert_eq!(sections, [(1, "G"), (9, "D")]);
    // Most of the tune is in G, although it ends in D.
    assert_eq!((&found["key"]["tonic"], &found["approaches"][0]["position"]), (&json!("G"), &json!(2)));
    let page = answer("tab --harp C", &changing);
    assert!(page.contains("The key changes: G major, then D major from bar 9 on"), "{page}");
    assert!(page.contains("and with it the position: 3rd position (slant harp) from bar 9"), "{page}");

    let mostly_d = tune(&format!("(1) {IN_G} (2) {IN_D} {IN_D}"));
    assert_eq!(data("notes", &mostly_d)["key"]["tonic"], "D");
    let overruled = data("tab --harp C --key G", &mostly_d);
    assert_eq!(
        (&overruled["key"]["tonic"], &overruled["approaches"][0]["position"]),
        (&json!("G"), &json!(2))
    );

    // A signature that repeats the previous one changes nothing.
    let same = tune(&format!("(1) {IN_G} (1) {IN_G}"));
    assert!(data("notes", &same)["key"].get("sections").is_none());
}

#[test]
fn notes_beside_the_mode_tell_its_shade() {
    let shade = |text: &str, key: &str| {
        let path =
            std::env::temp_dir().join(format!("breathline-shade-{}-{}.xml", std::process::id(), text.len()));
        std::fs::write(&path, tune(text)).unwrap();
        let answer = breathline("notes --json --key").arg(key).arg(&path).answers();
        std::fs::remove_file(&path).unwrap();
        serde_json::from_str::<Value>(&answer).unwrap()["key"]["shade"].as_str().map(str::to_owned)
    };
    let harmonic = "A4 B4 C5 D5 E5 F5 E5:2 D5 C5 B4 G#4 A4:4";
    assert_eq!(shade(harmonic, "Am").as_deref(), Some("harmonic minor"));
    let melodic = "A4 B4 C5 D5 E5 F#5 G#5 A5 G5 F5 E5 D5 C5 B4 A4:2 ";
    assert_eq!(shade(melodic, "Am").as_deref(), Some("melodic minor"));
    let blues = "A4 C5 D5 Eb5 E5 Eb5 D5 C5 A4 G4 A4 C5 A4:4   ";
    assert_eq!(shade(blues, "Am").as_deref(), Some("blues"));
    let plain = "A4 B4 C5 D5 E5 F5 E5:2 D5 C5 B4 G4 A4:4";
    assert_eq!(shade(plain, "Am"), None);
    // A raised note that occurs only in an ornament is no sign of a shade.
    let ornament = plain.repeat(8).replace("4A", "4 A") + " A4 G#4 A4:2";
    assert_eq!(shade(&ornament, "Am"), None);
    assert!(answer("suggest --key Am", &tune(harmonic)).contains("Key: A minor (harmonic minor)"));
}

#[test]
fn keys_are_spelled_as_the_signature_spells_them() {
    let minor = "C#5 D#5 E5 F#5 G#5 A5 G#5:2 F#5 E5 D#5 B4 C#5:4";
    let major = "F#4 G#4 A#4 B4 C#5 D#5 F5 F#5 C#5 A#4 G#4 C#5 F#4:4";
    for (text, key) in [
        (format!("(4) {minor}"), ("C#", "minor")),
        (minor.to_owned(), ("C#", "minor")),
        (format!("(6) {major}"), ("F#", "major")),
        (format!("(-6) {major}"), ("Gb", "major")),
        (major.to_owned(), ("F#", "major")),
    ] {
        let found = data("suggest --top 1", &tune(&text));
        let tonic = json!(key.0);
        assert_eq!((&found["key"]["tonic"], &found["key"]["mode"]), (&tonic, &json!(key.1)), "{text}");
        assert_eq!(found["approaches"][0]["sounding_key"], tonic, "{text}");
        let page = answer("suggest", &tune(&text));
        assert!(page.contains(&format!("Key: {} {}", key.0, key.1)), "{page}");
    }
}

#[test]
fn a_song_in_minor_is_answered_in_minor() {
    let ask = |song: &str| -> Value {
        let answer = breathline("positions --json --key").arg(song).answers();
        serde_json::from_str(&answer).unwrap()
    };
    let natural = |song: &str| -> Vec<(String, u64)> {
        let answer = ask(song);
        let rows = answer["positions"].as_array().unwrap();
        let whole = rows.iter().filter(|row| row["needs_bends_for"] == json!([]));
        whole
            .map(|row| (row["harp"].as_str().unwrap().to_owned(), row["position"].as_u64().unwrap()))
            .collect()
    };
    // The natural notes of a harp form major in 1st position, minor in 4th and Dorian in 3rd.
    assert_eq!(natural("E minor"), [("G".to_owned(), 4)]);
    assert_eq!(natural("E major"), [("E".to_owned(), 1)]);
    assert_eq!(natural("E dorian"), [("D".to_owned(), 3)]);
    assert!(ask("C# minor")["positions"].as_array().unwrap().iter().all(|row| row["song_key"] == "C#"));
    assert!(ask("E")["positions"][0].get("needs_bends_for").is_none());
    let page = breathline("positions --key").arg("E minor").answers();
    let first = page.lines().find(|line| line.contains("4th")).unwrap();
    assert!(page.starts_with("For a song in E minor") && first.contains("none"), "{page}");
    assert!(page.find("4th") < page.find("1st"), "harps that need no bends come first: {page}");
    let one = breathline("positions --harp C --key").arg("E minor").answers();
    assert!(one.contains("In a minor tune") && !one.contains("In a major tune"), "{one}");
}

#[test]
fn a_file_without_a_signature_is_spelled_in_its_key() {
    // A tune in E as MIDI. MIDI has no note names, and this file has no signature.
    let scale = [64, 68, 71, 68, 66, 64, 63, 66, 64, 66, 68, 69, 71, 73, 75, 76, 73, 71, 68, 66, 64];
    let mut track = Vec::new();
    for pitch in scale {
        track.extend([0, 0x90, pitch, 80, 96, 0x80, pitch, 0]);
    }
    track.extend([0, 0xFF, 0x2F, 0]);
    let header =
        [&b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk"[..], &(track.len() as u32).to_be_bytes(), &track].concat();
    let answer: Value = serde_json::from_str(&breathline("notes - --json").stdin(header).answers()).unwrap();
    assert_eq!((&answer["key"]["tonic"], &answer["key"]["from"]), (&json!("E"), &json!("notes")));
    let names: Vec<&str> =
        answer["notes"].as_array().unwrap().iter().map(|note| note["name"].as_str().unwrap()).collect();
    assert!(names.contains(&"G#4") && names.contains(&"D#5"), "{names:?}");
    assert!(!names.iter().any(|name| name.contains('b')), "{names:?}");
}

#[test]
fn a_tune_has_the_same_tonic_from_midi_as_from_its_score() {
    // MIDI has no barlines and no repeat signs, and the test removes the key signatures of both files.
    let corpus = harness::home().join("corpus");
    let (mut tunes, mut same) = (0, 0);
    for entry in std::fs::read_dir(corpus).unwrap() {
        let midi = entry.unwrap().path();
        let score = midi.with_extension("musicxml");
        if midi.extension().is_none_or(|extension| extension != "mid") || !score.exists() {
            continue;
        }
        let tonic = |path: &std::path::Path| {
            let bytes = std::fs::read(path).unwrap();
            let mut melody =
                breathline::import::import(&bytes, &breathline::import::ImportOptions::default())
                    .unwrap()
                    .melody;
            melody.signatures.clear();
            breathline::melody::key::find(&melody).key.tonic
        };
        tunes += 1;
        same += usize::from(tonic(&midi) == tonic(&score));
    }
    assert!(tunes > 30 && same * 20 >= tunes * 19, "{same} of {tunes}");
}
