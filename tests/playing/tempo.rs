//! A tempo for tunes whose file states none: independent of how the tune is written, near the tune's real tempo, and
//! the same in every answer.

use crate::harness;

use std::{fs, path::Path};

use breathline::{
    harp::{Harp, Tuning},
    import::{ImportOptions, import},
    melody::{
        Melody, key,
        tempo::{self, Kind},
    },
    search::{self, Player, Request, Wanted},
    time::{Beats, Meter, TempoMap},
};

use harness::breathline;

/// Returns the names and melodies of the MusicXML tunes in the corpus; each tune states its tempo.
fn corpus() -> Vec<(String, Melody)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let mut tunes: Vec<(String, Melody)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "musicxml"))
        .map(|path| {
            let name = path.file_stem().unwrap().to_string_lossy().into_owned();
            (name, import(&fs::read(path).unwrap(), &ImportOptions::default()).unwrap().melody)
        })
        .collect();
    tunes.sort_by(|a, b| a.0.cmp(&b.0));
    assert!(tunes.len() > 30);
    tunes
}

/// Returns the same tune in notes half as long, with a matching meter: 2/2 becomes 2/4.
fn halved(melody: &Melody) -> Melody {
    let half = |at: Beats| at.times(1, 2);
    let mut halved = melody.clone();
    for note in &mut halved.notes {
        (note.onset, note.duration) = (half(note.onset), half(note.duration));
    }
    for bar in &mut halved.bars {
        (bar.start, bar.length) = (half(bar.start), half(bar.length));
        bar.meter = bar.meter.map(|meter| Meter { unit: 2 * meter.unit, ..meter });
    }
    for signature in &mut halved.signatures {
        signature.at = half(signature.at);
    }
    for chord in &mut halved.chords {
        chord.at = half(chord.at);
    }
    halved
}

#[test]
fn a_tune_in_shorter_notes_and_a_meter_to_match_gets_the_same_answer() {
    let harps = Harp::standard_set(&Tuning::richter());
    for (name, mut melody) in corpus() {
        melody.tempo = TempoMap::default();
        let shorter = halved(&melody);
        for player in Player::built_in() {
            let best = |melody: &Melody| {
                let mut melody = melody.clone();
                tempo::assume(&mut melody, player.tempo_percent);
                let key = key::find(&melody).key;
                let Player { technique, weights, .. } = player;
                let request = Request {
                    melody: &melody,
                    key,
                    harps: &harps,
                    technique: *technique,
                    weights,
                    any_key: false,
                    pins: &[],
                };
                let ranking = search::search_for(&request, &Wanted::first(1));
                let row = ranking.best().unwrap();
                (row.harp.clone(), row.position, row.octave, row.playing.clone())
            };
            assert!(best(&melody) == best(&shorter), "{name}, {}", player.name);
        }
    }
}

/// The tempos of the corpus are ours: the tempos at which these tunes are commonly played. A guess may be off by a
/// factor of up to 2.5, because ballads are slower, and hornpipes livelier, than their notes suggest.
#[test]
fn the_usual_tempo_is_near_the_one_that_a_tune_has() {
    let mut near = 0;
    let tunes = corpus();
    for (name, melody) in &tunes {
        let stated = f64::from(melody.tempo.micros_per_quarter(Beats::ZERO));
        let usual = f64::from(tempo::usual(melody).micros_per_quarter(100));
        let faster = stated / usual;
        assert!((0.4..=2.5).contains(&faster), "{name}: {faster:.2} times as fast");
        near += usize::from((0.66..=1.5).contains(&faster));
    }
    assert!(4 * near >= 3 * tunes.len(), "{near} of {}", tunes.len());
}

/// Common practice, no source.
#[test]
fn dances_are_known_by_their_metre_and_notes() {
    let kinds: Vec<(String, Kind)> =
        corpus().into_iter().map(|(name, melody)| (name, tempo::usual(&melody).kind)).collect();
    let kind = |wanted: &str| kinds.iter().find(|(name, _)| name == wanted).unwrap().1;
    for jig in ["irish-washerwoman", "swallowtail-jig", "banish-misfortune", "three-little-drummers"] {
        assert_eq!(kind(jig), Kind::Jig, "{jig}");
    }
    for (tune, wanted) in [
        ("wind-that-shakes-the-barley", Kind::Reel),
        ("stille-nacht", Kind::Lilting),
        ("adeste-fideles", Kind::InTwo),
        ("old-hundredth", Kind::InFour),
        ("amazing-grace", Kind::InThree),
    ] {
        assert_eq!(kind(tune), wanted, "{tune}");
    }
}

/// A type of tune counts if the metre is one of this type; common practice, no source.
#[test]
fn a_tune_has_the_tempo_of_its_type() {
    let quarter = |rhythm: &str, meter: &str, music: &str| {
        let text = format!("X:1\nT:A\nR:{rhythm}\nM:{meter}\nL:1/8\nK:D\n{music}\n");
        let melody = import(text.as_bytes(), &ImportOptions::default()).unwrap().melody;
        let usual = tempo::usual(&melody);
        (usual.kind, (60_000_000 + usual.micros_per_quarter(100) / 2) / usual.micros_per_quarter(100))
    };
    // Even eighths in 4/4 are a reel, unless the file says otherwise.
    let even = "DFAF DFAF|GABc defg|";
    for (rhythm, expected) in [
        ("", (Kind::Reel, 232)),
        ("song", (Kind::Reel, 232)),
        ("reel", (Kind::Reel, 232)),
        ("Jig", (Kind::Reel, 232)),
        ("set of reels", (Kind::Reel, 232)),
        ("Hornpipe", (Kind::Dotted, 192)),
        ("32-bar polka", (Kind::Polka, 124)),
        ("strathspeys", (Kind::Strathspey, 120)),
        ("slow air", (Kind::Air, 63)),
        ("fair", (Kind::Reel, 232)),
    ] {
        assert_eq!(quarter(rhythm, "4/4", even), expected, "{rhythm}");
    }
    let jig = (Kind::Jig, 174);
    assert_eq!(quarter("slipjig", "9/8", "D3 F3 A3|D3 F3 A3|"), jig);
    assert_eq!(quarter("", "9/8", "D3 F3 A3|D3 F3 A3|").0, Kind::Lilting);
    assert_eq!(quarter("march", "6/8", "DFA DFA|"), (Kind::March, 162));
    assert_eq!(quarter("Waltz", "3/4", "D2F2A2|"), (Kind::Waltz, 132));
    assert_eq!(quarter("polka", "3/4", "D2F2A2|").0, Kind::InThree);
}

#[test]
fn a_tune_without_a_tempo_is_said_to_have_one_that_fits_in_every_answer() {
    // The file states only 120 at its start, the default of many programs, which counts as no tempo.
    let tune = "corpus/rakes-of-mallow.mid";
    for (command, percent) in [
        ("suggest", 100),
        ("suggest --player beginner", 60),
        ("tab --harp G --player beginner", 60),
        ("check --harp G --player beginner", 60),
        ("notes", 100),
    ] {
        let (word, options) = command.split_once(' ').unwrap_or((command, ""));
        let text = breathline(&format!("{word} {tune} {options} --width 200")).answers();
        let share = if percent == 100 { String::new() } else { format!(" at {percent} % of its tempo") };
        let quarter = 92 * percent / 100;
        let expected = format!(
            "no tempo given, so breathline assumes a song or march in two{share}: quarter = {quarter}"
        );
        assert!(text.contains(&expected), "{command}: {text}");
        let json: serde_json::Value =
            serde_json::from_str(&breathline(&format!("{word} {tune} {options} --json")).answers()).unwrap();
        let tempo = if word == "notes" { &json["tempo"] } else { &json["tune"]["tempo"] };
        assert_eq!(tempo["quarters_per_minute"], quarter, "{command}");
        assert_eq!((&tempo["stated"], &tempo["taken_as"]), (&false.into(), &"a song or march in two".into()));
    }
    let stated = breathline(&format!("suggest {tune} --tempo 100 --player beginner")).answers();
    assert!(stated.contains("quarter = 100") && !stated.contains("no tempo"), "{stated}");
}
