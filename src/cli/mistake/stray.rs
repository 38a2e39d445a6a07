//! Explains an unexpected word on the command line, such as a part of a file's name without quotes, or a harp without
//! its option.

use std::path::Path;

use breathline::{
    harp::{Harp, Tuning},
    melody::key::Key,
};

use super::{CURLY, Typed, options, typed};
use crate::cli::tunes;

/// The endings of files with typed tab.
const TEXTS: &[&str] = &["txt", "tab", "text", "md"];

/// Whether a word names a file, or ends like the name of a tune's file.
pub(super) fn is_file(word: &str) -> bool {
    Path::new(word).is_file() || tunes::is_tune(Path::new(word))
}

fn is_harp(word: &str) -> bool {
    ["all", "low", "high"].contains(&word) || Harp::parse(word, Tuning::built_in()).is_ok()
}

/// Whether the ending of a word is among the given endings of files.
fn ends_in(word: &str, endings: &[&str]) -> bool {
    let ending = Path::new(word).extension().map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| endings.contains(&ending.as_str()))
}

impl Typed<'_> {
    /// Says how to correct a line with one word too many, if the correction is known.
    pub(in crate::cli) fn stray(&self, word: &str) -> Option<String> {
        let (command, sub) = self.sub?;
        let at = self.place(word);
        let option = (command + 1..at).rev().find(|&place| self.words[place].starts_with('-'));
        let has = |name: &str| options(sub).any(|arg| arg.get_long() == Some(name));
        let is_typed = |name: &str| self.words.iter().any(|word| word.strip_prefix("--") == Some(name));
        let instead =
            |words: &[&str]| Some(format!("{word} has no place here; write `{}`", self.with(at, words)));
        if let Some(line) = self.with_quotes(command + 1, at).or_else(|| self.of_option(option?, at)) {
            return Some(line);
        }
        let bare = word.trim_start_matches('/');
        let has_value = self.words.get(at + 1).is_some_and(|next| !next.starts_with('-'));
        match sub.get_name() {
            "kit" if ["save", "keep", "remember"].contains(&word) => instead(&["--save"]),
            "sheet" if ends_in(word, &["pdf", "svg", "png", "html"]) => instead(&["-o", word]),
            "export"
                if ends_in(word, &["mid", "midi", "musicxml", "xml", "mxl", "abc"])
                    && !is_typed("output") =>
            {
                instead(&["-o", word])
            }
            "check" if ends_in(word, TEXTS) && !is_typed("tab") => instead(&["--tab", word]),
            "check" if is_file(word) && ends_in(&self.words[command + 1], TEXTS) && !is_typed("tab") => {
                let tab = self.words[command + 1].clone();
                let words = self.words.iter().map(String::as_str);
                let line: Vec<&str> = words
                    .enumerate()
                    .filter(|(place, _)| *place != at)
                    .map(|(place, typed)| if place == command + 1 { word } else { typed })
                    .chain(["--tab", &tab])
                    .collect();
                Some(format!("the tune comes first, the tab after --tab; write `{}`", typed(&line)))
            }
            _ if has(bare) && has_value => instead(&[&format!("--{bare}")]),
            "positions" if self.words[at - 1..=at].join(" ").parse::<Key>().is_ok() => {
                let key = self.words[at - 1..=at].join(" ");
                Some(format!(
                    "put quotes round several words; write `{}`",
                    self.with_all(at - 1..at + 1, &[&key])
                ))
            }
            "harp" => instead(&["--tuning", word]).filter(|_| Tuning::find(word, Tuning::built_in()).is_ok()),
            _ if has("harp") && !is_typed("harp") && is_harp(word) => instead(&["--harp", word]),
            _ if has("harps") && !is_typed("harps") && is_harp(word) => instead(&["--harps", word]),
            "tab" | "check" | "sheet" | "export" if is_file(word) => {
                let first = (command + 1..at).find(|&place| is_file(&self.words[place]))?;
                let words = self.words.iter().map(String::as_str).enumerate();
                let alone: Vec<&str> =
                    words.filter(|(place, _)| *place != first).map(|(_, word)| word).collect();
                let name = sub.get_name();
                Some(format!(
                    "`breathline {name}` takes one tune at a time; write `{}` for the other",
                    typed(&alone)
                ))
            }
            _ => None,
        }
    }

    /// Says how to quote notes that were typed as several words.
    pub(super) fn unquoted_notes(&self) -> Option<String> {
        let option = self.words.iter().position(|word| word == "--notes")?;
        let is_stray = |word: &String| !word.starts_with('-') && !is_file(word);
        self.words.get(option + 2).filter(|word| is_stray(word))?;
        self.of_option(option, option + 2)
    }

    /// Says how to quote a value that begins with a curly quote.
    pub(super) fn curly(&self, value: &str) -> Option<String> {
        let at = self.place(value);
        let option = at.checked_sub(1).filter(|&option| self.words[option].starts_with('-'))?;
        value.starts_with(CURLY).then(|| self.of_option(option, at))?
    }

    /// Says how to correct a value of several words that lacks its quotes or has curly quotes, or a list of harps that
    /// lacks its commas.
    fn of_option(&self, option: usize, at: usize) -> Option<String> {
        let name = self.words[option].trim_start_matches('-');
        // All words up to the next option belong to the value.
        let end = self.words[at..]
            .iter()
            .position(|word| word.starts_with('-'))
            .map_or(self.words.len(), |next| at + next);
        let all = self.words[option + 1..end].join(" ");
        let line = |value: &str| self.with_all(option + 1..end, &[value]);
        let with = |value: &str| Some(format!("put quotes round several words; write `{}`", line(value)));
        let plain = all.trim_matches(CURLY);
        if plain != all {
            return Some(format!("the terminal understands only straight quotes; write `{}`", line(plain)));
        }
        match name {
            "harps" | "harp" | "have" => self.of_harps(option, at),
            "key" | "song-key" if all.parse::<Key>().is_ok() => with(&all),
            "tune" | "part" | "tuning" | "notes" => with(&all),
            "position"
                if self.words[at].eq_ignore_ascii_case("harp")
                    || self.words[at].eq_ignore_ascii_case("position") =>
            {
                with(&all)
            }
            _ => None,
        }
    }

    /// Says how to correct a harp's name that lacks its quotes, or a list of harps that lacks its commas.
    fn of_harps(&self, option: usize, at: usize) -> Option<String> {
        let values = &self.words[option + 1..];
        let parts = |value: &str| {
            value.split(',').filter(|part| !part.is_empty()).map(str::to_owned).collect::<Vec<_>>()
        };
        let most = values.iter().take_while(|value| !value.starts_with('-')).count();
        let line = |values: usize, value: &str| self.with_all(option + 1..option + 1 + values, &[value]);
        let named =
            (2..=most).rev().map(|values| (values, self.words[option + 1..=option + values].join(" ")));
        if let Some((values, name)) = named.into_iter().find(|(_, name)| !name.contains(',') && is_harp(name))
        {
            return Some(format!("put quotes round several words; write `{}`", line(values, &name)));
        }
        let harps =
            values[..most].iter().take_while(|value| parts(value).iter().all(|part| is_harp(part))).count();
        let list = values[..harps].iter().flat_map(|value| parts(value)).collect::<Vec<_>>().join(",");
        (option + harps >= at)
            .then(|| format!("a list has commas and no spaces; write `{}`", line(harps, &list)))
    }

    /// Says how to correct a file's name that contains spaces and lacks its quotes.
    fn with_quotes(&self, first: usize, at: usize) -> Option<String> {
        /// An upper bound on the words in a file's name.
        const WORDS: usize = 12;
        let whole = |start: usize, end: usize| self.words[start..end].join(" ");
        let starts = (first..=at).rev().take(WORDS).take_while(|&start| !self.words[start].starts_with('-'));
        let ends = || (at + 1..=self.words.len()).take(WORDS);
        let mut spans = starts
            .flat_map(|start| ends().map(move |end| (start, end)))
            .filter(|(start, end)| end - start > 1);
        let found = spans.clone().find(|&(start, end)| Path::new(&whole(start, end)).is_file());
        // If words without an ending are followed by a word with the ending of a tune's file, and none of them names a
        // file, they are parts of one name.
        let halves = |&(start, end): &(usize, usize)| {
            let words = &self.words[start..end];
            words.iter().all(|word| !Path::new(word).exists() && !word.starts_with('-'))
                && words
                    .iter()
                    .rev()
                    .skip(1)
                    .all(|word| Path::new(word).extension().is_none() && !is_harp(word))
                && words.last().is_some_and(|word| is_file(word))
        };
        let (start, end) = found.or_else(|| spans.find(halves))?;
        Some(format!("put quotes round the name: `{}`", self.with_all(start..end, &[&whole(start, end)])))
    }
}
