//! Explains a rejected command line in one line, if possible with the line to type instead. Slips with only one
//! possible meaning are corrected without an error.

mod stray;

use std::{error::Error, ffi::OsString};

use breathline::near;
use clap::{
    Arg, Command,
    error::{ContextKind, ContextValue, ErrorKind},
};
use itertools::Itertools;

/// Other names for commands, which users may try.
const COMMANDS: [(&str, &str); 17] = [
    ("rank", "suggest"),
    ("best", "suggest"),
    ("find", "suggest"),
    ("which", "suggest"),
    ("choose", "suggest"),
    ("compare", "check"),
    ("convert", "export"),
    ("save", "export"),
    ("print", "sheet"),
    ("pdf", "sheet"),
    ("score", "sheet"),
    ("info", "notes"),
    ("list", "notes"),
    ("key", "positions"),
    ("layout", "harp"),
    ("setlist", "set"),
    ("version", "--version"),
];

/// Other names for options, which users may try.
const OPTIONS: [(&str, &str); 15] = [
    ("level", "--player"),
    ("skill", "--player"),
    ("bpm", "--tempo"),
    ("speed", "--tempo"),
    ("instrument", "--harp"),
    ("harmonica", "--harp"),
    ("mode", "--key"),
    ("scale", "--key"),
    ("track", "--part"),
    ("number", "--tune"),
    ("title", "--tune"),
    ("markdown", "--format markdown"),
    ("pdf", "--output tune.pdf"),
    ("html", "--output tune.html"),
    ("easy", "--easiest"),
];

/// Example values for options, shown if a line lacks the value.
const EXAMPLES: [(&str, &str); 25] = [
    ("harp", "C"),
    ("harps", "C,G,A"),
    ("have", "C,G"),
    ("tunings", "richter,country"),
    ("tuning", "natural-minor"),
    ("tuning-file", "tuning.toml"),
    ("key", "G"),
    ("position", "2"),
    ("octave", "-1"),
    ("at", "3:2=-2"),
    ("tempo", "90"),
    ("top", "10"),
    ("part", "2"),
    ("voice", "2"),
    ("tune", "3"),
    ("tab", "lesson.txt"),
    ("player", "beginner"),
    ("width", "60"),
    ("next", "10"),
    ("easiest", "10"),
    ("most", "3"),
    ("change", "300"),
    ("price", "40"),
    ("effort", "60"),
    ("notes", "\"G A B d\""),
];

/// A command line as typed.
pub(super) struct Typed<'a> {
    /// The definition of the whole command line.
    root: &'a Command,
    /// The words typed, without the program's name.
    words: Vec<String>,
    /// The subcommand, and its index among the words.
    sub: Option<(usize, &'a Command)>,
}

impl<'a> Typed<'a> {
    pub(super) fn new(root: &'a Command, arguments: &[OsString]) -> Typed<'a> {
        let words: Vec<String> =
            arguments.iter().skip(1).map(|word| word.to_string_lossy().into_owned()).collect();
        let sub = words.iter().position(|word| !word.starts_with('-'));
        let sub = sub.and_then(|at| Some((at, root.find_subcommand(words[at].to_lowercase())?)));
        Typed { root, words, sub }
    }

    /// Returns the arguments with slips corrected: dashes and quotation marks of word processors, one dash for two,
    /// underscores, and capitals.
    pub(super) fn mended(&self, arguments: Vec<OsString>) -> Vec<OsString> {
        let Some((at, sub)) = self.sub else { return arguments };
        let mended = |(place, argument): (usize, OsString)| match argument.to_str() {
            _ if place == at + 1 => sub.get_name().into(),
            Some(word) if place > at + 1 => {
                as_called(sub, word).or_else(|| unquoted(word)).map_or(argument, OsString::from)
            }
            _ => argument,
        };
        arguments.into_iter().enumerate().map(mended).collect()
    }

    /// Returns hints about renamed options, for users who remember the old names.
    pub(super) fn renamed(&self) -> impl Iterator<Item = String> + '_ {
        const RENAMED: [(&str, &str); 2] = [("--song-key", "--key"), ("--feel", "--style")];
        let is_typed = |old: &str| self.words.iter().any(|word| word.split('=').next() == Some(old));
        let here = self.sub.is_some_and(|(_, sub)| sub.get_name() == "positions");
        let renamed = RENAMED.into_iter().filter(move |(old, _)| here && is_typed(old));
        renamed.map(|(old, new)| format!("{old} is now {new}"))
    }

    /// Explains clap's error in one line.
    pub(super) fn explain(&self, error: &clap::Error) -> String {
        let text = |kind| match error.get(kind) {
            Some(ContextValue::String(text)) => text.clone(),
            Some(ContextValue::Strings(texts)) => texts.first().cloned().unwrap_or_default(),
            _ => String::new(),
        };
        let several = |kind| match error.get(kind) {
            Some(ContextValue::Strings(texts)) => texts.clone(),
            Some(ContextValue::String(text)) => vec![text.clone()],
            _ => Vec::new(),
        };
        let (argument, value) = (text(ContextKind::InvalidArg), text(ContextKind::InvalidValue));
        match error.kind() {
            ErrorKind::InvalidSubcommand => self.no_command(&text(ContextKind::InvalidSubcommand)),
            ErrorKind::UnknownArgument if argument.starts_with('-') => self.no_option(&argument),
            ErrorKind::UnknownArgument => self.stray(&argument).unwrap_or_else(|| self.misplaced(&argument)),
            ErrorKind::InvalidValue => self.no_value(&argument, &value, &several(ContextKind::ValidValue)),
            ErrorKind::ValueValidation if argument == "[KEY]" && value.parse::<u8>().is_ok() => {
                format!(
                    "{value} is not a key; write `{}`",
                    self.with(self.place(&value), &["--position", &value])
                )
            }
            ErrorKind::ValueValidation => {
                if let Some(words) = self.curly(&value) {
                    return words;
                }
                let reason = error.source().map(ToString::to_string).unwrap_or_default();
                let option = name_of(&argument);
                if argument.starts_with(['[', '<']) {
                    reason
                } else if reason.contains(&value) {
                    format!("{option}: {reason}")
                } else {
                    format!("{option} {value}: {reason}")
                }
            }
            ErrorKind::MissingRequiredArgument => self.missing(&several(ContextKind::InvalidArg)),
            ErrorKind::ArgumentConflict => {
                let prior = several(ContextKind::PriorArg);
                let prior = prior.first().map_or("another option", |prior| name_of(prior));
                if let Some(words) = self.unquoted_notes() {
                    return words;
                }
                match name_of(&argument) {
                    same if same == prior => format!("{same} is given twice; leave one out"),
                    "--notes" | "[FILE]" if [prior, name_of(&argument)].contains(&"[FILE]") => {
                        "--notes replaces the file; leave out one of the two".to_owned()
                    }
                    other => format!("{other} and {prior} exclude each other; leave out one of them"),
                }
            }
            _ => error
                .render()
                .to_string()
                .lines()
                .next()
                .unwrap_or_default()
                .trim_start_matches("error: ")
                .to_owned(),
        }
    }

    fn no_command(&self, word: &str) -> String {
        if stray::is_file(word) {
            return format!(
                "name a command before the file, as in `{}`",
                self.with(self.place(word), &["suggest", word])
            );
        }
        let known = || self.root.get_subcommands().filter(|sub| !sub.is_hide_set()).map(Command::get_name);
        let near = near::nearest(word, known().chain(["help"]));
        let meant = near.or_else(|| other_name(&COMMANDS, word));
        match meant {
            Some(meant) => {
                format!("there is no command {word}; write `{}`", self.with(self.place(word), &[meant]))
            }
            None => format!("there is no command {word}; write one of {}", known().join(", ")),
        }
    }

    fn no_option(&self, option: &str) -> String {
        let Some((_, sub)) = self.sub else {
            return format!(
                "there is no option {option} before a command; `breathline --help` shows all commands"
            );
        };
        let bare = option.trim_start_matches('-');
        let known: Vec<&str> =
            options(sub).filter(|arg| !arg.is_hide_set()).filter_map(Arg::get_long).collect();
        let called = other_name(&OPTIONS, bare)
            .filter(|meant| known.iter().any(|known| meant[2..].split(' ').next() == Some(known)));
        let near = near::nearest(bare, known.iter().copied()).map(|near| format!("--{near}"));
        if let Some(meant) = called.map(str::to_owned).or(near) {
            return format!(
                "there is no option {option}; write `{}`",
                self.with(self.place(option), &[&meant])
            );
        }
        let elsewhere =
            self.root.get_subcommands().find(|sub| options(sub).any(|arg| arg.get_long() == Some(bare)));
        match elsewhere {
            Some(other) => format!(
                "{option} belongs to `breathline {}`; `breathline {} --help` shows the options here",
                other.get_name(),
                sub.get_name()
            ),
            None => format!(
                "there is no option {option}; `breathline {} --help` shows all options",
                sub.get_name()
            ),
        }
    }

    /// Explains a value that an option does not accept, or an option without its value.
    fn no_value(&self, argument: &str, value: &str, valid: &[String]) -> String {
        let option = name_of(argument);
        let valid: Vec<&str> = valid.iter().map(String::as_str).collect();
        let list = valid.join(", ");
        if value.is_empty() {
            let example = example(option.trim_start_matches('-'));
            return match example {
                _ if !valid.is_empty() => format!("{option} needs a word after it: {list}"),
                Some(example) => format!("{option} needs a value after it, as in {option} {example}"),
                None => format!("{option} needs a value after it"),
            };
        }
        let within =
            || valid.iter().copied().find(|known| value.to_lowercase().contains(*known) && known.len() > 2);
        match near::nearest(value, valid.iter().copied()).or_else(within) {
            Some(meant) => format!("{option} {value}: write {option} {meant}"),
            None => match self.elsewhere(option, value) {
                Some(command) => {
                    format!("{option} {value} is for `breathline {command}`; write one of {list}")
                }
                None => format!("{option} {value}: write one of {list}"),
            },
        }
    }

    /// Returns the command that has an option of this name with this value.
    fn elsewhere(&self, option: &str, value: &str) -> Option<&str> {
        let has = |sub: &&Command| {
            let mut named = options(sub).filter(|arg| arg.get_long() == Some(option.trim_start_matches('-')));
            named.any(|arg| arg.get_possible_values().iter().any(|known| known.get_name() == value))
        };
        self.root.get_subcommands().find(has).map(Command::get_name)
    }

    fn missing(&self, arguments: &[String]) -> String {
        let Some((at, sub)) = self.sub else {
            return "name a command; `breathline --help` shows all".to_owned();
        };
        let (mut positional, mut named) = (Vec::new(), Vec::new());
        let mut lacks = Vec::new();
        for argument in arguments {
            let (what, words): (&str, &[&str]) = match (argument.as_str(), sub.get_name()) {
                ("<FILE>", _) => ("the tune", &["tune.mid"]),
                ("<FILE>...", _) => ("the tunes", &["first.mid", "second.mid"]),
                ("<FILE|FOLDER>...", _) => ("the tunes", &["tunes/"]),
                ("<HARP>", _) => ("the harp", &["C"]),
                (option, _) if option.starts_with("--harp") => ("the harp", &["--harp", "C"]),
                (option, "export") if option.starts_with("--output") => {
                    ("the file to write", &["-o", "tune.musicxml"])
                }
                (option, "book") if option.starts_with("--output") => {
                    ("the file to write", &["-o", "book.html"])
                }
                (option, _) if option.starts_with("--output") => ("the file to write", &["-o", "tune.pdf"]),
                (other, _) => (other, &[]),
            };
            lacks.push(what);
            if argument.starts_with('<') { &mut positional } else { &mut named }.extend_from_slice(words);
        }
        let words = self.words.iter().map(String::as_str);
        let line: Vec<&str> =
            words.clone().take(at + 1).chain(positional).chain(words.skip(at + 1)).chain(named).collect();
        let verb = if lacks.len() == 1 && !lacks[0].ends_with('s') { "is" } else { "are" };
        format!("{} {verb} missing; write `{}`", lacks.join(" and "), typed(&line))
    }

    fn misplaced(&self, word: &str) -> String {
        let command = self.sub.map_or("", |(_, sub)| sub.get_name());
        match command {
            "" => format!("{word} has no place here; `breathline --help` shows the commands and options"),
            _ => format!(
                "{word} has no place here; `breathline {command} --help` shows the commands and options"
            ),
        }
    }

    /// Returns the index of a typed word, or the number of words if the word was not typed.
    fn place(&self, word: &str) -> usize {
        let is_it = |typed: &String| typed == word || typed.split('=').next() == Some(word);
        self.words.iter().position(is_it).unwrap_or(self.words.len())
    }

    /// Returns the line with other words in place of one word.
    fn with(&self, place: usize, words: &[&str]) -> String {
        self.with_all(place..place + 1, words)
    }

    /// Returns the line with other words in place of several words.
    fn with_all(&self, places: std::ops::Range<usize>, words: &[&str]) -> String {
        let before = self.words.iter().take(places.start).map(String::as_str);
        let after = self.words.iter().skip(places.end).map(String::as_str);
        typed(&before.chain(words.iter().copied()).chain(after).collect::<Vec<_>>())
    }
}

/// Returns an option as the command spells it, with its value; `None` if the word is correct or is no known option.
fn as_called(sub: &Command, word: &str) -> Option<String> {
    let (name, value) = word.split_once('=').map_or((word, None), |(name, value)| (name, Some(value)));
    let bare = name.trim_start_matches(['-', '–', '—', '−']);
    if bare.len() == name.len() || bare.chars().count() < 2 {
        return None;
    }
    let bare = bare.to_lowercase().replace('_', "-");
    let is_known = bare == "help"
        || options(sub).any(|arg| {
            arg.get_long() == Some(&bare)
                || arg.get_all_aliases().unwrap_or_default().contains(&bare.as_str())
        });
    let called = format!("--{bare}");
    (is_known && name != called)
        .then(|| value.map_or_else(|| called.clone(), |value| format!("{called}={value}")))
}

/// Quotation marks of word processors, which a shell treats as letters.
const CURLY: [char; 5] = ['“', '”', '„', '‘', '’'];

/// Returns a value without its enclosing curly quotes; `None` if it has none.
fn unquoted(word: &str) -> Option<String> {
    Some(word.strip_prefix(CURLY)?.strip_suffix(CURLY)?.to_owned())
}

/// Returns the options of a command.
fn options(sub: &Command) -> impl Iterator<Item = &Arg> {
    sub.get_arguments().filter(|arg| arg.get_long().is_some())
}

/// Returns `--harp` for `--harp <HARP>`.
fn name_of(argument: &str) -> &str {
    argument.split(' ').next().unwrap_or_default()
}

fn other_name(names: &[(&'static str, &'static str)], word: &str) -> Option<&'static str> {
    names.iter().find(|(name, _)| name.eq_ignore_ascii_case(word)).map(|&(_, meant)| meant)
}

fn example(option: &str) -> Option<&'static str> {
    other_name(&EXAMPLES, option)
}

/// Returns a line to type, quoted for a shell where necessary.
fn typed(words: &[&str]) -> String {
    let quoted = words.iter().map(|word| {
        let is_plain = |c: char| c.is_alphanumeric() || "-_./:,=+%#".contains(c);
        if word.contains("--") || word.chars().all(is_plain) {
            (*word).to_owned()
        } else {
            format!("\"{word}\"")
        }
    });
    std::iter::once("breathline".to_owned()).chain(quoted).join(" ")
}
