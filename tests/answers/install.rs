//! The shell completions and the manual pages name every command and option that the help names, and every word of an
//! option, except in PowerShell and Elvish.

use std::{
    collections::BTreeSet,
    fs,
    path::Path,
    process::{Command, Output},
};

use crate::harness::{breathline, scratch};

const SHELLS: [&str; 5] = ["bash", "elvish", "fish", "powershell", "zsh"];

/// Returns the commands that the help lists.
fn commands() -> Vec<String> {
    let help = breathline("--help").answers();
    let list = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let names = list.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    names
        .map(|line| line.split_whitespace().next().unwrap().to_owned())
        .filter(|name| name != "help")
        .collect()
}

/// An option of a command, with its words if they form a closed set.
type Choice = (String, Vec<String>);

/// Returns the options that the help of a command lists.
fn options(command: &str) -> Vec<Choice> {
    let help = breathline(&format!("{command} --help")).answers();
    let mut options: Vec<Choice> = Vec::new();
    for line in help.lines().map(str::trim_start) {
        if line.starts_with('-') && !line.starts_with("- ") {
            let name = line.split([' ', ',']).find(|word| word.starts_with("--")).unwrap();
            options.push((name.to_owned(), Vec::new()));
        } else if let (Some(word), Some((_, words))) = (line.strip_prefix("- "), options.last_mut()) {
            words.push(word.split(": ").next().unwrap().trim_end_matches(':').to_owned());
        } else if let Some((_, listed)) = line.split_once("[possible values: ")
            && let Some((_, words)) = options.last_mut()
        {
            words.extend(listed.trim_end_matches(']').split(", ").map(str::to_owned));
        }
    }
    options
}

/// Runs a program of this machine, or reports that it is not installed.
fn program(name: &str, arguments: &[&str]) -> Option<Output> {
    let ran = Command::new(name).args(arguments).output();
    if ran.is_err() {
        eprintln!("{name} is not installed; its part of this test is skipped");
    }
    ran.ok()
}

fn script(shell: &str, folder: &Path) -> String {
    let path = folder.join(shell);
    fs::write(&path, breathline(&format!("completions {shell}")).answers()).unwrap();
    path.to_str().unwrap().to_owned()
}

/// Returns the part of a shell's script that concerns one command.
fn part(shell: &str, script: &str, command: &str) -> String {
    let until = |begin: &str, end: &str| {
        let from = script.find(begin).unwrap_or_else(|| panic!("{shell} says nothing about {command}"));
        let rest = &script[from + begin.len()..];
        rest[..rest.find(end).unwrap_or(rest.len())].to_owned()
    };
    match shell {
        "bash" => until(
            &format!("        breathline__subcmd__{command})\n"),
            "\n            return 0\n            ;;\n",
        ),
        "elvish" => until(&format!("&'breathline;{command}'= {{"), "\n        }"),
        "powershell" => until(&format!("'breathline;{command}' {{"), "\n            break"),
        "zsh" => until(&format!("({command})\n_arguments"), "\n;;"),
        _ => {
            // Descriptions of words span several lines.
            let of_it = format!("__fish_breathline_using_subcommand {command}\"");
            script.split("\ncomplete ").filter(|entry| entry.contains(&of_it)).collect::<Vec<_>>().join("\n")
        }
    }
}

#[test]
fn every_option_of_every_command_is_in_each_completion() {
    let commands = commands();
    assert!(commands.len() > 10, "{commands:?}");
    for shell in SHELLS {
        let script = breathline(&format!("completions {shell}")).answers();
        for command in &commands {
            let part = part(shell, &script, command);
            for (option, words) in options(command) {
                let listed = match shell {
                    "fish" => format!(" -l {} ", &option[2..]),
                    _ => option.clone(),
                };
                assert!(
                    part.replace('\n', " ").contains(&listed),
                    "{shell}: {command} lacks {option}\n{part}"
                );
                // Bash has a separate test; PowerShell and Elvish do not complete the words of options.
                for word in words.iter().filter(|word| ["fish", "zsh"].contains(&shell) && *word != "'") {
                    assert!(part.contains(word.as_str()), "{shell}: {command} {option} lacks {word}\n{part}");
                }
            }
        }
    }
}

/// Queries Bash itself for every option and every word of a closed set.
#[test]
fn bash_completes_options_and_words() {
    let folder = scratch();
    let script = script("bash", &folder);
    let Some(checked) = program("bash", &["-n", &script]) else { return };
    assert!(checked.status.success() && checked.stderr.is_empty(), "{checked:?}");
    for command in commands() {
        let options = options(&command);
        // The first line asks for the completions after the command, the following lines for the words after each
        // option.
        let asked: String = std::iter::once("--".to_owned())
            .chain(options.iter().filter(|(_, words)| !words.is_empty()).map(|(option, _)| format!("{option} ")))
            .map(|line| {
                let words = line.split(' ').map(|word| format!("'{word}'")).collect::<Vec<_>>().join(" ");
                format!(
                    "COMP_WORDS=(breathline {command} {words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); COMPREPLY=(); \
                     _breathline breathline \"${{COMP_WORDS[COMP_CWORD]}}\" \"${{COMP_WORDS[COMP_CWORD-1]}}\"; \
                     printf '%s ' \"${{COMPREPLY[@]}}\"; echo; "
                )
            })
            .collect();
        let ran = program("bash", &["-c", &format!("shopt -s extglob; source {script}; {asked}")]).unwrap();
        let stdout = String::from_utf8(ran.stdout).unwrap();
        let offered: Vec<BTreeSet<&str>> =
            stdout.lines().map(|line| line.split_whitespace().collect()).collect();
        for (option, _) in &options {
            assert!(offered[0].contains(option.as_str()), "{command} {option}: {:?}", offered[0]);
        }
        let closed = options.iter().filter(|(_, words)| !words.is_empty());
        for ((option, words), offered) in closed.zip(&offered[1..]) {
            // The shell itself quotes the bend mark `'`.
            for word in words.iter().filter(|word| *word != "'") {
                assert!(offered.contains(word.as_str()), "{command} {option} {word}: {offered:?}");
            }
        }
    }
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn other_shells_read_their_completions() {
    let folder = scratch();
    for (shell, arguments) in [("zsh", ["-n"]), ("fish", ["--no-execute"])] {
        let script = script(shell, &folder);
        if let Some(ran) = program(shell, &[arguments[0], &script]) {
            assert!(ran.status.success() && ran.stderr.is_empty(), "{shell}: {ran:?}");
        }
    }
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn the_manual_names_every_command_and_option_and_renders_without_a_warning() {
    let folder = scratch();
    let written = breathline("man").arg(&folder).answers();
    let commands = commands();
    assert_eq!(written.lines().count(), commands.len() + 1);
    let read = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
    let main = read("breathline.1").replace("\\-", "-");
    for command in &commands {
        assert!(main.contains(&format!("breathline-{command}(1)")), "{command}");
        let page = read(&format!("breathline-{command}.1")).replace("\\-", "-");
        for (option, words) in options(command) {
            assert!(page.contains(&format!("{option}\\")), "{command} {option}: {page}");
            let lacks = |word: &&String| *word != "½" && *word != "'" && !page.contains(word.as_str());
            assert_eq!(words.iter().find(lacks), None, "{command} {option}");
        }
    }
    for path in written.lines() {
        let page = fs::read_to_string(path).unwrap();
        assert!(page.is_ascii() && page.starts_with(".\\\" Written by breathline "), "{path}");
        if let Some(ran) = program("groff", &["-man", "-Tutf8", "-ww", "-z", path]) {
            assert_eq!(String::from_utf8(ran.stderr).unwrap(), "", "{path}");
        }
    }
    // The command recognises its own pages and leaves other files alone.
    breathline("man").arg(&folder).answers();
    fs::write(folder.join("breathline-bag.1"), "mine").unwrap();
    assert!(breathline("man").arg(&folder).fails().contains("breathline did not write it"));
    assert_eq!(read("breathline-bag.1"), "mine");
    breathline("man --force").arg(&folder).answers();
    assert!(breathline("man").arg(folder.join("none")).fails().contains("there is no such folder"));
    fs::remove_dir_all(folder).unwrap();
}
