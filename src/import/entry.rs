//! The tunes in a file's list, and the user's choice of a tune or a part.

use std::{fmt, str::FromStr};

use crate::melody::key::Key;

/// A tune in the list of a file.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub struct TuneEntry {
    /// The tune's number: the number after `X:` in ABC, the track's number in MIDI, otherwise the tune's place in the
    /// file.
    pub number: u32,
    /// The tune's place among the tunes with the same number, counted from 1; `None` if no other tune has this number.
    pub nth: Option<u32>,
    /// The title of the tune.
    pub title: Option<String>,
    /// The key, if the file names one.
    pub key: Option<Key>,
}

impl TuneEntry {
    /// Returns the choice that selects this tune and no other: `12`, or `12-2` for the second tune with that number.
    pub fn choice(&self) -> TuneChoice {
        TuneChoice::Number(self.number, self.nth)
    }
}

/// The choice of a tune.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum TuneChoice {
    /// By its number and, if several tunes have this number, by its place among them, as in [`TuneEntry::nth`].
    Number(u32, Option<u32>),
    /// By a part of its title; case and accents do not matter.
    Title(String),
}

impl fmt::Display for TuneChoice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TuneChoice::Number(number, None) => write!(f, "{number}"),
            TuneChoice::Number(number, Some(nth)) => write!(f, "{number}-{nth}"),
            TuneChoice::Title(part) => f.write_str(part),
        }
    }
}

impl FromStr for TuneChoice {
    type Err = std::convert::Infallible;

    fn from_str(text: &str) -> Result<TuneChoice, Self::Err> {
        let text = text.trim();
        let (number, nth) = text.split_once('-').map_or((text, None), |(number, nth)| (number, Some(nth)));
        Ok(match (number.parse(), nth.map(str::parse)) {
            (Ok(number), None) => TuneChoice::Number(number, None),
            (Ok(number), Some(Ok(nth))) => TuneChoice::Number(number, Some(nth)),
            _ => TuneChoice::Title(text.to_owned()),
        })
    }
}

/// The choice of a part.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum AskedPart {
    /// By its number, counted from 1.
    Number(usize),
    /// By a part of its name; case and accents do not matter.
    Name(String),
}

impl From<usize> for AskedPart {
    fn from(number: usize) -> AskedPart {
        AskedPart::Number(number)
    }
}

impl FromStr for AskedPart {
    type Err = std::convert::Infallible;

    fn from_str(text: &str) -> Result<AskedPart, Self::Err> {
        let text = text.trim();
        Ok(text.parse().map_or_else(|_| AskedPart::Name(text.to_owned()), AskedPart::Number))
    }
}
