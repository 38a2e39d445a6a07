//! The search: for each harp and each octave that fits, the playing of least effort, exactly.
//!
//! 1. An *approach* is a harp, a position and an octave. With the key of the tune fixed, each harp is one
//!    position; with the key free, each harp offers all twelve, and the tune is transposed to fit.
//! 2. For each approach, [`path`] finds the playing of least effort: one action for every note that the harp and
//!    the player's technique can sound. [`effort`] says what the effort is made of.
//! 3. [`rank`] puts the approaches in order: least effort, then named tie-breaks, so that the answer does not depend on the
//!    order in which harps are named. A missing note has a price ([`heard`]), so there is no rule before it.
//! 4. [`shortlist`] spares the work for approaches that come after the rows that are wanted.
//! 5. [`ways`] adds a few other ways worth knowing: every note, no bends, lower on the harp.
//! 6. What then lacks notes can be adapted ([`mod@adapt`]): the tune is changed as little as possible.
//!
//! The search decides; it holds no text.

pub mod term;
pub mod effort;
pub mod heard;
pub mod breath;
pub mod edits;
pub mod player;
pub mod style;
pub mod path;
pub mod price;
pub mod rank;
pub mod shortlist;
pub mod ways;
pub mod adapt;
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
pub use path::{Played, Playing};
pub use player::Player;
pub use rank::{Ranking, Rival};
pub use shortlist::{Wanted, search_for};
pub use style::Style;
pub use term::{Effort, Term};
pub use ways::Alternative;

/// What to search for.
#[derive(Clone, Debug)]
pub struct Request<'a> {
    /// The tune.
    pub melody: &'a Melody,
    /// Its key; the tonic names the positions.
    pub key: Key,
    /// The harps to try.
    pub harps: &'a [Harp],
    /// What the player can do.
    pub technique: Technique,
    /// What the player finds hard.
    pub weights: &'a Weights,
    /// Whether the tune may be played in another key.
    pub any_key: bool,
}

impl Request<'_> {
    /// Whether two approaches can have the same tab. With the key fixed and harps of one tuning whose keys differ they
    /// cannot: there the same holes sound in another key.
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
    /// The position that the tune's tonic has on it.
    pub position: Position,
    /// By how many octaves the tune is moved.
    pub octave: i8,
    /// By how many semitones it is transposed besides, -5 to 6; zero when the key is fixed.
    pub transposed: Interval,
    /// The tonic at which it sounds.
    pub tonic: PitchClass,
    /// The technique that its playing allows itself: no more than the player's. What only more would sound is left out.
    pub technique: Technique,
    /// What is played.
    pub playing: Playing,
    /// What is remarkable about the playing, counted.
    pub counts: Counts,
    /// What was changed in the tune so that it can be played, in order; empty unless it was asked for with [`adapt()`].
    pub changes: Vec<Change>,
}

impl Approach<'_> {
    /// The whole move of the tune, octaves and transposition together.
    pub fn shift(&self) -> Interval {
        Interval(Interval::octaves(self.octave).0 + self.transposed.0)
    }

    /// The notes, by index, that are left out though the player's technique would sound them: their bends cost more than the
    /// notes are worth.
    pub fn spared(&self, request: &Request) -> Vec<usize> {
        let reach = path::Reach::new(self.harp, request.technique);
        let notes = request.melody.notes.iter().zip(&self.playing.notes).enumerate();
        let left_out = notes.filter(|&(note, (_, played))| played.action.is_none() && !self.is_changed(note));
        let can_sound = left_out.filter(|(_, (note, _))| !reach.ways(note.pitch, self.shift()).is_empty());
        can_sound.map(|(note, _)| note).collect()
    }

    /// Whether the other is played with the same actions, note for note; what sounds may be higher or lower.
    pub fn has_same_tab(&self, other: &Approach) -> bool {
        let (ours, theirs) = (self.playing.notes.iter(), other.playing.notes.iter());
        ours.map(|note| note.action).eq(theirs.map(|note| note.action))
    }

    /// The name of what a note, given by its index, sounds; none for one that is left out, or moved out of MIDI's range.
    /// This is the one spelling of what is played: staff, tab, chart, export and JSON have it from here.
    pub fn sounding(&self, melody: &Melody, note: usize) -> Option<Spelling> {
        let written = melody.notes.get(note)?;
        match self.changes.binary_search_by_key(&note, |change| change.note) {
            Ok(change) => Some(melody.renamed(written, self.changes[change].to?, self.transposed)),
            Err(_) => self.wanted(melody, written),
        }
    }

    /// The name of what a note should sound, before it was changed.
    pub fn wanted(&self, melody: &Melody, note: &Note) -> Option<Spelling> {
        Some(melody.renamed(note, note.pitch.transposed(self.shift())?, self.transposed))
    }

    /// The name of any pitch at a point, by the key that the tune then has.
    pub fn spelled(&self, melody: &Melody, pitch: Pitch, at: Beats) -> Spelling {
        Spelling::in_key(pitch, transposed_sharps(melody.sharps_at(at), self.transposed))
    }

    /// The tune as it sounds: moved and named so, with its signatures and chords; what was changed is changed, and what was left
    /// out still stands where it would have sounded.
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

    /// Whether a note, given by its index, was changed so that it can be played.
    pub fn is_changed(&self, note: usize) -> bool {
        self.changes.binary_search_by_key(&note, |change| change.note).is_ok()
    }
}

/// What a player wants to know about a playing, in numbers.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub struct Counts {
    /// Notes of the tune, grace notes included.
    pub notes: u32,
    /// Notes that can be sounded.
    pub playable: u32,
    /// Missing notes that are not grace notes.
    pub missing: u32,
    /// Missing grace notes.
    pub missing_graces: u32,
    /// Notes that are bent draw notes.
    pub draw_bends: u32,
    /// Notes that are bent blow notes.
    pub blow_bends: u32,
    /// Overblown notes.
    pub overblows: u32,
    /// Overdrawn notes.
    pub overdraws: u32,
    /// Changes of breath direction from note to note.
    pub breath_changes: u32,
    /// Those of them that are awkward.
    pub awkward: u32,
    /// Lowest and highest hole; `None` if nothing can be sounded.
    pub holes: Option<(u8, u8)>,
    /// Notes on holes 1 to 3, 4 to 6, and 7 to 10.
    pub by_region: [u32; 3],
    /// Notes on holes 8 to 10.
    pub high: u32,
    /// Notes in which the lungs come to an end.
    pub limits: u32,
}

/// A part of the harp: its register in the sense of where one plays.
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
    /// The three from the bottom up.
    pub const ALL: [Region; 3] = [Region::Low, Region::Middle, Region::High];

    /// The word for the command line and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Region::Low => "low",
            Region::Middle => "middle",
            Region::High => "high",
        }
    }
}

impl Counts {
    /// Bends and overbends together.
    pub fn bends(&self) -> u32 {
        self.draw_bends + self.blow_bends + self.overblows + self.overdraws
    }

    /// Whether more than a third of the notes lie on holes 8 to 10, where reeds are stiff and the sound is thin.
    pub fn lies_high(&self) -> bool {
        self.high * 3 > self.playable
    }

    /// Whether at most a quarter of them do.
    pub fn lies_low(&self) -> bool {
        self.high * 4 <= self.playable
    }

    /// Where most of the notes lie; of equals the middle, then the lower.
    pub fn region(&self) -> Region {
        let order = [Region::High, Region::Low, Region::Middle];
        // `max_by_key` takes the last of equals.
        order.into_iter().max_by_key(|&region| self.by_region[region as usize]).unwrap_or(Region::Middle)
    }

    /// Whether every note but grace notes can be played.
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

    /// Counts a note in.
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

/// Tries every approach and ranks them.
///
/// Approaches that do not sound a single note, grace notes apart, are left out, so the ranking is empty only when no harp
/// reaches the tune at all.
/// Where not all rows are wanted, [`search_for`] is faster and takes less memory.
pub fn search<'a>(request: &Request<'a>) -> Ranking<'a> {
    search_for(request, &Wanted::ALL)
}

/// The transpositions to try: none with the key fixed, else each of the twelve keys by the shorter way.
fn transpositions(request: &Request) -> impl Iterator<Item = Interval> + use<> {
    let all = if request.any_key { -5..=6 } else { 0..=0 };
    all.map(Interval)
}

/// The octave shifts after which the tune and the harp have at least one pitch in common.
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
