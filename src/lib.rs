//! Finds the harmonica, the position and the tab that suit a tune, by analysing the tune itself.
//!
//! The library takes a melody, tries diatonic harmonicas ("harps") of every key in every position, and ranks the
//! results by missing notes, bends, changes of breath, jumps and register. The steps:
//!
//! 1. [`import`] reads the bytes of a MIDI, MusicXML or ABC file, or typed notes, into parts and picks the
//!    [`melody::Melody`] among them; an [`import::Book`] lists the tunes of a file with several. A melody carries its
//!    chord symbols and signatures; [`search::Approach::moved`] moves notes and chords together into the harp's key.
//! 2. [`melody::key`] finds the tonic and mode of the melody.
//! 3. [`harp`] derives every way to sound a pitch on a harp from the reeds of its tuning.
//! 4. [`search`] finds the playing of least effort for each harp, position and octave, and ranks these playings.
//! 5. [`tab`] writes the actions of a playing in the conventions of the trade.
//! 6. [`compare`] compares a given choice, or a typed tab, with the best approach.
//! 7. [`book`] handles many tunes at once: which of them suit a player, which to learn next, and which harps to carry.
//! 8. [`notation`] decides how a tune is written: note values, ties, tuplets, beams, accidentals.
//! 9. [`export`] writes the tune, as played on the harp, for notation programs and players: MusicXML, ABC and MIDI.
//! 10. [`pages`] words the answers, one page for each command (`check` is [`pages::lesson`] for a tab,
//!     [`pages::choice`] for a harp); [`render`] draws the pages as text, Markdown and HTML; [`json`] gives the answers
//!     as data; `sheet` draws a tune on paper.
//! 11. [`question`] performs these steps for one tune and one player, for both the command and the page in a browser.
//!
//! # Words
//!
//! | word | meaning |
//! |---|---|
//! | harp | a harmonica in one key, one register (low, standard, high) and one tuning |
//! | tuning | the pitches of the reeds, hole by hole; Richter is the usual one |
//! | hole, blow, draw | the place on the harp, and the direction of the breath |
//! | bend | a note pulled down by semitones; overblows and overdraws are the raised notes of the other reed |
//! | action | one way to sound one pitch: hole, breath and bend |
//! | position | the relation of the tune's tonic to the key of the harp: p - 1 fifths above this key in position p |
//! | technique | what the player can do: none, draw bends, all bends, overbends |
//! | effort | what the search minimises: whole points, the sum of named terms |
//! | playing | one action (or none) for each note of a melody |
//! | approach | harp, position and octave: one row of the ranking |
//!
//! # From a file's bytes to tab
//!
//! ```
//! use breathline::{harp::{Harp, Technique, Tuning}, import, melody::key, search, tab::Notation};
//!
//! let bytes = include_bytes!("../corpus/amazing-grace.musicxml");
//! let imported = import::import(bytes, &import::ImportOptions::default())?;
//! let harps = Harp::standard_set(&Tuning::richter());
//! let weights = search::Weights::default();
//! let ranking = search::search(&search::Request {
//!     melody: &imported.melody,
//!     key: key::find(&imported.melody).key,
//!     harps: &harps,
//!     technique: Technique::None,
//!     weights: &weights,
//!     any_key: false,
//!     pins: &[],
//! });
//! let best = ranking.best().ok_or("no harp reaches the tune")?;
//! assert!(best.counts.is_full());
//! let actions = best.playing.notes.iter().filter_map(|played| played.action);
//! let tab: Vec<String> = actions.map(|action| Notation::default().write(action)).collect();
//! assert_eq!(tab.len(), imported.melody.notes.len());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! A new format belongs in [`export`] if a program reads the tune, in [`render`] if a person reads the answer, and in
//! `sheet` if it is drawn music. The command names the format's file ending.
//!
//! # Limits
//!
//! The library does no I/O, reads no clock, environment or randomness, and never prints: only the command line does.
//! The library does not listen to recordings, and it handles one line of melody, not chords played on the harp.

#![forbid(unsafe_code)]
// The library must not panic on a musician's file, and only the command line prints. Tests may panic and print.
#![warn(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout, clippy::print_stderr)]
#![warn(unreachable_pub)]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout))]

// The modules in reading order: modules without dependencies come first.
pub mod clean;
pub mod near;
pub mod pitch;
pub mod time;
pub mod mode;
pub mod data;
pub mod melody;
pub mod import;
pub mod harp;
pub mod search;
pub mod tab;
pub mod pins;
pub mod compare;
pub mod book;
pub mod notation;
pub mod export;
pub mod pages;
pub mod render;
pub mod json;
pub mod question;
#[cfg(feature = "sheet")]
pub mod sheet;
