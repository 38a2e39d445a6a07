//! The commands in the documents give the output printed under them, and the lists in the documents are complete.

use crate::harness;

use std::{fs, path::Path};

use harness::{breathline, files, home, scratch, updating};

/// Every ```console block is run: lines that begin with `$ breathline` are commands, and the lines after them are their
/// output. A line `…` stands for the rest of the output.
#[test]
fn commands_in_the_documents_give_the_output_that_stands_there() {
    let documents = ["README.md", "demo/README.md"].map(|document| home().join(document));
    for path in documents.into_iter().chain(files("docs", "md")) {
        let document = path.display();
        let text = fs::read_to_string(&path).unwrap();
        let renewed = renew(&text);
        if updating() {
            fs::write(&path, renewed).unwrap();
        } else {
            assert!(text == renewed, "{document} differs; it should be\n{renewed}");
        }
    }
}

fn renew(text: &str) -> String {
    let mut renewed = String::new();
    let mut lines = text.lines().peekable();
    while let Some(line) = lines.next() {
        renewed += line;
        renewed.push('\n');
        if line != "```console" {
            continue;
        }
        while let Some(command) = lines.next_if(|line| *line != "```") {
            renewed += command;
            renewed.push('\n');
            let Some(arguments) = command.strip_prefix("$ breathline ") else { continue };
            let stood: Vec<&str> =
                std::iter::from_fn(|| lines.next_if(|line| *line != "```" && !line.starts_with("$ ")))
                    .collect();
            let output = breathline(arguments).answers();
            if stood.last() == Some(&"…") {
                let shown = output.lines().take(stood.len() - 1);
                shown.for_each(|line| renewed += &format!("{line}\n"));
                renewed += "…\n";
            } else {
                renewed += &output;
            }
        }
    }
    renewed
}

/// Each file of `docs/files.md` is saved under its name and its commands are run; the answers must show that the file
/// has an effect.
#[test]
fn the_examples_of_small_files_are_read() {
    let folder = scratch();
    fs::create_dir(folder.join("breathline")).unwrap();
    let document = fs::read_to_string(home().join("docs/files.md")).unwrap();
    let within = |text: &str, begin: &str, end: &str| {
        let inside = text.split_once(begin).and_then(|(_, rest)| rest.split_once(end));
        inside.unwrap_or_else(|| panic!("no {begin} in {text}")).0.to_owned()
    };
    let run = |arguments: &str, settings: &Path| {
        breathline(arguments).env("XDG_CONFIG_HOME", settings.to_str().unwrap()).answers()
    };
    let mut names = Vec::new();
    for section in document.split("\n## ").skip(1) {
        let name = within(section, "`", "`");
        let path = folder.join(if name == "kit.toml" { "breathline/kit.toml" } else { &name });
        fs::write(&path, within(section, "```toml\n", "```")).unwrap();
        for command in within(section, "```sh\n", "```").lines() {
            let arguments = command.strip_prefix("breathline ").unwrap();
            let arguments =
                arguments.replace("tune.mid", "corpus/greensleeves.mid").replace("tunes/", "corpus");
            let with = arguments.replace(&name, path.to_str().unwrap());
            // Only the kit applies without being named.
            let settings = if name == "kit.toml" { folder.as_path() } else { Path::new("tests") };
            let mut without: Vec<&str> = arguments.split(' ').collect();
            if let Some(at) = without.iter().position(|word| *word == name) {
                without.drain(at - 1..=at);
            }
            let without = without.join(" ").replace("C,C:session", "C");
            assert_ne!(
                run(&with, settings),
                run(&without, Path::new("tests")),
                "{command}: the file has an effect"
            );
        }
        names.push(name);
    }
    assert_eq!(names, ["kit.toml", "prices.toml", "session.toml", "mine.toml"]);
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn every_file_of_the_demo_and_the_corpus_is_described() {
    for folder in ["demo", "corpus"] {
        let described = fs::read_to_string(home().join(folder).join("README.md")).unwrap();
        for ending in ["musicxml", "mid", "mxl"] {
            for file in files(folder, ending) {
                let name = file.file_stem().unwrap().to_str().unwrap();
                let named = [format!("`{name}"), format!("({name}.{ending})")];
                assert!(
                    named.iter().any(|named| described.contains(named)),
                    "{folder}/README.md says nothing about {name}.{ending}"
                );
            }
        }
    }
}

/// Each item of the import policy names a fixture or a test, and every MusicXML fixture is named by an item.
#[test]
fn the_import_policy_is_shown_by_fixtures_and_tests() {
    let page = fs::read_to_string(home().join("src/import/POLICY.md")).unwrap();
    let mut tests = String::new();
    for file in ["", "/reading", "/playing", "/answers"]
        .iter()
        .flat_map(|folder| files(&format!("tests{folder}"), "rs"))
    {
        tests += &fs::read_to_string(file).unwrap();
    }
    tests += &fs::read_to_string(home().join("src/import/pick/names.rs")).unwrap();
    let fixtures: Vec<String> = files("tests/fixtures", "musicxml")
        .iter()
        .map(|file| file.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    let mut named = Vec::new();
    for line in page.lines().filter(|line| line.starts_with("- ")) {
        let (_, shown) = line.rsplit_once(" (").unwrap_or_else(|| panic!("nothing shows: {line}"));
        let names = shown.strip_suffix(')').unwrap_or_else(|| panic!("nothing shows: {line}")).split(", ");
        for name in names.map(|name| name.trim_matches('`').to_owned()) {
            let is_test = tests.contains(&format!("#[test]\nfn {name}()"))
                || tests.contains(&format!("#[test]\n    fn {name}()"));
            assert!(is_test || fixtures.contains(&name), "no fixture or test `{name}`: {line}");
            named.push(name);
        }
    }
    for fixture in fixtures {
        assert!(named.contains(&fixture), "POLICY.md says nothing about {fixture}.musicxml");
    }
}

/// The command, the page, the npm package, the documents and the changelog have the same version.
#[test]
fn there_is_one_version() {
    let version = env!("CARGO_PKG_VERSION");
    let read = |name: &str| fs::read_to_string(home().join(name)).unwrap();
    assert!(read("app/Cargo.toml").contains(&format!("\nversion = \"{version}\"\n")));
    assert!(read("app/npm/package.json").contains(&format!("\n  \"version\": \"{version}\",\n")));
    assert!(read("docs/library.md").contains(&format!("breathline-{version}.tgz")));
    assert!(read("docs/browser.md").contains(&format!("breathline_{version}-1_")));
    let changes = read("CHANGELOG.md");
    let newest = changes.lines().find_map(|line| line.strip_prefix("## ")).unwrap();
    let date = newest.strip_prefix(version).and_then(|rest| rest.strip_prefix(", ")).unwrap_or_default();
    let is_date = date.len() == 10 && date.chars().all(|c| c.is_ascii_digit() || c == '-');
    assert!(is_date, "the changelog begins with {newest}, not with {version} and a date");
}
