//! Pins in the form that people write: `3:2=-2` pins draw 2 to the note at bar 3, beat 2.
//!
//! Bars and beats are counted as on every page: from 1, with a pickup as bar 0; a beat is the unit of the time
//! signature. The hole may be written in any notation of [`crate::tab::read`]. A file of pins has one pin on each line;
//! blank lines and any text after `#` are ignored. If two pins have the same place, the later one wins.

use std::{fmt, str::FromStr};

use itertools::Itertools;

use crate::{
    harp::Action,
    melody::Melody,
    search::{Approach, Pin, Request, Wanted, pin, ways},
    tab::{Notation, read},
    time::Beats,
};

/// A pin, given by its place in the music.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct WrittenPin {
    /// The number of the bar.
    pub bar: u32,
    /// The beat in the bar, in the unit of the time signature; 1 is the first.
    pub beat: Beats,
    /// The action.
    pub action: Action,
}

/// The holes on which a row of a ranking could play a note.
#[derive(Clone, PartialEq, Debug)]
pub struct Holes {
    /// The index of the note.
    pub note: usize,
    /// The effort of the row without any pin.
    pub free: u64,
    /// The holes, lowest first.
    pub holes: Vec<Hole>,
}

/// A hole on which a note can be played.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Hole {
    /// The pin that fixes the note to this hole.
    pub pin: WrittenPin,
    /// The effort of the row with this pin and the request's other pins, when the search chooses the actions of all
    /// other notes.
    pub effort: u64,
}

/// The reason why a pin cannot be used.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub enum PinError {
    /// The text is not a pin.
    NotAPin {
        /// The text.
        text: String,
        /// The line, counted from 1, if the text is in a file of pins.
        line: Option<usize>,
    },
    /// The tune has no such bar, or the bar has no notes.
    NoSuchBar {
        /// The bar.
        bar: u32,
        /// The first and the last bar with notes.
        bars: (u32, u32),
    },
    /// No note starts at that place.
    NoNote {
        /// The bar.
        bar: u32,
        /// The beat.
        beat: Beats,
        /// The beats on which notes of the bar start.
        starts: Vec<Beats>,
    },
}

impl WrittenPin {
    /// Returns the pin that fixes a note of a melody to an action; `None` for a grace note, which has no beat of its
    /// own, and for an index without a note.
    pub fn to(melody: &Melody, note: usize, action: Action) -> Option<WrittenPin> {
        let place = melody.notes.get(note).filter(|note| !note.grace).map(|_| melody.place(note, 1))?;
        Some(WrittenPin { bar: place.bar, beat: place.beat.rounded(), action })
    }

    /// Whether two pins have the same place.
    pub fn is_beside(&self, other: &WrittenPin) -> bool {
        (self.bar, self.beat.rounded()) == (other.bar, other.beat.rounded())
    }
}

impl FromStr for WrittenPin {
    type Err = PinError;

    fn from_str(text: &str) -> Result<WrittenPin, PinError> {
        pin(text).ok_or_else(|| PinError::NotAPin { text: text.trim().to_owned(), line: None })
    }
}

fn pin(text: &str) -> Option<WrittenPin> {
    let (place, hole) = text.split_once('=')?;
    let (bar, beat) = place.split_once(':')?;
    let typed = read::read(hole, None).ok().filter(|typed| typed.oddities.is_empty())?;
    let [note] = typed.notes.as_slice() else { return None };
    Some(WrittenPin { bar: bar.trim().parse().ok()?, beat: Beats::read(beat)?, action: note.action })
}

/// Writes a pin in the form in which it is read: `3:2 1/2=-2`.
impl fmt::Display for WrittenPin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}={}", self.bar, self.beat.rounded(), Notation::default().write(self.action))
    }
}

/// Reads a file of pins.
///
/// # Errors
///
/// Returns [`PinError::NotAPin`] for the first line that is not a pin.
pub fn read_file(text: &str) -> Result<Vec<WrittenPin>, PinError> {
    let lines = text.lines().map(|line| line.split_once('#').map_or(line, |(before, _)| before)).enumerate();
    let pins = lines.filter(|(_, line)| !line.trim().is_empty()).map(|(index, line)| {
        pin(line).ok_or_else(|| PinError::NotAPin { text: line.trim().to_owned(), line: Some(index + 1) })
    });
    pins.collect()
}

/// Writes a file of pins for a tune.
pub fn write_file(title: &str, pins: &[WrittenPin]) -> String {
    let mut text = format!("# breathline: the pinned holes of {title}, as BAR:BEAT=HOLE\n");
    for pin in pins {
        text += &format!("{pin}\n");
    }
    text
}

/// Returns the last pin at each place, in the order of the places.
pub fn latest(pins: &[WrittenPin]) -> Vec<WrittenPin> {
    let mut kept: Vec<WrittenPin> = Vec::new();
    for pin in pins {
        kept.retain(|earlier| !earlier.is_beside(pin));
        kept.push(*pin);
    }
    kept.sort_by_key(|pin| (pin.bar, pin.beat));
    kept
}

/// Finds the notes of pins; in a bar that is played more than once, a pin applies each time. Returns the pins in the
/// order of the notes.
///
/// # Errors
///
/// Returns a [`PinError`] for the first pin that matches no note.
pub fn find(pins: &[WrittenPin], melody: &Melody) -> Result<Vec<Pin>, PinError> {
    let main = melody.notes.iter().enumerate().filter(|(_, note)| !note.grace);
    let places: Vec<(usize, u32, Beats)> = main
        .map(|(note, _)| (note, melody.place(note, 1)))
        .map(|(note, place)| (note, place.bar, place.beat.rounded()))
        .collect();
    let mut found: Vec<Pin> = Vec::new();
    for pin in pins {
        let in_bar = || places.iter().filter(|(_, bar, _)| *bar == pin.bar);
        let here: Vec<usize> =
            in_bar().filter(|(.., beat)| *beat == pin.beat.rounded()).map(|&(note, ..)| note).collect();
        if here.is_empty() {
            let starts: Vec<Beats> = in_bar().map(|&(.., beat)| beat).collect();
            return Err(if starts.is_empty() {
                let bars = places.iter().map(|&(_, bar, _)| bar);
                let bars = bars.fold((u32::MAX, 0), |(low, high), bar| (low.min(bar), high.max(bar)));
                PinError::NoSuchBar { bar: pin.bar, bars }
            } else {
                PinError::NoNote { bar: pin.bar, beat: pin.beat, starts }
            });
        }
        found.retain(|earlier| !here.contains(&earlier.note));
        found.extend(here.into_iter().map(|note| Pin { note, action: pin.action }));
    }
    found.sort_unstable();
    Ok(found)
}

/// Prices the holes on which a row could play a note, without those that conflict with the request's other pins.
/// Returns `None` for a grace note, which cannot be pinned, and for an index without a note.
pub fn holes(request: &Request, wanted: &Wanted, row: &Approach, note: usize) -> Option<Holes> {
    let melody = request.melody;
    let effort = |pins: &[Pin]| {
        let row = ways::alike(&Request { pins, ..request.clone() }, wanted, row)?;
        Some(row.playing.effort.total())
    };
    let priced = |action: Action| {
        let pin = WrittenPin::to(melody, note, action)?;
        let here = find(&[pin], melody).ok()?;
        let elsewhere = |pin: &&Pin| !here.iter().any(|known| known.note == pin.note);
        let mut pins: Vec<Pin> = request.pins.iter().filter(elsewhere).copied().collect();
        pins.extend(here.iter());
        pins.sort_unstable();
        Some(Hole { pin, effort: effort(&pins)? })
    };
    melody.notes.get(note).filter(|note| !note.grace)?;
    let actions: Vec<Action> = pin::holes(request, row, note).sorted().collect();
    Some(Holes { note, free: effort(&[])?, holes: actions.into_iter().filter_map(priced).collect() })
}

impl fmt::Display for PinError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PinError::NotAPin { text, line } => {
                if let Some(line) = line {
                    write!(f, "line {line}: ")?;
                }
                let text: String = text.chars().take(40).collect();
                write!(f, "`{text}` is not a pin; write BAR:BEAT=HOLE, as in 3:2=-2 for draw 2")
            }
            PinError::NoSuchBar { bar, bars: (first, last) } => {
                let pickup = if *first == 0 { " (the pickup)" } else { "" };
                write!(
                    f,
                    "there is no note in bar {bar}; the tune has notes in bars {first}{pickup} to {last}"
                )
            }
            PinError::NoNote { bar, beat, starts } => {
                let starts = starts.iter().dedup().join(", ");
                write!(f, "no note starts at bar {bar} beat {beat}; notes of this bar start at beat {starts}")
            }
        }
    }
}

impl std::error::Error for PinError {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        harp::{Harp, Tuning},
        import,
        search::{Player, search_for},
    };

    fn tune(abc: &str) -> Melody {
        let text = format!("X:1\nL:1/8\nM:4/4\nK:C\n{abc}\n");
        import::import(text.as_bytes(), &import::ImportOptions::default()).unwrap().melody
    }

    #[test]
    fn a_pin_is_read_in_any_notation_and_written_in_one() {
        for text in ["3:2=-2", " 3 : 2 = -2 ", "3:2=2D", "3:2=(2)", "3:2=②", "3:2.0=2 draw"] {
            let pin: WrittenPin = text.parse().unwrap();
            assert_eq!((pin.bar, pin.beat, pin.action), (3, Beats::quarters(2), Action::draw(2)), "{text}");
        }
        for text in ["3:2 1/2=-3''", "0:4=6o", "12:1/3=10"] {
            assert_eq!(text.parse::<WrittenPin>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn what_is_no_pin_is_told_how_to_write_one() {
        for text in ["", "3", "3:2", "3=4", "3:2=", "3:2=4 5", "3:2=11", "x:2=4", "3:0x=4", "3:2=do"] {
            let error = text.parse::<WrittenPin>().unwrap_err().to_string();
            assert_eq!(error, format!("`{text}` is not a pin; write BAR:BEAT=HOLE, as in 3:2=-2 for draw 2"));
        }
        let error = read_file("# mine\n3:2=4\n\n3-2=4 # what\n").unwrap_err().to_string();
        assert!(error.starts_with("line 4: `3-2=4` is not a pin"), "{error}");
    }

    #[test]
    fn pins_find_their_notes_and_the_later_one_counts() {
        let melody = tune("CDEF GABc|{d}c2B2 A4|");
        let pins = read_file("2:1=4\n1:1 1/2=-1\n2:1=-3\n").unwrap();
        let found = find(&pins, &melody).unwrap();
        // The grace note before bar 2 cannot be pinned.
        let wanted = [(1, Action::draw(1)), (9, Action::draw(3))];
        assert_eq!(found, wanted.map(|(note, action)| Pin { note, action }));
        let error = |text: &str| find(&[text.parse().unwrap()], &melody).unwrap_err().to_string();
        assert_eq!(error("7:1=4"), "there is no note in bar 7; the tune has notes in bars 1 to 2");
        assert_eq!(error("2:4=4"), "no note starts at bar 2 beat 4; notes of this bar start at beat 1, 2, 3");
    }

    /// The price of a hole equals the result of a search with its pin; one of the holes costs the same as the row
    /// without pins, and a grace note has no holes.
    #[test]
    fn the_holes_for_a_note_cost_what_the_search_finds_with_them() {
        let melody = tune("GABG cedc|{d}G4 E4|");
        let harps = [Harp::parse("C", Tuning::built_in()).unwrap()];
        let player = Player::default();
        let request = Request {
            melody: &melody,
            key: "C".parse().unwrap(),
            harps: &harps,
            technique: player.technique,
            weights: &player.weights,
            any_key: false,
            pins: &[],
        };
        let wanted = Wanted { octave: Some(0), ..Wanted::first(1) };
        let row = search_for(&request, &wanted).approaches.remove(0);
        let found = holes(&request, &wanted, &row, 0).unwrap();
        // G4 is draw 2 or blow 3 on a C harp.
        let actions: Vec<Action> = found.holes.iter().map(|hole| hole.pin.action).collect();
        assert_eq!(actions, [Action::draw(2), Action::blow(3)]);
        assert_eq!(found.free, row.playing.effort.total());
        for hole in &found.holes {
            let pins = find(&[hole.pin], &melody).unwrap();
            let pinned =
                search_for(&Request { pins: &pins, ..request.clone() }, &wanted).approaches.remove(0);
            assert_eq!(hole.effort, pinned.playing.effort.total());
        }
        assert!(found.holes.iter().any(|hole| hole.effort == found.free));
        assert_eq!(holes(&request, &wanted, &row, 8), None, "a grace note");
    }

    #[test]
    fn a_file_of_pins_is_read_back_as_it_was_written() {
        let pins = read_file("0:4=-6\n12:3 1/2=-3''\n5:2=9'\n").unwrap();
        assert_eq!(read_file(&write_file("A tune # 2", &pins)), Ok(pins));
    }
}
