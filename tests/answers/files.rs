//! Written files: all or nothing, never over a file that the program did not write; and streams that cannot be written
//! to.

use crate::harness;

use std::{
    fs,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

use harness::{Finished, breathline, home, scratch};

const TUNE: &str = "corpus/amazing-grace.musicxml";
/// This tune takes three pages in large print.
const LONG: &str = "corpus/two-jigs.musicxml";

/// Commands that write a file, each with the ending of the file's name. The name follows as the last argument.
const WRITERS: [(&str, &str); 14] = [
    ("sheet corpus/amazing-grace.musicxml -o", "html"),
    ("sheet corpus/amazing-grace.musicxml -o", "pdf"),
    ("sheet corpus/amazing-grace.musicxml -o", "svg"),
    ("sheet corpus/amazing-grace.musicxml -o", "png"),
    ("suggest corpus/amazing-grace.musicxml --sheet", "html"),
    ("suggest corpus/amazing-grace.musicxml --sheet", "svg"),
    ("check corpus/amazing-grace.musicxml --harp C --sheet", "html"),
    ("check corpus/amazing-grace.musicxml --harp C --sheet", "pdf"),
    ("export corpus/amazing-grace.musicxml --harp C -o", "musicxml"),
    ("export corpus/amazing-grace.musicxml --harp C -o", "mxl"),
    ("export corpus/amazing-grace.musicxml --harp C -o", "abc"),
    ("export corpus/amazing-grace.musicxml --harp C -o", "mid"),
    ("export tests/lessons/amazing-grace-01.txt --harp C -o", "musicxml"),
    ("export tests/lessons/amazing-grace-01.txt --harp C -o", "mid"),
];

#[test]
fn only_a_file_of_the_programs_own_is_replaced_unless_force_is_given() {
    for (command, ending) in WRITERS {
        let folder = scratch();
        let path = folder.join(format!("tune.{ending}"));
        fs::write(&path, "A letter to a friend").unwrap();
        let line = breathline(command).arg(&path).fails();
        assert!(line.contains("--force") && line.contains("tune."), "{line}");
        assert_eq!(fs::read(&path).unwrap(), b"A letter to a friend");
        // With `--force`, the old file is replaced; a second run replaces the program's own file without `--force`.
        breathline(&format!("{} --force {}", before_name(command), last_word(command))).arg(&path).answers();
        let written = fs::read(&path).unwrap();
        breathline(command).arg(&path).answers();
        assert_eq!(fs::read(&path).unwrap(), written, "{command}");
        assert_eq!(names(&folder).len(), 1, "{command} leaves {:?}", names(&folder));
        fs::remove_dir_all(folder).unwrap();
    }
}

fn before_name(command: &str) -> &str {
    command.rsplit_once(' ').unwrap().0
}

fn last_word(command: &str) -> &str {
    command.rsplit_once(' ').unwrap().1
}

/// Returns the names of a folder's files, in order.
fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn a_file_that_another_program_saved_again_is_not_ours() {
    let folder = scratch();
    let path = folder.join("tune.musicxml");
    breathline(&format!("export {TUNE} --harp C -o")).arg(&path).answers();
    let score = fs::read_to_string(&path).unwrap().replace("<software>breathline ", "<software>Another ");
    fs::write(&path, &score).unwrap();
    breathline(&format!("export {TUNE} --harp C -o")).arg(&path).fails();
    assert_eq!(fs::read_to_string(&path).unwrap(), score);
    fs::remove_dir_all(folder).unwrap();
}

#[test]
#[cfg(unix)]
fn the_input_is_never_the_output() {
    let folder = scratch();
    let tune = folder.join("tune.musicxml");
    breathline(&format!("export {TUNE} --harp C -o")).arg(&tune).answers();
    let (hard, soft) = (folder.join("hard.musicxml"), folder.join("soft.musicxml"));
    fs::hard_link(&tune, &hard).unwrap();
    std::os::unix::fs::symlink(&tune, &soft).unwrap();
    let before = fs::read(&tune).unwrap();
    for output in [&tune, &hard, &soft] {
        let line = breathline("export --harp C --force").arg(&tune).arg("-o").arg(output).fails();
        assert!(line.contains("this is one of the input files"), "{line}");
        let piped = shell("\"$B\" export - --harp C --force -o \"$1\" <\"$2\"", &[output, &tune]);
        assert_eq!(piped.code, Some(2), "{}", piped.stderr);
    }
    // A checked tab and a tuning file are input files too.
    for (option, name, content) in [
        ("--tab", "tab.svg", include_str!("../lessons/amazing-grace-01.txt")),
        ("--tuning-file", "tuning.svg", include_str!("../../src/harp/tunings/country.toml")),
    ] {
        let path = folder.join(name);
        fs::write(&path, content).unwrap();
        let check = breathline("check corpus/amazing-grace.musicxml --harp C --force");
        let line = check.arg(option).arg(&path).arg("--sheet").arg(&path).fails();
        assert!(line.contains("this is one of the input files"), "{line}");
        assert_eq!(fs::read_to_string(&path).unwrap(), content);
    }
    assert_eq!(fs::read(&tune).unwrap(), before);
    assert_eq!(names(&folder).len(), 5, "{:?}", names(&folder));
    fs::remove_dir_all(folder).unwrap();
}

#[test]
#[cfg(unix)]
fn an_output_that_is_a_link_stays_one() {
    let folder = scratch();
    let (page, link) = (folder.join("page.svg"), folder.join("link.svg"));
    breathline(&format!("sheet {TUNE} -o")).arg(&page).answers();
    fs::write(&page, fs::read_to_string(&page).unwrap() + "<!-- old -->").unwrap();
    std::os::unix::fs::symlink("page.svg", &link).unwrap();
    breathline(&format!("sheet {TUNE} -o")).arg(&link).answers();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(!fs::read_to_string(&page).unwrap().contains("<!-- old -->"));
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_folder_in_the_place_of_a_page_leaves_every_page_as_it_was() {
    let folder = scratch();
    let old = folder.join("tune-1.svg");
    fs::write(&old, "old").unwrap();
    fs::create_dir(folder.join("tune-3.svg")).unwrap();
    let line =
        breathline(&format!("sheet {LONG} --size large --force -o")).arg(folder.join("tune.svg")).fails();
    assert!(line.contains("tune-3.svg: a folder has this name"), "{line}");
    assert_eq!(fs::read(&old).unwrap(), b"old");
    assert_eq!(names(&folder), ["tune-1.svg", "tune-3.svg"]);
    fs::remove_dir_all(folder).unwrap();
}

/// The superuser may write into every folder, so the test uses places that fail for every user.
#[test]
fn places_that_cannot_hold_a_file_are_named() {
    let folder = scratch();
    fs::write(folder.join("file"), "").unwrap();
    let long = "x".repeat(300);
    for (place, expected) in [
        ("no-folder/tune".to_owned(), "there is no such folder"),
        ("file/tune".to_owned(), "a file has the name of the folder"),
        (long, "the name is too long"),
    ] {
        for (command, ending) in [WRITERS[2], WRITERS[4], WRITERS[6], WRITERS[8]] {
            let line = breathline(command).arg(folder.join(format!("{place}.{ending}"))).fails();
            assert!(line.contains(expected) && line.chars().count() <= 200, "{line}");
        }
    }
    assert_eq!(names(&folder), ["file"]);
    fs::remove_dir_all(folder).unwrap();
}

/// Runs a script in which `$B` is the command, `$TUNE` and `$LONG` are the tunes, and `$1` and so on are the paths.
#[cfg(unix)]
fn shell(script: &str, paths: &[&Path]) -> Finished {
    let mut command = Command::new("sh");
    command.arg("-c").arg(script).arg("sh").args(paths).env("B", env!("CARGO_BIN_EXE_breathline"));
    let output = command
        .env("LONG", LONG)
        .env("TUNE", TUNE)
        .current_dir(home())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    Finished {
        code: output.status.code(),
        stdout: String::from_utf8(output.stdout).unwrap(),
        stderr: String::from_utf8(output.stderr).unwrap(),
    }
}

#[test]
#[cfg(unix)]
fn a_limit_of_the_system_leaves_the_old_file() {
    for (command, ending) in WRITERS {
        let folder = scratch();
        let path = folder.join(format!("tune.{ending}"));
        fs::write(&path, "old").unwrap();
        let script = format!(
            "ulimit -f 0; exec \"$B\" {} --force {} \"$1\"",
            before_name(command),
            last_word(command)
        );
        let finished = shell(&script, &[&path]);
        assert_eq!(
            (finished.code, finished.stdout.as_str()),
            (Some(2), ""),
            "{command}: {}",
            finished.stderr
        );
        assert!(
            finished.stderr.contains("the file is larger than this system allows"),
            "{}",
            finished.stderr
        );
        assert_eq!((fs::read(&path).unwrap(), names(&folder).len()), (b"old".to_vec(), 1), "{command}");
        fs::remove_dir_all(folder).unwrap();
    }
    let folder = scratch();
    let finished = shell("ulimit -f 0; \"$B\" suggest \"$TUNE\" >\"$1\"", &[&folder.join("answer.txt")]);
    assert_eq!(finished.code, Some(2), "{}", finished.stderr);
    fs::remove_dir_all(folder).unwrap();
}

/// Runs a script with a small file system on `$1` and the permission to mount others. Returns `None`, with a message, if
/// the system does not allow mounting.
#[cfg(unix)]
fn with_mounts(name: &str, script: &str) -> Option<Finished> {
    let folder = scratch();
    let script = format!("mount -t tmpfs -o size=32k tmpfs \"$1\" 2>/dev/null || exit 77; {script}");
    let finished = shell("exec unshare -rm sh -c \"$2\" sh \"$1\"", &[&folder, Path::new(&script)]);
    fs::remove_dir_all(folder).unwrap();
    if matches!(finished.code, Some(0..=2)) {
        return Some(finished);
    }
    eprintln!("skipped: {name}, because this system lets nobody mount a file system: {}", finished.stderr);
    None
}

#[test]
#[cfg(unix)]
fn a_full_disk_leaves_the_old_file() {
    for command in [
        "sheet \"$TUNE\" --force -o \"$1/tune.svg\"",
        "sheet \"$LONG\" --size large --force -o \"$1/tune.png\"",
    ] {
        let script = format!(
            "for name in tune.svg tune-1.png tune-2.png; do echo old >\"$1/$name\"; done
            \"$B\" {command}; code=$?; cat \"$1\"/*; ls -A \"$1\"; exit $code"
        );
        let Some(finished) = with_mounts("a_full_disk_leaves_the_old_file", &script) else { return };
        assert_eq!(
            finished.stdout, "old\nold\nold\ntune-1.png\ntune-2.png\ntune.svg\n",
            "{}",
            finished.stderr
        );
        assert_eq!(finished.code, Some(2));
        assert!(finished.stderr.contains("the disk is full"), "{}", finished.stderr);
    }
}

/// A read-only file system is read-only for the superuser too.
#[test]
#[cfg(unix)]
fn a_read_only_folder_leaves_the_old_file() {
    let script = "echo old >\"$1/tune.svg\"; mount -o remount,ro \"$1\"
        \"$B\" sheet \"$TUNE\" --force -o \"$1/tune.svg\"; code=$?; cat \"$1\"/*; ls -A \"$1\"; exit $code";
    let Some(finished) = with_mounts("a_read_only_folder_leaves_the_old_file", script) else { return };
    assert_eq!(
        (finished.code, finished.stdout.as_str()),
        (Some(2), "old\ntune.svg\n"),
        "{}",
        finished.stderr
    );
    assert!(finished.stderr.contains("check the permissions"), "{}", finished.stderr);
}

/// A page on whose name a file is mounted cannot be replaced by renaming, and no earlier check can detect the mount, so
/// the pages before it must be rolled back.
#[test]
#[cfg(unix)]
fn pages_appear_together_or_not_at_all() {
    let script = "mount -o remount,size=4m \"$1\"; echo old >\"$1/tune-1.svg\"; echo other >\"$1/other\"
        touch \"$1/tune-3.svg\"; mount --bind \"$1/other\" \"$1/tune-3.svg\"
        \"$B\" sheet \"$LONG\" --size large --force -o \"$1/tune.svg\"; code=$?; cat \"$1\"/*; ls -A \"$1\"; exit $code";
    let Some(finished) = with_mounts("pages_appear_together_or_not_at_all", script) else { return };
    let expected = "other\nold\nother\nother\ntune-1.svg\ntune-3.svg\n";
    assert_eq!((finished.code, finished.stdout.as_str()), (Some(2), expected), "{}", finished.stderr);
    assert!(finished.stderr.contains("tune-3.svg: another program uses this file"), "{}", finished.stderr);
}

#[test]
fn pages_that_are_left_from_an_earlier_sheet_are_named() {
    let folder = scratch();
    let sheet = |options: &str| {
        let finished = breathline(&format!("sheet {options} -o")).arg(folder.join("tune.svg")).run();
        assert_eq!(finished.code, Some(0), "{}", finished.stderr);
        finished.stderr
    };
    assert_eq!(sheet(&format!("{LONG} --size large")), "");
    let line = sheet("demo/the-ropewalk.musicxml --size large");
    assert!(line.contains("tune-3.svg is left from an earlier sheet; delete it"), "{line}");
    let line = sheet(TUNE);
    assert!(line.contains("3 files are left") && line.contains("tune-1.svg to "), "{line}");
    let line = sheet(&format!("{LONG} --size large"));
    assert!(line.contains("tune.svg is left"), "{line}");
    // A page that the program did not write is not named.
    fs::write(folder.join("tune-4.svg"), "<svg/>").unwrap();
    fs::remove_file(folder.join("tune.svg")).unwrap();
    assert_eq!(sheet(&format!("{LONG} --size large")), "");
    fs::remove_dir_all(folder).unwrap();
}

#[test]
#[cfg(target_os = "linux")]
fn names_that_are_not_unicode_survive() {
    use std::{ffi::OsStr, os::unix::ffi::OsStrExt};
    let name = |bytes: &[u8]| PathBuf::from(OsStr::from_bytes(bytes));
    let folder = scratch();
    breathline(&format!("sheet {LONG} --size large -o")).arg(folder.join(name(b"l\xF6we.svg"))).answers();
    breathline(&format!("export {TUNE} --harp C -o")).arg(folder.join(name(b"l\xF6we.mid"))).answers();
    for expected in [&b"l\xF6we-1.svg"[..], b"l\xF6we-2.svg", b"l\xF6we-3.svg", b"l\xF6we.mid"] {
        assert!(folder.join(name(expected)).is_file(), "{:?}", names(&folder));
    }
    fs::remove_dir_all(folder).unwrap();
}

#[test]
#[cfg(target_os = "linux")]
fn an_answer_that_cannot_be_written_is_a_failure_unless_nobody_reads_on() {
    for command in
        ["suggest \"$TUNE\"", "notes \"$TUNE\" --json", "positions", "harp C", "--help", "--version"]
    {
        for output in [">/dev/full", "1</dev/null", ">&-"] {
            let finished = shell(&format!("\"$B\" {command} {output}"), &[]);
            assert_eq!(finished.code, Some(2), "{command} {output}: {}", finished.stderr);
            assert!(finished.stderr.contains("cannot be written to standard output"), "{}", finished.stderr);
        }
        assert_eq!(shell(&format!("\"$B\" {command} >/dev/null"), &[]).code, Some(0), "{command}");
        let script = format!("{{ sleep 0.2; \"$B\" {command}; echo $? >&2; }} | true");
        assert_eq!(shell(&script, &[]).stderr, "0\n", "{command}");
    }
}
