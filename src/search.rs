//! The search: finds, for each harp and each octave that fits, the playing with the least effort. The optimum is exact.
//!
//! 1. An *approach* is a harp, a position and an octave. If the key of the tune is fixed, each harp has one position;
//!    if the key is free, each harp offers all twelve, and the tune is transposed to fit.
//! 2. For each approach, [`path`] finds the playing of least effort: one action for every note that the harp and the
//!    player's technique can sound. [`effort`] defines the effort.
//! 3. [`rank`] orders the approaches by least effort, then by named tie-breaks, so that the answer does not depend on
//!    the order in which harps are named. A missing note has a price ([`heard`]), so no other rule comes before the
//!    effort.
//! 4. [`shortlist`] saves work on approaches that rank below the wanted rows.
//! 5. [`ways`] adds a few alternatives to the winner: with every note, without bends, or lower on the harp.
//! 6. [`pin`] fixes the actions of some notes; the search solves the rest of the tune around them.
//! 7. If the winner lacks notes, the tune can be adapted to it ([`mod@adapt`]): the adaptation changes as little of the
//!    tune as possible.
//!
//! The search makes the musical decisions; it produces no text.

pub mod term;
pub mod effort;
pub mod heard;
pub mod breath;
pub mod edits;
pub mod player;
pub mod style;
pub mod pin;
pub mod path;
pub mod price;
pub mod rank;
pub mod shortlist;
mod steps;
pub mod ways;
pub mod adapt;
mod levels;
pub mod hard;
pub mod air;

use crate::{
    harp::{Bend, Breath, Harp, Position, Technique},
    melody::{Melody, Note, key::Key, transposed_sharps},
    pitch::{Interval, Pitch, PitchClass, Spelling},
    time::Beats,
};
pub use adapt::{Change, adapt};
pub use edits::EditWeights;
pub use effort::Weights;
pub use levels::{Level, levels};
pub use path::{Played, Playing};
pub use pin::Pin;
pub use player::Player;
pub use rank::{Ranking, Rival, Twin};
pub use shortlist::{Wanted, search_for};
pub use style::Style;
pub use term::{Effort, Term};
pub use ways::{Alternative, Free};

/// The input of a search.
#[derive(Clone, Debug)]
pub struct Request<'a> {
    /// The tune.
    pub melody: &'a Melody,
    /// The tune's key; its tonic names the positions.
    pub key: Key,
    /// The harps to try.
    pub harps: &'a [Harp],
    /// The player's technique.
    pub technique: Technique,
    /// The player's prices for each kind of difficulty.
    pub weights: &'a Weights,
    /// Whether the tune may be played in another key.
    pub any_key: bool,
    /// The notes whose action is fixed, in the order of the tune; at most one pin for each note. Every row keeps all
    /// the pins.
    pub pins: &'a [Pin],
}

impl Request<'_> {
    /// Whether two approaches of this request can have the same tab. They cannot if the key is fixed and all harps have
    /// the same tuning but different keys: the same holes would sound in another key.
    pub fn may_share_tabs(&self) -> bool {
        let alike = |harp: &Harp, other: &Harp| harp.tuning() != other.tuning() || harp.key() == other.key();
        let others = |at: usize| self.harps[at + 1..].iter();
        let mut harps = self.harps.iter().enumerate();
        self.any_key || harps.any(|(at, harp)| others(at).any(|other| harp != other && alike(harp, other)))
    }
}

/// One way to play the tune: a row of the ranking.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Approach<'a> {
    /// The harp.
    pub harp: &'a Harp,
    /// The position of the tune's tonic on the harp.
    pub position: Position,
    /// The octaves by which the tune is moved.
    pub octave: i8,
    /// The semitones by which the tune is transposed in addition, -5 to 6; zero when the key is fixed.
    pub transposed: Interval,
    /// The tonic of the tune as this approach plays it.
    pub tonic: PitchClass,
    /// The technique that the playing uses, which is at most the player's technique. Notes that need a harder technique
    /// are left out.
    pub technique: Technique,
    /// The action and effort of each note.
    pub playing: Playing,
    /// The numbers of notes, bends, breath changes and more in the playing.
    pub counts: Counts,
    /// The changes of the tune that make it playable, in order; empty unless the caller asked for them with
    /// [`adapt()`].
    pub changes: Vec<Change>,
}

impl Approach<'_> {
    /// Returns the interval by which the tune is moved: octaves and transposition together.
    pub fn shift(&self) -> Interval {
        Interval(Interval::octaves(self.octave).0 + self.transposed.0)
    }

    /// Returns the indices of the notes that are left out although the player's technique could sound them: bending
    /// them would cost more than leaving them out.
    pub fn spared(&self, request: &Request) -> Vec<usize> {
        let reach = path::Reach::new(self.harp, request.technique);
        let notes = request.melody.notes.iter().zip(&self.playing.notes).enumerate();
        let left_out = notes.filter(|&(note, (_, played))| played.action.is_none() && !self.is_changed(note));
        let can_sound = left_out.filter(|(_, (note, _))| !reach.ways(note.pitch, self.shift()).is_empty());
        can_sound.map(|(note, _)| note).collect()
    }

    /// Whether the other approach uses the same action for every note; the two may sound at different pitches.
    pub fn has_same_tab(&self, other: &Approach) -> bool {
        let (ours, theirs) = (self.playing.notes.iter(), other.playing.notes.iter());
        ours.map(|note| note.action).eq(theirs.map(|note| note.action))
    }

    /// Returns the spelling of the pitch that the note at this index sounds; `None` if the note is left out or moved
    /// out of MIDI's range. Staff, tab, chart, export and JSON all use this spelling.
    pub fn sounding(&self, melody: &Melody, note: usize) -> Option<Spelling> {
        let written = melody.notes.get(note)?;
        match self.changes.binary_search_by_key(&note, |change| change.note) {
            Ok(change) => Some(melody.renamed(written, self.changes[change].to?, self.transposed)),
            Err(_) => self.wanted(melody, written),
        }
    }

    /// Returns the spelling of the pitch that a note should sound, before any change.
    pub fn wanted(&self, melody: &Melody, note: &Note) -> Option<Spelling> {
        Some(melody.renamed(note, note.pitch.transposed(self.shift())?, self.transposed))
    }

    /// Returns the name of the pitch that a note should sound; "?" if the transposition takes the pitch out of MIDI's
    /// range.
    pub fn wanted_name(&self, melody: &Melody, note: &Note) -> String {
        self.wanted(melody, note).map_or_else(|| "?".to_owned(), |name| name.to_string())
    }

    /// Returns the indices of the notes that are not sounded, in order, except those left out by a change.
    pub fn missing(&self) -> impl Iterator<Item = usize> {
        let silent = self.playing.notes.iter().enumerate().filter(|(_, played)| played.action.is_none());
        silent.map(|(note, _)| note).filter(|&note| !self.is_changed(note))
    }

    /// Spells a pitch at a point in time, in the key that the tune has in this approach.
    pub fn spelled(&self, melody: &Melody, pitch: Pitch, at: Beats) -> Spelling {
        Spelling::in_key(pitch, transposed_sharps(melody.sharps_at(at), self.transposed))
    }

    /// Returns the tune as it sounds: transposed and respelled, with its signatures and chords. Changed notes have
    /// their new pitch; notes that are left out keep the pitch that they would have had.
    pub fn moved(&self, melody: &Melody) -> Melody {
        let mut moved = melody.clone();
        for (index, note) in moved.notes.iter_mut().enumerate() {
            let name = self.sounding(melody, index).or_else(|| self.wanted(melody, &melody.notes[index]));
            if let Some((name, pitch)) = name.and_then(|name| Some((name, name.pitch()?))) {
                (note.spelling, note.pitch) = (Some(name), pitch);
            }
        }
        for chord in &mut moved.chords {
            *chord = melody.moved_chord(chord, self.transposed);
        }
        for signature in &mut moved.signatures {
            signature.sharps = transposed_sharps(signature.sharps, self.transposed);
        }
        moved
    }

    /// Whether the note at this index was changed to make it playable.
    pub fn is_changed(&self, note: usize) -> bool {
        self.changes.binary_search_by_key(&note, |change| change.note).is_ok()
    }
}

/// Numbers that describe a playing.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub struct Counts {
    /// Notes of the tune, grace notes included.
    pub notes: u32,
    /// Notes that the playing sounds.
    pub playable: u32,
    /// Missing notes that are not grace notes.
    pub missing: u32,
    /// Missing grace notes.
    pub missing_graces: u32,
    /// Draw notes bent down.
    pub draw_bends: u32,
    /// Blow notes bent down.
    pub blow_bends: u32,
    /// Overblown notes.
    pub overblows: u32,
    /// Overdrawn notes.
    pub overdraws: u32,
    /// Changes of breath direction from note to note.
    pub breath_changes: u32,
    /// Awkward changes of breath direction.
    pub awkward: u32,
    /// Lowest and highest hole; `None` if no note is sounded.
    pub holes: Option<(u8, u8)>,
    /// The number of notes on holes 1 to 3, on holes 4 to 6, and on holes 7 to 10.
    pub by_region: [u32; 3],
    /// Notes on holes 8 to 10.
    pub high: u32,
    /// Notes in which the lungs reach a limit.
    pub limits: u32,
}

/// A part of the harp by its holes: low, middle or high.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Region {
    /// Holes 1 to 3.
    Low,
    /// Holes 4 to 6.
    Middle,
    /// Holes 7 to 10.
    High,
}

impl Region {
    /// The three regions, from the bottom up.
    pub const ALL: [Region; 3] = [Region::Low, Region::Middle, Region::High];

    /// Returns the region's word on the command line and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Region::Low => "low",
            Region::Middle => "middle",
            Region::High => "high",
        }
    }
}

impl Counts {
    /// Returns the number of bent and overbent notes.
    pub fn bends(&self) -> u32 {
        self.draw_bends + self.blow_bends + self.overblows + self.overdraws
    }

    /// Whether more than a third of the notes lie on holes 8 to 10, where reeds are stiff and the sound is thin.
    pub fn lies_high(&self) -> bool {
        self.high * 3 > self.playable
    }

    /// Whether at most a quarter of the notes lie on holes 8 to 10.
    pub fn lies_low(&self) -> bool {
        self.high * 4 <= self.playable
    }

    /// Returns the region with the most notes; among equal regions the middle one wins, then the low one.
    pub fn region(&self) -> Region {
        let order = [Region::High, Region::Low, Region::Middle];
        // `max_by_key` takes the last of equal regions.
        order.into_iter().max_by_key(|&region| self.by_region[region as usize]).unwrap_or(Region::Middle)
    }

    /// Whether at most grace notes are missing.
    pub fn is_full(&self) -> bool {
        self.missing == 0
    }

    fn of(melody: &Melody, playing: &Playing) -> Counts {
        let mut counts = Counts { notes: playing.notes.len() as u32, ..Counts::default() };
        for (note, played) in melody.notes.iter().zip(&playing.notes) {
            counts.add(note.grace, played);
        }
        counts
    }

    fn add(&mut self, grace: bool, played: &Played) {
        let Some(action) = played.action else {
            if grace {
                self.missing_graces += 1;
            } else {
                self.missing += 1;
            }
            return;
        };
        self.playable += 1;
        match (action.bend, action.breath) {
            (Bend::None, _) => {}
            (Bend::Down(_), Breath::Draw) => self.draw_bends += 1,
            (Bend::Down(_), Breath::Blow) => self.blow_bends += 1,
            (Bend::Over, Breath::Blow) => self.overblows += 1,
            (Bend::Over, Breath::Draw) => self.overdraws += 1,
        }
        self.breath_changes += u32::from(played.breath_change);
        self.awkward += u32::from(played.awkward);
        self.limits += u32::from(played.limit.is_some());
        let region = match action.hole {
            0..=3 => Region::Low,
            4..=6 => Region::Middle,
            _ => Region::High,
        };
        self.by_region[region as usize] += 1;
        self.high += u32::from(action.hole >= 8);
        let (low, high) = self.holes.unwrap_or((action.hole, action.hole));
        self.holes = Some((low.min(action.hole), high.max(action.hole)));
    }
}

/// Tries and ranks every approach.
///
/// Leaves out approaches that sound only grace notes or no note, so the ranking may be empty. If only some rows are
/// wanted, [`search_for`] is faster and takes less memory.
pub fn search<'a>(request: &Request<'a>) -> Ranking<'a> {
    search_for(request, &Wanted::ALL)
}

/// Lists the transpositions to try: no transposition if the key is fixed; otherwise one for each of the twelve keys,
/// from five semitones down to six up.
fn transpositions(request: &Request) -> impl Iterator<Item = Interval> + use<> {
    let all = if request.any_key { -5..=6 } else { 0..=0 };
    all.map(Interval)
}

/// Lists the octave shifts after which the ranges of the tune and of the harp overlap.
fn octaves(melody: &Melody, harp: &Harp, transposed: Interval) -> impl Iterator<Item = i8> + use<> {
    let tune = melody.range();
    let reeds = harp.actions().first().zip(harp.actions().last()).map(|(low, high)| (low.0, high.0));
    // Ten octaves either way cover the MIDI range.
    (-10..=10).filter(move |&octave| {
        let shift = i16::from(octave) * 12 + transposed.0;
        tune.zip(reeds).is_some_and(|((tune_low, tune_high), (harp_low, harp_high))| {
            i16::from(tune_low.midi()) + shift <= i16::from(harp_high.midi())
                && i16::from(harp_low.midi()) <= i16::from(tune_high.midi()) + shift
        })
    })
}
