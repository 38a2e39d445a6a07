//! Mistakes that people make at the prompt: the command understands each of them, or the first line of its answer says
//! what to type or what to leave out.

use crate::harness::breathline;

/// The program's reaction to a mistake.
enum Answer {
    /// The same answer as for this command.
    Means(&'static str),
    /// An error whose first line is this one, after the program's name.
    Says(&'static str),
}
use Answer::{Means, Says};

/// In the lines below, `T` stands for this tune.
const TUNE: &str = "corpus/amazing-grace.musicxml";

/// Lines as typed, each with the program's reaction.
const MISTAKES: [(&str, Answer); 103] = [
    ("sugest T", Says("there is no command sugest; write `breathline suggest T`")),
    ("T", Says("name a command before the file, as in `breathline suggest T`")),
    ("rank T", Says("there is no command rank; write `breathline suggest T`")),
    ("tabs T --harp C", Says("there is no command tabs; write `breathline tab T --harp C`")),
    ("harps C", Says("there is no command harps; write `breathline harp C`")),
    ("version", Says("there is no command version; write `breathline --version`")),
    ("suggest", Says("the tune is missing; write `breathline suggest tune.mid`")),
    ("suggest --harps C", Says("the tune is missing; write `breathline suggest tune.mid --harps C`")),
    ("tab --harp C", Says("the tune is missing; write `breathline tab tune.mid --harp C`")),
    ("tab T", Says("the harp is missing; write `breathline tab T --harp C`")),
    ("tab T C", Says("C has no place here; write `breathline tab T --harp C`")),
    ("suggest T --harp C", Means("suggest T --harps C")),
    ("tab T --harps C", Means("tab T --harp C")),
    ("tab T --harp C,G", Says("one harp at a time: `C,G` is a list; write --harp C")),
    ("suggest T -harps C", Means("suggest T --harps C")),
    ("suggest T —harps C", Means("suggest T --harps C")),
    ("suggest T --Harps C", Means("suggest T --harps C")),
    ("suggest T /harps C", Says("/harps has no place here; write `breathline suggest T --harps C`")),
    (
        "suggest T --harps C G A",
        Says("a list has commas and no spaces; write `breathline suggest T --harps C,G,A`"),
    ),
    (
        "suggest --harps C, G, A T",
        Says("a list has commas and no spaces; write `breathline suggest --harps C,G,A T`"),
    ),
    (r#"suggest T --harps "C;G""#, Says("`C;G` is not a harp; write C,G")),
    (r#"suggest T --harps "c, g""#, Means("suggest T --harps C,G")),
    ("suggest T --harps Gm", Means("suggest T --harps Gm:natural-minor")),
    (r#"suggest T --harps "G natural minor""#, Means("suggest T --harps Gm:natural-minor")),
    (
        "suggest T --harps G natural minor",
        Says(r#"put quotes round several words; write `breathline suggest T --harps "G natural minor"`"#),
    ),
    ("suggest T --harps Gm:naturalminor", Means("suggest T --harps Gm:natural-minor")),
    (r#"suggest T --harps "F low""#, Means("suggest T --harps low-F")),
    ("suggest T --harps LF", Means("suggest T --harps low-F")),
    ("suggest T --harps H", Says("`H` is not a harp; write B, or Bb for the German B")),
    ("suggest T --harps Bflat", Means("suggest T --harps Bb")),
    ("suggest T --harps C:ritcher", Says("there is no tuning `ritcher`; write richter")),
    ("suggest T --harps al", Says("`al` is not a harp; write all")),
    ("suggest T --tunings contry", Says("there is no tuning `contry`; write country")),
    (r#"suggest T --key "D doriann""#, Says(r#"--key: "D doriann" is not a key; write D dorian"#)),
    (
        "suggest T --key D dorian",
        Says(r#"put quotes round several words; write `breathline suggest T --key "D dorian"`"#),
    ),
    (
        "suggest T --key “D dorian”",
        Says(
            r#"the terminal understands only straight quotes; write `breathline suggest T --key "D dorian"`"#,
        ),
    ),
    ("suggest T --key “G”", Means("suggest T --key G")),
    ("suggest T --key H", Says(r#"--key: "H" is not a key; write B, or Bb for the German B"#)),
    ("suggest T --position two", Means("suggest T --position 2")),
    ("suggest T --position cross-harp", Means("suggest T --position 2")),
    (
        "suggest T --position cross harp",
        Says(r#"put quotes round several words; write `breathline suggest T --position "cross harp"`"#),
    ),
    ("suggest T --position 13", Says("--position 13: write a number from 1 to 12, as in 2, 2nd or second")),
    ("suggest T --position secnd", Says("--position secnd: write second")),
    ("suggest T --style jazz", Says("--style jazz: write one of plain, blues, folk")),
    ("suggest T --style blue", Says("--style blue: write --style blues")),
    ("suggest T --style minor-blues", Says("--style minor-blues: write --style blues")),
    ("suggest T --bends overblows", Says("--bends overblows: write --bends over")),
    ("suggest T --bends no", Says("--bends no: write --bends none")),
    ("suggest T --bends", Says("--bends needs a word after it: none, draw, all, over")),
    ("suggest T --player begginer", Says("there is no player `begginer`; write --player beginner")),
    ("suggest T --player Beginner", Means("suggest T --player beginner")),
    (
        "suggest T --level beginner",
        Says("there is no option --level; write `breathline suggest T --player beginner`"),
    ),
    (
        "suggest T --tempo fast",
        Says("--tempo fast: write the tempo in quarters a minute, a number from 20 to 500, as in 90"),
    ),
    ("suggest T --tempo 90bpm", Means("suggest T --tempo 90")),
    ("suggest T --tab-style arrow", Says("--tab-style arrow: write --tab-style arrows")),
    ("suggest T --part melody", Means("suggest T --part 1")),
    ("suggest T --part tenor", Says("T: no part is called `tenor`; the parts are 1 Melody")),
    ("suggest T --top ten", Says("--top ten: write a whole number from 1 to 65535")),
    ("suggest T --colour never", Means("suggest T --color never")),
    ("suggest T --pdf", Says("there is no option --pdf; write `breathline suggest T --output tune.pdf`")),
    ("suggest T --pos 2", Says("there is no option --pos; write `breathline suggest T --position 2`")),
    (
        "suggest T --csv",
        Says("--csv belongs to `breathline book`; `breathline suggest --help` shows the options here"),
    ),
    ("suggest T -o tune.doc", Says("tune.doc: a sheet's name ends in .html, .pdf, .svg or .png")),
    (
        "suggest T -o tune.mid",
        Says(
            "tune.mid: `breathline export` writes these formats; a sheet's name ends in .html, .pdf, .svg or .png",
        ),
    ),
    (
        "suggest T --json --format markdown",
        Says("--json and --format exclude each other; leave out one of them"),
    ),
    (
        "suggest corpus/amazing-grace",
        Says("corpus/amazing-grace: there is no such file; is it corpus/amazing-grace.mid?"),
    ),
    (
        "suggest corpus/amazing-grase.musicxml",
        Says("corpus/amazing-grase.musicxml: there is no such file; is it T?"),
    ),
    (
        "suggest corpus/amazing grace.musicxml",
        Says(r#"put quotes round the name: `breathline suggest "corpus/amazing grace.musicxml"`"#),
    ),
    (
        "suggest corpus",
        Says("corpus: this is a folder; name a file in it, or look at all of them: `breathline book corpus`"),
    ),
    (
        "suggest demo/lantern-row.abc --tune gulles",
        Says("demo/lantern-row.abc: none of the file's 6 tunes matches `gulles`; write --tune 5"),
    ),
    (
        "suggest demo/lantern-row.abc --tune three gulls",
        Says(
            r#"put quotes round several words; write `breathline suggest demo/lantern-row.abc --tune "three gulls"`"#,
        ),
    ),
    (
        "suggest demo/lamps-lesson.txt",
        Says(
            "demo/lamps-lesson.txt: this is not a tune; if it is typed tab, `breathline tab demo/lamps-lesson.txt --harp C` reads it",
        ),
    ),
    ("tab T --harp C --octave up", Says("--octave up: write a whole number from -10 to 10")),
    (
        "tab T corpus/ode-to-joy.musicxml --harp C",
        Says(
            "`breathline tab` takes one tune at a time; write `breathline tab corpus/ode-to-joy.musicxml --harp C` for the other",
        ),
    ),
    ("sheet T", Says("the file to write is missing; write `breathline sheet T -o tune.pdf`")),
    ("sheet T tune.pdf", Says("tune.pdf has no place here; write `breathline sheet T -o tune.pdf`")),
    ("sheet T -o tune", Says("tune: a sheet's name ends in .html, .pdf, .svg or .png")),
    (
        "export T --harp C",
        Says("the file to write is missing; write `breathline export T --harp C -o tune.musicxml`"),
    ),
    (
        "export T --harp C -o tune.pdf",
        Says("tune.pdf: `breathline sheet` writes this format; export writes .musicxml, .mxl, .abc or .mid"),
    ),
    (
        "check T --harp C lesson.txt",
        Says("lesson.txt has no place here; write `breathline check T --harp C --tab lesson.txt`"),
    ),
    (
        "check demo/lamps-lesson.txt T --harp C",
        Says(
            "the tune comes first, the tab after --tab; write `breathline check T --harp C --tab demo/lamps-lesson.txt`",
        ),
    ),
    ("positions E", Means("positions --key E")),
    ("positions E minor", Says(r#"put quotes round several words; write `breathline positions "E minor"`"#)),
    ("positions 2", Says("2 is not a key; write `breathline positions --position 2`")),
    (
        "positions --style blues",
        Says(
            "--style needs a key or a harp: write --key E to find the harp, or --harp C to find the position",
        ),
    ),
    (
        "positions --style plain --key E",
        Says("--style plain is for `breathline suggest`; write one of blues, minor-blues, country, folk"),
    ),
    ("harp", Says("the harp is missing; write `breathline harp C`")),
    ("harp C country", Says("country has no place here; write `breathline harp C --tuning country`")),
    (r#"harp "C country""#, Means("harp C:country")),
    ("harp C --tuning countri", Says("there is no tuning `countri`; write country")),
    ("harp C --bend none", Says("there is no option --bend; write `breathline harp C --bends none`")),
    ("kit --harps C", Says("add --save to keep this; `breathline kit` alone shows the kit")),
    ("kit save --harps C", Says("save has no place here; write `breathline kit --save --harps C`")),
    ("kit --save", Says("name the settings to keep, as in `breathline kit --save --harps C,G,A`")),
    ("book", Says("the tunes are missing; write `breathline book tunes/`")),
    ("book corpus --easy 3", Says("there is no option --easy; write `breathline book corpus --easiest 3`")),
    ("set corpus", Says("corpus: this is a folder; name the tunes in the order in which they are played")),
    (
        "suggest --notes G A B d",
        Says(r#"put quotes round several words; write `breathline suggest --notes "G A B d"`"#),
    ),
    (
        r#"suggest --notes "G A B H""#,
        Says("--notes: column 7: `H` is not a note here; write B, or Bb for the German B"),
    ),
    (
        r#"suggest --notes "4 -4 5""#,
        Says("--notes: column 1: `4` is a hole, not a note; tab is read from a separate file"),
    ),
    (
        r#"suggest --notes """#,
        Says("--notes: column 1: there are no notes; write their names, as in G A B d"),
    ),
    (r#"suggest --notes "G A" T"#, Says("--notes replaces the file; leave out one of the two")),
    (
        r#"tab --notes "G A B d""#,
        Says(r#"the harp is missing; write `breathline tab --notes "G A B d" --harp C`"#),
    ),
];

/// Returns a line with the tune in place of `T`.
fn with_tune(line: &str) -> String {
    let ends_a_word = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric() && !"-./".contains(c));
    let mut before = None;
    let mut whole = String::new();
    let mut rest = line.chars().peekable();
    while let Some(c) = rest.next() {
        let is_tune = c == 'T' && ends_a_word(before) && ends_a_word(rest.peek().copied());
        whole += &if is_tune { TUNE.to_owned() } else { c.to_string() };
        before = Some(c);
    }
    whole
}

#[test]
fn a_mistake_at_the_prompt_is_understood_or_told_the_words_to_type() {
    for (typed, answer) in &MISTAKES {
        let finished = breathline(&with_tune(typed)).run();
        match answer {
            Means(right) => {
                assert_eq!(finished.code, Some(0), "{typed}: {}", finished.stderr);
                assert_eq!(finished.stdout, breathline(&with_tune(right)).answers(), "{typed}");
            }
            Says(line) => {
                let first = finished.stderr.lines().next().unwrap_or_default();
                assert_eq!(first, format!("breathline: {}", with_tune(line)), "{typed}");
                assert_eq!(finished.code, Some(2), "{typed}");
            }
        }
    }
}

/// Returns the command that an error suggests.
fn told(line: &str) -> Option<&str> {
    let told = line.split_once("write `breathline ").or_else(|| line.split_once("as in `breathline "))?;
    told.1.split('`').next()
}

#[test]
fn what_the_answer_tells_to_type_is_no_mistake_itself() {
    let mut tried = 0;
    for (typed, answer) in &MISTAKES {
        let Says(line) = answer else { continue };
        // The example files do not exist, and this test must not write files.
        let Some(told) = told(line).filter(|told| !told.contains("tune.") && !told.contains("--save")) else {
            continue;
        };
        if ["lesson.txt", "tunes/", "grace.musicxml\"", "--help"].iter().any(|absent| told.contains(absent)) {
            continue;
        }
        let finished = breathline(&with_tune(told)).run();
        assert_eq!(finished.code, Some(0), "{typed}: {told}: {}", finished.stderr);
        tried += 1;
    }
    assert!(tried > 15, "{tried}");
}

#[test]
fn a_name_with_spaces_is_quoted_in_the_line_to_type() {
    let folder = crate::harness::scratch();
    let path = folder.join("my first tune.musicxml");
    std::fs::copy(crate::harness::home().join(TUNE), &path).unwrap();
    let path = path.display();
    for command in ["suggest", "tab --harp C", "notes"] {
        let line = breathline(&format!("{command} {path}")).fails();
        assert!(
            line.ends_with(&format!("put quotes round the name: `breathline {command} \"{path}\"`\n")),
            "{line}"
        );
    }
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn old_names_of_options_are_understood_with_a_hint() {
    for (old, new, hint) in [
        ("positions --song-key E", "positions --key E", "--song-key is now --key"),
        ("positions --key E --feel blues", "positions --key E --style blues", "--feel is now --style"),
    ] {
        let finished = breathline(old).run();
        assert_eq!(finished.stderr, format!("breathline: {hint}\n"));
        assert_eq!(finished.stdout, breathline(new).answers());
    }
    let folder = crate::harness::scratch();
    for (name, command) in [
        ("a.svg", format!("suggest {TUNE} -o")),
        ("b.svg", format!("suggest {TUNE} --output")),
        ("c.svg", format!("suggest {TUNE} --sheet")),
        ("d.svg", format!("check {TUNE} --harp C -o")),
        ("e.html", format!("book {TUNE} -o")),
        ("f.html", format!("book {TUNE} --page")),
    ] {
        breathline(&command).arg(folder.join(name)).answers();
        assert!(folder.join(name).is_file() || folder.join(name.replace('.', "-1.")).is_file(), "{command}");
    }
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn several_files_are_answered_one_after_the_other() {
    let second = "corpus/ode-to-joy.musicxml";
    for command in ["suggest", "notes"] {
        let both = breathline(&format!("{command} {TUNE} {second}")).answers();
        let alone = |tune: &str| {
            format!(
                "{tune}\n{}\n{}",
                "=".repeat(tune.len()),
                breathline(&format!("{command} {tune}")).answers()
            )
        };
        assert_eq!(both, format!("{}\n\n{}", alone(TUNE), alone(second)));
        let finished = breathline(&format!("{command} --json {TUNE} nowhere.mid {second}")).run();
        let lines: Vec<serde_json::Value> =
            finished.stdout.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        assert_eq!((finished.code, lines.len()), (Some(2), 3));
        for (tune, line) in [(TUNE, 0), (second, 2)] {
            let alone = breathline(&format!("{command} --json {tune}")).answers();
            assert_eq!(lines[line], serde_json::from_str::<serde_json::Value>(&alone).unwrap());
        }
        assert_eq!(lines[1]["file"], "nowhere.mid");
        assert!(finished.stderr.contains("nowhere.mid: there is no such file"), "{}", finished.stderr);
    }
    let refused = breathline(&format!("suggest {TUNE} {second} -o tune.pdf")).fails();
    assert!(refused.contains("--output takes one tune"), "{refused}");
}

#[test]
fn a_part_has_a_name() {
    let choir = "X:1\nT:A\nM:4/4\nL:1/4\nV:1 name=\"Soprano\"\nV:2 name=\"Ténor one\"\nV:3 name=\"Tenor two\"\nK:C\n[V:1] cdec|\n[V:2] CDEC|\n[V:3] EFGE|\n";
    let notes = |part: &str| breathline(&format!("notes - --part {part}")).stdin(choir);
    assert_eq!(notes("SOPRANO").answers(), notes("1").answers());
    assert_eq!(notes("\"tenor one\"").answers(), notes("2").answers());
    let several = notes("tenor").fails();
    assert!(
        several.contains("`tenor` matches 2 parts; name one by its number: 2 Ténor one, 3 Tenor two"),
        "{several}"
    );
    let none = notes("bass").fails();
    assert!(
        none.contains("no part is called `bass`; the parts are 1 Soprano, 2 Ténor one, 3 Tenor two"),
        "{none}"
    );
}

#[test]
fn typed_notes_are_a_tune_for_every_command() {
    let notes = "c d e c | c d e c | e f g2 | e f g2";
    let abc = format!("X:1\nT:Typed notes\nM:4/4\nL:1/4\nK:none\n{notes}\n");
    for command in ["suggest", "notes", "tab --harp C", "check --harp C"] {
        let typed = breathline(&format!("{command} --notes \"{notes}\"")).answers();
        let read = breathline(&format!("{command} -")).stdin(abc.clone()).answers();
        // The two answers differ only in the name of the format.
        assert_eq!(typed.replace("typed notes, its", "ABC, its"), read, "{command}");
        let piped = breathline(&format!("{command} -")).stdin(format!("{notes}\n")).answers();
        assert_eq!(piped, typed, "{command}");
    }
    let in_f = breathline(&format!("suggest --notes \"{notes}\" --key F")).answers();
    assert!(in_f.contains("Key: F major, as you chose"), "{in_f}");
    let assumed =
        breathline("suggest --notes \"G A B D\"").answers().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        assumed.contains("the notes have no octaves: each is the one nearest to the note before"),
        "{assumed}"
    );
    let folder = crate::harness::scratch();
    for (command, name) in [("sheet", "a.svg"), ("export --harp C", "b.abc")] {
        breathline(&format!("{command} --notes \"{notes}\" -o")).arg(folder.join(name)).answers();
        assert!(folder.join(name).is_file());
    }
    std::fs::remove_dir_all(folder).unwrap();
}
