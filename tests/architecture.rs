//! The invariants of DEVELOPERS.md that the source can show: which module may use which, and what no module may do.

#![allow(clippy::unwrap_used, reason = "a panic is how a test reports a failure")]

use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    path::Path,
};

/// Returns the modules of the library by paths such as `import::pick::line`, with their source but without their tests.
fn library() -> BTreeMap<Vec<String>, String> {
    let mut modules = BTreeMap::new();
    collect(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &[], &mut modules);
    // The binary and its commands do not belong to the library.
    modules.retain(|path, _| !["main", "lib", "cli"].contains(&path[0].as_str()));
    modules
}

fn collect(folder: &Path, above: &[String], modules: &mut BTreeMap<Vec<String>, String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        if name == "tests" {
            continue;
        }
        let module = [above, &[name]].concat();
        if path.is_dir() {
            collect(&path, &module, modules);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            let source = fs::read_to_string(&path).unwrap();
            let code = source.split("#[cfg(test)]\nmod tests").next().unwrap();
            modules.insert(module, code.to_owned());
        }
    }
}

/// Returns the code without its line comments.
fn code(source: &str) -> String {
    source.lines().map(|line| line.split("//").next().unwrap_or_default()).collect::<Vec<_>>().join("\n")
}

/// Returns every path that the code mentions, in `use` trees and elsewhere, as written.
fn paths(code: &str) -> BTreeSet<Vec<String>> {
    let mut found = BTreeSet::new();
    for statement in code.split(';') {
        if let Some(at) = statement.rfind("use ") {
            let tree = without_aliases(&statement[at + 4..]);
            expand(&tree.split_whitespace().collect::<String>(), &[], &mut found);
        }
    }
    for word in code.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':')) {
        if word.contains("::") {
            found.insert(word.split("::").map(str::to_owned).collect());
        }
    }
    found
}

/// Returns every path inside the crate that a module mentions, in absolute form.
fn mentioned(module: &[String], source: &str) -> BTreeSet<Vec<String>> {
    let absolute = |path: Vec<String>| match path.first().map(String::as_str) {
        Some("crate") => Some(path[1..].to_vec()),
        Some("super") => {
            let ups = path.iter().take_while(|part| *part == "super").count();
            let base = module.len().checked_sub(ups)?;
            Some([&module[..base], &path[ups..]].concat())
        }
        Some("self") => Some([module, &path[1..]].concat()),
        _ => None,
    };
    paths(&code(source)).into_iter().filter_map(absolute).collect()
}

/// Removes aliases: `fs as files` becomes `fs`.
fn without_aliases(tree: &str) -> String {
    let is_name = |c: char| c.is_alphanumeric() || c == '_';
    let mut pieces = tree.split(" as ");
    let first = pieces.next().unwrap_or_default().to_owned();
    pieces.fold(first, |tree, piece| tree + piece.trim_start_matches(is_name))
}

/// Expands a `use` tree: `a::{b, c::d}` becomes `a::b` and `a::c::d`.
fn expand(tree: &str, above: &[String], found: &mut BTreeSet<Vec<String>>) {
    let Some((before, inside)) = tree.split_once('{') else {
        found.insert(above.iter().cloned().chain(tree.split("::").map(str::to_owned)).collect());
        return;
    };
    let above: Vec<String> = above
        .iter()
        .cloned()
        .chain(before.split("::").filter(|part| !part.is_empty()).map(str::to_owned))
        .collect();
    let (mut depth, mut start) = (0, 0);
    for (at, c) in inside.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth > 0 => depth -= 1,
            ',' | '}' if depth == 0 => {
                if start < at {
                    expand(&inside[start..at], &above, found);
                }
                start = at + 1;
            }
            _ => {}
        }
    }
}

/// Returns, for each child of `folder`, the other children that it mentions.
fn siblings(
    folder: &[String],
    modules: &BTreeMap<Vec<String>, String>,
) -> BTreeMap<String, BTreeSet<String>> {
    let level = folder.len();
    let inside = |path: &[String]| path.len() > level && path.starts_with(folder);
    let names: BTreeSet<String> =
        modules.keys().filter(|path| inside(path)).map(|path| path[level].clone()).collect();
    let mut edges: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (module, source) in modules.iter().filter(|(path, _)| inside(path)) {
        let to =
            mentioned(module, source).into_iter().filter(|path| inside(path)).map(|path| path[level].clone());
        let to = to.filter(|to| *to != module[level] && names.contains(to));
        edges.entry(module[level].clone()).or_default().extend(to);
    }
    edges
}

#[test]
fn the_module_graph_has_no_cycle() {
    let modules = library();
    let folders: BTreeSet<Vec<String>> = modules.keys().map(|path| path[..path.len() - 1].to_vec()).collect();
    assert!(folders.len() > 4, "{folders:?}");
    for folder in folders {
        let mut edges = siblings(&folder, &modules);
        // Repeatedly removes modules that mention no remaining module, until no module is left.
        while !edges.is_empty() {
            let done: Vec<String> = edges
                .iter()
                .filter(|(_, to)| to.iter().all(|to| !edges.contains_key(to)))
                .map(|(from, _)| from.clone())
                .collect();
            assert!(!done.is_empty(), "a cycle below `{}` among {edges:?}", folder.join("::"));
            edges.retain(|from, _| !done.contains(from));
        }
    }
}

#[test]
fn modules_know_only_what_they_may() {
    let modules = library();
    let edges = siblings(&[], &modules);
    let forbidden = [
        ("import", &["harp", "search", "tab", "pages"][..]),
        ("harp", &["melody", "import", "search", "tab", "pages"]),
        ("melody", &["import", "harp", "search", "tab", "pages"]),
        ("search", &["import", "tab", "pages"]),
        ("tab", &["melody", "import", "search", "pages"]),
        ("notation", &["import", "harp", "search", "tab", "pages", "export"]),
        ("export", &["import", "pages"]),
        ("pages", &["render", "json"]),
        ("json", &["render"]),
        ("question", &["json", "render", "sheet"]),
    ];
    for (module, others) in forbidden {
        for other in others {
            assert!(!edges[module].contains(*other), "{module} knows {other}");
        }
    }
    assert!(
        edges["search"].contains("harp") && edges["pages"].contains("search"),
        "the check finds no edges"
    );
}

#[test]
fn the_library_does_no_io_and_only_json_serialises() {
    for (module, source) in library() {
        let code = code(&source);
        let name = module.join("::");
        // Paths in groups count too, as in `use std::{env, fmt}`.
        let paths = paths(&code);
        for outside in ["fs", "env", "time", "net", "process", "thread"] {
            // The answer does not depend on the number of cores, as tests/playing/search_laws.rs checks.
            if (outside, name.as_str()) == ("thread", "search::shortlist") {
                continue;
            }
            let uses = |path: &&Vec<String>| path.starts_with(&["std".to_owned(), outside.to_owned()]);
            assert!(!paths.iter().any(|path| uses(&path)), "{name} uses std::{outside}");
        }
        for word in ["print!", "println!", "dbg!", "stdin(", "stdout(", "stderr(", "HashMap", "HashSet"] {
            assert!(!code.contains(word), "{name} uses {word}");
        }
        let serialises = module[0] == "json";
        assert_eq!(code.contains("Serialize"), serialises, "{name}");
        assert!(source.starts_with("//!"), "{name} does not begin with a description");
    }
}

/// The page for a browser is a separate crate, which is not published with the library. The only `unsafe` code is in
/// `app/src/lib.rs`, for the memory that the page and the library share, and in the attribute by which
/// `src/cli/closed.rs` asks to be called before `main`.
#[test]
fn unsafe_code_stays_in_the_page_for_a_browser() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = |path: &str| fs::read_to_string(root.join(path)).unwrap();
    let manifest = text("Cargo.toml");
    assert!(manifest.contains("unsafe_code = \"deny\""));
    assert!(text("src/lib.rs").contains("#![forbid(unsafe_code)]"));
    let manifest: toml::Table = manifest.parse().unwrap();
    let packed = manifest["package"]["include"].as_array().unwrap();
    let is_of_the_page = |file: &toml::Value| file.as_str().unwrap().starts_with("/app");
    assert!(!packed.is_empty() && !packed.iter().any(is_of_the_page));
    assert!(text("app/Cargo.toml").contains("publish = false"));
    let is_unsafe = |source: &str| {
        code(source).split(|c: char| !(c.is_alphanumeric() || c == '_')).any(|w| w == "unsafe")
    };
    let mut command = BTreeMap::new();
    collect(&root.join("src/cli"), &[], &mut command);
    for (module, source) in command {
        let source = source.replace("#[ctor::ctor(unsafe)]", "");
        assert!(!is_unsafe(&source), "{} of the command has unsafe code", module.join("::"));
    }
    for file in fs::read_dir(root.join("app/src")).unwrap().map(|entry| entry.unwrap().path()) {
        let source = fs::read_to_string(&file).unwrap();
        assert_eq!(is_unsafe(&source), file.ends_with("lib.rs"), "{}", file.display());
        assert!(source.lines().count() <= 700 && source.starts_with("//!"), "{}", file.display());
        let longest = function_lengths(&source).into_iter().max();
        assert!(longest <= Some(100), "a function in {} has {longest:?} lines", file.display());
    }
}

/// Returns the lengths in lines of all functions of a file: from the line of `fn` to the closing brace, judged by
/// indentation.
fn function_lengths(source: &str) -> Vec<usize> {
    let lines: Vec<&str> = source.lines().collect();
    let indent = |line: &str| line.len() - line.trim_start().len();
    let starts = lines.iter().enumerate().filter(|(_, line)| {
        let words = line.trim_start();
        let words =
            words.strip_prefix("pub").map_or(words, |rest| rest.split_once(' ').map_or("", |(_, rest)| rest));
        words.strip_prefix("const ").unwrap_or(words).starts_with("fn ")
    });
    let length = |(start, line): (usize, &&str)| {
        let ends = |other: &&str| other.trim_end() == format!("{}}}", " ".repeat(indent(line)));
        Some(lines[start..].iter().position(ends)? + 1)
    };
    starts.filter_map(length).collect()
}

#[test]
fn files_and_functions_can_be_held_in_the_head() {
    let mut lengths = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")];
    while let Some(folder) = folders.pop() {
        for path in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let source = fs::read_to_string(&path).unwrap();
                assert!(source.lines().count() <= 700, "{} is too long", path.display());
                for length in function_lengths(&source) {
                    assert!(length <= 100, "a function in {} has {length} lines", path.display());
                    lengths.push(length);
                }
            }
        }
    }
    lengths.sort_unstable();
    assert!(lengths.len() > 1000, "{} functions", lengths.len());
    let tenth_longest = lengths[lengths.len() * 9 / 10];
    assert!(tenth_longest <= 30, "one function in ten has more than {tenth_longest} lines");
}
