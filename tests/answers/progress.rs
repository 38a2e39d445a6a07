//! A command that takes over a second shows its progress on a terminal, and nowhere else.

#![cfg(target_os = "linux")]

use std::{
    fs,
    process::{Command, Stdio},
};

use crate::harness::{home, scratch};

/// Reads two tunes; the second arrives after `seconds` through a named pipe. Returns the output besides the answer, on
/// a terminal or through pipes.
fn shown(seconds: &str, on_terminal: bool) -> String {
    let folder = scratch();
    let book = "$B book corpus/greensleeves.mid $F/late.mid > $F/answer";
    let book =
        if on_terminal { format!("script -qec \"{book}\" /dev/null") } else { format!("sh -c \"{book}\"") };
    let script = format!(
        "mkfifo $F/late.mid; (sleep {seconds}; cat corpus/clementine.mid > $F/late.mid) & {book}; wait"
    );
    let mut command = Command::new("sh");
    command.args(["-c", &script]).current_dir(home()).stdin(Stdio::null());
    command.env("B", env!("CARGO_BIN_EXE_breathline")).env("F", &folder);
    let output = command.env("XDG_CONFIG_HOME", home().join("tests")).output().unwrap();
    let answer = fs::read_to_string(folder.join("answer")).unwrap();
    assert!(answer.contains("Clementine") && !answer.contains('\r'), "{answer}");
    fs::remove_dir_all(&folder).unwrap();
    String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap()
}

#[test]
fn reading_says_how_far_it_is_on_a_terminal_after_a_second() {
    assert_eq!(shown("2", false), "");
    if Command::new("script").arg("--version").output().is_err() {
        eprintln!("script is not installed; the terminal's part of this test is skipped");
        return;
    }
    let line = shown("2", true);
    assert!(line.contains("\rfiles read: 1 of 2, tunes: 1, 1 s\u{1b}[K"), "{line:?}");
    assert!(line.ends_with("\r\u{1b}[K"), "the line is cleared: {line:?}");
    assert_eq!(shown("0", true), "", "a quick command shows no progress");
}
