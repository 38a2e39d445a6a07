//! Runs the real command as a user would, and compares texts with their goldens.

#![allow(dead_code, reason = "each test file uses only a part of the harness")]

use std::{
    env, fs,
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Output, Stdio},
};

/// Returns the project's folder: commands run there, so that paths are the same as in the documents.
pub fn home() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A run of `breathline`.
pub struct Run {
    command: Command,
    stdin: Vec<u8>,
}

/// Prepares `breathline` with arguments split at spaces; quotes keep words together.
pub fn breathline(arguments: &str) -> Run {
    let mut command = Command::new(env!("CARGO_BIN_EXE_breathline"));
    // The settings of the person who runs the tests must have no effect.
    command.env("XDG_CONFIG_HOME", home().join("tests"));
    command.current_dir(home()).env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE").args(words(arguments));
    Run { command, stdin: Vec::new() }
}

impl Run {
    pub fn arg(mut self, argument: impl AsRef<Path>) -> Run {
        self.command.arg(argument.as_ref());
        self
    }

    pub fn env(mut self, name: &str, value: &str) -> Run {
        self.command.env(name, value);
        self
    }

    pub fn stdin(mut self, bytes: impl Into<Vec<u8>>) -> Run {
        self.stdin = bytes.into();
        self
    }

    pub fn run(mut self) -> Finished {
        let pipes = self.command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = pipes.spawn().unwrap();
        // The command may end before it has read all of its input.
        let _ = child.stdin.take().unwrap().write_all(&self.stdin);
        let Output { status, stdout, stderr } = child.wait_with_output().unwrap();
        Finished {
            code: status.code(),
            stdout: String::from_utf8(stdout).unwrap(),
            stderr: String::from_utf8(stderr).unwrap(),
        }
    }

    /// Runs the command; expects an answer and an empty stderr.
    pub fn answers(self) -> String {
        let finished = self.run();
        assert_eq!((finished.code, finished.stderr.as_str()), (Some(0), ""), "{}", finished.stdout);
        finished.stdout
    }

    /// Runs the command; expects exit code 2, an empty stdout, and one line on stderr.
    pub fn fails(self) -> String {
        let finished = self.run();
        assert_eq!((finished.code, finished.stdout.as_str()), (Some(2), ""), "{}", finished.stderr);
        assert_eq!(finished.stderr.lines().count(), 1, "one line, but: {}", finished.stderr);
        finished.stderr
    }
}

/// The result of a run.
pub struct Finished {
    pub code: Option<i32>,
    pub stdout: String,
    pub stderr: String,
}

/// Splits a line as a shell does, as far as the documents' commands need.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut quote = None;
    for c in line.chars() {
        match (quote, c) {
            (Some(open), c) if open == c => quote = None,
            (None, '"' | '\'') => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (None, ' ') => words.extend(word.take()),
            (_, c) => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    words
}

/// Whether goldens are to be written and not compared: `UPDATE_GOLDENS=1 cargo test`.
pub fn updating() -> bool {
    env::var_os("UPDATE_GOLDENS").is_some()
}

/// Compares a text with a golden file, or writes the file.
pub fn check_golden(path: &Path, got: &str) {
    if updating() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, got).unwrap();
        return;
    }
    let expected = fs::read_to_string(path).unwrap_or_default();
    assert!(
        expected == got,
        "{} differs; UPDATE_GOLDENS=1 cargo test rewrites it\n--- expected\n{expected}\n--- got\n{got}",
        path.display()
    );
}

/// Returns the files of a folder with this name ending, in order.
pub fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let entries = fs::read_dir(home().join(folder)).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<PathBuf> =
        entries.filter(|path| path.extension().is_some_and(|found| found == ending)).collect();
    files.sort();
    files
}

/// Makes an empty folder for the current test.
pub fn scratch() -> PathBuf {
    use std::sync::atomic::{AtomicU32, Ordering};
    static NEXT: AtomicU32 = AtomicU32::new(0);
    let name = format!("breathline-{}-{}", std::process::id(), NEXT.fetch_add(1, Ordering::Relaxed));
    let folder = env::temp_dir().join(name);
    fs::create_dir_all(&folder).unwrap();
    folder
}
