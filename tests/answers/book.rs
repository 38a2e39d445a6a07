//! Books: each row is the first row of `suggest`; the joined answers for parts of a book equal the answer for the whole
//! book; one bad file does not stop the rest.

use std::{
    fs,
    path::{Path, PathBuf},
};

use serde_json::Value;

use crate::harness::{breathline, files};

/// A few sets of options for `book`.
const QUESTIONS: [&str; 6] = [
    "",
    "--sort title --width 200",
    "--csv --sort key",
    "--next 12",
    "--easiest 5 --no-bends --playable --key D",
    "--json",
];

/// Makes an empty folder for a test.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn lines(text: &str) -> Vec<Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn each_row_is_the_first_row_of_suggest() {
    // With only two harps at hand, some tunes move to another key.
    for kit in ["--player beginner", "--harps C,A --style blues", "--any-key"] {
        let tunes = files("corpus", "musicxml").into_iter().step_by(4).take(6);
        for tune in tunes {
            let row = lines(&breathline(&format!("book --json {kit}")).arg(&tune).answers()).remove(0);
            let answer = breathline(&format!("suggest --json --as-written {kit}")).arg(&tune).answers();
            let answer: Value = serde_json::from_str(&answer).unwrap();
            assert_eq!(row["approach"], answer["approaches"][0], "{} {kit}", tune.display());
            assert_eq!(row["key"], answer["key"]);
            assert_eq!(row["title"], answer["tune"]["title"]);
        }
    }
}

#[test]
fn answers_put_together_are_the_answer_for_all() {
    let folder = folder("shards");
    let shards = [("a.jsonl", "demo"), ("b.jsonl", "corpus/greensleeves.mid no-such-file.mid corpus")];
    for (name, tunes) in shards {
        let finished = breathline(&format!("book --json --harps C,G,D {tunes}")).run();
        fs::write(folder.join(name), finished.stdout).unwrap();
    }
    let all: Vec<&str> = shards.iter().map(|(_, tunes)| *tunes).collect();
    for question in QUESTIONS {
        let merged = breathline(&format!("book --merge {question}"));
        let merged = merged.arg(folder.join("a.jsonl")).arg(folder.join("b.jsonl")).run();
        let whole = breathline(&format!("book --harps C,G,D {question} {}", all.join(" "))).run();
        assert_eq!(merged.stdout, whole.stdout, "{question}");
        assert_eq!(merged.code, whole.code, "{question}");
    }
}

#[test]
fn a_file_that_cannot_be_read_is_named_and_the_rest_goes_on() {
    let folder = folder("unreadable");
    fs::write(folder.join("broken.mid"), "no tune").unwrap();
    fs::write(folder.join("notes.txt"), "not looked at").unwrap();
    fs::copy("corpus/clementine.mid", folder.join("clementine.mid")).unwrap();
    let page = breathline("book").arg(&folder).answers();
    assert!(page.starts_with("1 tune, 1 of them") && page.contains("Clementine"), "{page}");
    assert!(page.contains("Not read\n") && page.contains("broken.mid: "), "{page}");
    assert!(!page.contains("notes.txt"));
    let json = lines(&breathline("book --json").arg(&folder).answers());
    assert_eq!(json.len(), 2);
    assert!(json[1]["file"].as_str().unwrap().ends_with("broken.mid") && json[1]["error"].is_string());
    // The broken file alone gives no answer.
    assert_eq!(breathline("book").arg(folder.join("broken.mid")).run().code, Some(2));
}

#[test]
fn the_filters_keep_what_they_say() {
    let rows = |question: &str| lines(&breathline(&format!("book --json corpus {question}")).answers());
    let all = rows("");
    let kept = |test: fn(&Value) -> bool| all.iter().filter(|row| test(row)).cloned().collect::<Vec<_>>();
    let bends = |row: &Value| {
        row["approach"]["bends"].as_object().unwrap().values().map(|n| n.as_u64().unwrap()).sum::<u64>()
    };
    assert_eq!(rows("--no-bends"), all.iter().filter(|row| bends(row) == 0).cloned().collect::<Vec<_>>());
    assert_eq!(rows("--position 2"), kept(|row| row["approach"]["position"] == 2));
    assert_eq!(
        rows("--key \"D Dorian\""),
        kept(|row| row["key"]["tonic"] == "D" && row["key"]["mode"] == "dorian")
    );
    let full =
        |row: &Value| row["approach"]["missing"].as_array().unwrap().iter().all(|note| note["grace"] == true);
    assert_eq!(rows("--playable"), all.iter().filter(|row| full(row)).cloned().collect::<Vec<_>>());
    let mut by_ease = all.clone();
    let number = |row: &Value, field: &str| {
        row["approach"][field].as_u64().unwrap_or_else(|| row["approach"][field]["total"].as_u64().unwrap())
    };
    by_ease.sort_by(|a, b| {
        (number(a, "effort") * number(b, "notes")).cmp(&(number(b, "effort") * number(a, "notes")))
    });
    assert_eq!(rows("--easiest 7"), by_ease[..7]);
}

/// The test computes from the answers alone what each tune adds. Every tune that can be played in full is a rung, or a
/// rung opens it.
#[test]
fn the_ladder_names_all_that_is_new() {
    let rungs = lines(&breathline("book corpus --player advanced --next 100 --json").answers());
    let tunes = lines(&breathline("book corpus --player advanced --json").answers());
    let mut bends: Vec<Value> = Vec::new();
    let (mut jump, mut turn) = (0, 1000);
    let mut told = 0;
    for rung in &rungs {
        let tune = tunes.iter().find(|tune| tune["file"] == rung["file"]).unwrap();
        for action in tune["approach"]["tab"].as_array().unwrap() {
            let is_bent = action["bend"].as_u64() > Some(0) || action["over"] == true;
            if is_bent && !bends.contains(action) {
                assert!(rung["adds"]["bends"].as_array().unwrap().contains(action), "{rung}");
                bends.push(action.clone());
            }
        }
        let steps = &tune["steps"];
        assert_eq!(
            rung["adds"]["jump"].as_u64(),
            steps["jump"].as_u64().filter(|&wide| wide > jump),
            "{rung}"
        );
        assert_eq!(
            rung["adds"]["turn_ms"].as_u64(),
            steps["turn_ms"].as_u64().filter(|&fast| fast < turn),
            "{rung}"
        );
        jump = jump.max(steps["jump"].as_u64().unwrap());
        turn = turn.min(steps["turn_ms"].as_u64().unwrap_or(turn));
        told += 1 + rung["opens"].as_u64().unwrap();
    }
    let full = lines(&breathline("book corpus --player advanced --playable --json").answers());
    assert_eq!(told, full.len() as u64);
}

#[test]
fn the_page_has_each_row_with_its_tab() {
    let folder = folder("book-page");
    breathline("book corpus --sort title --page").arg(folder.join("book.html")).answers();
    let page = fs::read_to_string(folder.join("book.html")).unwrap();
    let rows = page.matches("<tr>").count() - 1;
    assert_eq!(rows, lines(&breathline("book corpus --json").answers()).len());
    let tabs = page.split_once("id=\"tabs\">").unwrap().1.split_once("</script>").unwrap().0;
    assert_eq!(serde_json::from_str::<Vec<String>>(tabs).unwrap().len(), rows);
    assert!(page.contains("default-src &#39;none&#39;"));
}
