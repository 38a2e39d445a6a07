//! `--open`: written files are opened with the system's program, for which the tests substitute a script.

#![cfg(all(target_os = "linux", feature = "paper"))]

use std::{
    fs,
    os::unix::fs::PermissionsExt,
    path::{Path, PathBuf},
    thread,
    time::Duration,
};

use crate::harness::{breathline, scratch};

/// Commands that write a file to view, each without the file's name at its end, and this name.
const COMMANDS: [(&str, &str); 6] = [
    ("set corpus/clementine.mid corpus/greensleeves.mid --open -o", "set.html"),
    ("sheet corpus/clementine.mid --harp C --open -o", "tune.html"),
    ("sheet corpus/two-jigs.musicxml --harp C --size large --open -o", "tune.svg"),
    ("suggest corpus/clementine.mid --open --sheet", "tune.pdf"),
    ("check corpus/clementine.mid --harp C --open --sheet", "check.html"),
    ("book corpus/clementine.mid corpus/greensleeves.mid --open --page", "book.html"),
];

/// Makes a folder with a program that writes the name of each file that it is asked to open into `opened`, and then
/// runs for `seconds`.
fn folder_with_viewer(seconds: u32) -> PathBuf {
    let folder = scratch();
    let program = folder.join("xdg-open");
    // The file must exist and have content when it is opened.
    let script = format!(
        "#!/bin/sh\nif [ -s \"$1\" ]; then echo \"$1\" >> '{}'; fi\nexec /bin/sleep {seconds}\n",
        folder.join("opened").display()
    );
    fs::write(&program, script).unwrap();
    fs::set_permissions(&program, PermissionsExt::from_mode(0o755)).unwrap();
    folder
}

/// Returns the names that the program was asked to open. The function waits, because the program runs independently.
fn opened(folder: &Path) -> String {
    for _ in 0..100 {
        match fs::read_to_string(folder.join("opened")) {
            Ok(opened) if opened.ends_with('\n') => return opened,
            _ => thread::sleep(Duration::from_millis(20)),
        }
    }
    String::new()
}

#[test]
fn what_was_written_is_opened() {
    for (command, name) in COMMANDS {
        // A browser that stays open must not block the command.
        let folder = folder_with_viewer(20);
        let path = folder.join(name);
        let run = breathline(command).arg(&path).env("PATH", folder.to_str().unwrap());
        let began = std::time::Instant::now();
        assert_ne!(run.answers(), "", "{command}");
        assert!(began.elapsed() < Duration::from_secs(15), "{command} waits for the program");
        // If there are several pages, the first page is opened.
        let first = if name == "tune.svg" { folder.join("tune-1.svg") } else { path };
        assert_eq!(opened(&folder), format!("{}\n", first.display()), "{command}");
        fs::remove_dir_all(&folder).unwrap();
        // Without the option no file is opened.
        let folder = folder_with_viewer(0);
        let command = command.replace(" --open", "");
        breathline(&command).arg(folder.join(name)).env("PATH", folder.to_str().unwrap()).answers();
        assert!(!folder.join("opened").exists(), "{command}");
        fs::remove_dir_all(&folder).unwrap();
    }
}

#[test]
fn without_a_program_the_file_is_written_and_a_line_says_so() {
    for (command, name) in COMMANDS {
        let folder = scratch();
        let path = folder.join(name);
        let finished = breathline(command).arg(&path).env("PATH", folder.to_str().unwrap()).run();
        assert_eq!(finished.code, Some(0), "{command}: {}", finished.stderr);
        assert!(
            finished.stderr.ends_with("but this system did not open it; open it yourself\n"),
            "{command}"
        );
        assert_eq!(finished.stderr.lines().count(), 1, "{command}: {}", finished.stderr);
        assert!(fs::read_dir(&folder).unwrap().next().is_some(), "{command}");
        fs::remove_dir_all(&folder).unwrap();
    }
}

#[test]
fn a_file_that_was_not_written_is_not_opened() {
    let folder = folder_with_viewer(0);
    let path = folder.join("mine.html");
    fs::write(&path, "mine").unwrap();
    let run = breathline("suggest corpus/clementine.mid --open --sheet").arg(&path);
    run.env("PATH", folder.to_str().unwrap()).fails();
    thread::sleep(Duration::from_millis(300));
    assert!(!folder.join("opened").exists());
    fs::remove_dir_all(&folder).unwrap();
}
