//! A melody: one note at a time, in order, with its bars, meters, keys, chords and tempo.
//!
//! Every importer produces a melody, and every later step starts from a melody. A melody knows nothing about files or
//! harps.

pub mod chord;
pub mod key;
pub mod phrase;
pub mod signs;
pub mod tempo;
pub mod tempo_words;
mod written;

use std::borrow::Cow;

use crate::{
    pitch::{Interval, Pitch, Spelling, fewest_accidentals},
    time::{Beats, Meter, Place, TempoMap},
};
pub use chord::ChordSymbol;
use key::{Key, Mode};
pub use signs::Signs;
pub use tempo_words::TempoWords;
pub use written::{Beam, Ends, Written, WrittenKind};

/// A tune as it will be played: notes in order of onset, never two at once.
///
/// Invariants, kept by [`crate::import`]: onsets never decrease; a note ends no later than the next begins; grace notes
/// have no duration and precede their main note at its onset; every note's `bar` is an index into `bars`; the bars are
/// in order and without gaps.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Melody {
    /// The title, if the file has one.
    pub title: Option<String>,
    /// The makers and rights, as the file states them.
    pub credits: Credits,
    /// The type of tune in the file's words, such as `slip jig`, if the file states it. Only ABC does.
    pub rhythm: Option<String>,
    /// The notes.
    pub notes: Vec<Note>,
    /// The bars, in order.
    pub bars: Vec<Bar>,
    /// Whether the bars are merely counted off from the start, because the file (MIDI) has no barlines. The length of
    /// the pickup is then unknown.
    pub counted_bars: bool,
    /// The key signatures at sounding pitch, in order; empty if the file has none.
    pub signatures: Vec<KeySignature>,
    /// Chord symbols, in order.
    pub chords: Vec<ChordSymbol>,
    /// The tempo.
    pub tempo: TempoMap,
    /// The tempo words, in order.
    pub tempo_words: Vec<TempoWords>,
}

/// The makers and rights of a tune, as its file states them: each text is one line without control characters.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Credits {
    /// The makers, in the order of the file.
    pub creators: Vec<Creator>,
    /// The statements of rights, in the order of the file.
    pub rights: Vec<String>,
}

/// A person who made a tune or a part of it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Creator {
    /// The person's role, in the file's word: `composer`, `lyricist`, `arranger` or another; empty if the file names no
    /// role.
    pub role: String,
    /// The person's name, or a word in its place, such as "Traditional".
    pub name: String,
}

impl Credits {
    /// Returns the names of the composers, separated by commas; `None` if the file names none.
    pub fn composer(&self) -> Option<String> {
        self.names(|role| role.eq_ignore_ascii_case("composer"))
    }

    /// Returns the names of the lyricists, separated by commas; `None` if the file names none.
    pub fn lyricist(&self) -> Option<String> {
        self.names(|role| role.eq_ignore_ascii_case("lyricist") || role.eq_ignore_ascii_case("poet"))
    }

    /// Returns the names of the arrangers, separated by commas; `None` if the file names none.
    pub fn arranger(&self) -> Option<String> {
        self.names(|role| role.eq_ignore_ascii_case("arranger"))
    }

    /// Returns the names of all creators whose role passes the test, separated by commas.
    fn names(&self, did: impl Fn(&str) -> bool) -> Option<String> {
        let names: Vec<&str> = self
            .creators
            .iter()
            .filter(|creator| did(&creator.role))
            .map(|creator| creator.name.as_str())
            .collect();
        (!names.is_empty()).then(|| names.join(", "))
    }
}

/// One note of a melody or of a part.
#[derive(Clone, PartialEq, Debug)]
pub struct Note {
    /// The time at which the note starts, in quarters from the start of the tune.
    pub onset: Beats,
    /// The length in quarters, with ties merged; zero for a grace note.
    pub duration: Beats,
    /// The sounding pitch.
    pub pitch: Pitch,
    /// The score's spelling of the sounding pitch, if the format has spellings.
    pub spelling: Option<Spelling>,
    /// The index of the note's bar in [`Melody::bars`].
    pub bar: usize,
    /// Whether the note is a grace note: an ornament without time of its own.
    pub grace: bool,
    /// The syllables under the note, one for each verse.
    pub lyrics: Vec<Lyric>,
    /// Whether a breath mark follows the note.
    pub breath_after: bool,
    /// Slurs and fermatas.
    pub signs: Signs,
    /// Whether the note is written as the end of a tie that does not begin on the previous note, as at the start of a
    /// second ending.
    pub tie_in: bool,
    /// Whether the note is written as the beginning of a tie that does not end on the next note, as before a repeat.
    pub tie_out: bool,
}

impl Note {
    /// Makes a note without spelling, words or signs.
    pub fn new(onset: Beats, duration: Beats, pitch: Pitch, bar: usize) -> Note {
        Note {
            onset,
            duration,
            pitch,
            spelling: None,
            bar,
            grace: false,
            lyrics: Vec::new(),
            breath_after: false,
            signs: Signs::default(),
            tie_in: false,
            tie_out: false,
        }
    }

    /// Returns the time at which the note stops sounding.
    pub fn end(&self) -> Beats {
        self.onset + self.duration
    }

    /// Adds a syllable under the note. If the verse already has a syllable here, as under a note with merged ties, the
    /// new one is appended to it.
    pub(crate) fn add_lyric(&mut self, more: Lyric) {
        match self.lyrics.iter_mut().find(|lyric| lyric.verse == more.verse) {
            Some(lyric) => {
                lyric.text.push_str(if lyric.hyphen { "" } else { " " });
                lyric.text.push_str(&more.text);
                (lyric.hyphen, lyric.extend) = (more.hyphen, more.extend);
            }
            None => self.lyrics.push(more),
        }
    }
}

/// The time in which a note sounds, in microseconds from the start of the tune.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Sounding {
    /// The time at which the note starts.
    pub start: u64,
    /// The time at which the note ends.
    pub end: u64,
}

/// A syllable under a note.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Lyric {
    /// The verse, counted from 1.
    pub verse: u8,
    /// The syllable, without hyphens.
    pub text: String,
    /// Whether the word continues with the next syllable.
    pub hyphen: bool,
    /// Whether the syllable is held over the following notes.
    pub extend: bool,
}

/// A bar, with its place in the tune and the signs at its barlines.
#[derive(Clone, PartialEq, Debug)]
pub struct Bar {
    /// The number that musicians use, counted from 1. A pickup has number 0; the second half of a bar split at a repeat
    /// has the number of the first half.
    pub number: u32,
    /// The time at which the bar starts, in quarters from the start of the tune.
    pub start: Beats,
    /// The length of the bar as written: a pickup is shorter than its meter.
    pub length: Beats,
    /// The time signature that applies; `None` for unmetered music.
    pub meter: Option<Meter>,
    /// The repeats, endings and jumps at the bar's barlines.
    pub marks: BarMarks,
    /// The melody's notes and rests in this bar as the file writes them, in order; empty if the file does not state
    /// them.
    pub written: Vec<Written>,
}

impl Bar {
    /// Makes a bar of a meter's full length, without any marks.
    pub fn full(number: u32, start: Beats, meter: Meter) -> Bar {
        let (length, marks, written) = (meter.bar(), BarMarks::default(), Vec::new());
        Bar { number, start, length, meter: Some(meter), marks, written }
    }

    /// Returns the beat of a point in this bar, counted from 1 in the unit of the time signature (quarters without
    /// one).
    ///
    /// A pickup counts as the end of its bar: the upbeat eighth of a 4/4 tune is on beat 4 1/2.
    pub fn beat(&self, at: Beats) -> Beats {
        let full = self.meter.map(Meter::bar).filter(|full| self.number == 0 && self.length < *full);
        let missing = full.map_or(Beats::ZERO, |full| full - self.length);
        let unit = i64::from(self.meter.map_or(4, |meter| meter.unit));
        (at - self.start + missing).times(unit, 4) + Beats::quarters(1)
    }
}

/// The signs at a bar that determine the order of playing.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct BarMarks {
    /// Whether a repeat starts before this bar.
    pub repeat_start: bool,
    /// The total number of times that a passage ending after this bar is played (usually 2), if a repeat ends here.
    pub repeat_end: Option<u8>,
    /// Whether the repeat that ends here is also taken after a jump back.
    pub repeat_after_jump: bool,
    /// The numbers of the ending bracket over this bar; empty outside endings.
    pub ending: Vec<u8>,
    /// Whether a double or final barline follows this bar.
    pub section_end: bool,
    /// Whether this bar has the segno, the sign to which a "dal segno" goes back.
    pub segno: bool,
    /// Whether the coda, the target of a "to coda", begins with this bar.
    pub coda: bool,
    /// Whether the player leaves here for the coda, after a jump back.
    pub to_coda: bool,
    /// Whether the tune ends here, after a jump back.
    pub fine: bool,
    /// Whether the player goes back to the beginning after this bar.
    pub da_capo: bool,
    /// Whether the player goes back to the sign after this bar.
    pub dal_segno: bool,
}

/// A key signature at sounding pitch.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct KeySignature {
    /// The time from which the signature applies, in quarters from the start of the tune.
    pub at: Beats,
    /// The number of sharps; negative for flats.
    pub sharps: i8,
    /// The mode that the file gives; often absent, sometimes wrong.
    pub mode: Option<Mode>,
}

impl Melody {
    /// Returns the place of a note; `part` is the part number to show in the place.
    pub fn place(&self, note: usize, part: u16) -> Place {
        let note = &self.notes[note];
        let bar = &self.bars[note.bar];
        Place { part, bar: bar.number, beat: bar.beat(note.onset) }
    }

    /// Returns the silence before the first note and after the last, within the bars, in milliseconds.
    pub fn silence_around(&self) -> (u64, u64) {
        let from_to =
            |from: Beats, to: Beats| self.tempo.micros(to).saturating_sub(self.tempo.micros(from)) / 1000;
        let before =
            self.bars.first().zip(self.notes.first()).map(|(bar, note)| from_to(bar.start, note.onset));
        let end = self.notes.iter().map(Note::end).max();
        let after = self.bars.last().zip(end).map(|(bar, end)| from_to(end, bar.start + bar.length));
        (before.unwrap_or(0), after.unwrap_or(0))
    }

    /// Returns the time in which each note sounds at the tune's tempo, in microseconds from the start of the tune.
    ///
    /// A grace note takes a tenth of a second from the note that it leads to. All grace notes before one note together
    /// take at most half of that note's time (common practice, no source). Onsets therefore never decrease, and only an
    /// impossible number of grace notes leaves some without length.
    pub fn timing(&self) -> Vec<Sounding> {
        const GRACE_MICROS: u64 = 100_000;
        let mut timing: Vec<Sounding> = Vec::with_capacity(self.notes.len());
        let mut waiting = 0;
        for note in &self.notes {
            let start = self.tempo.micros(note.onset);
            let end = self.tempo.micros(note.end()).max(start);
            if note.grace {
                waiting += 1;
                timing.push(Sounding { start, end: start });
                continue;
            }
            let each = GRACE_MICROS.min((end - start) / 2 / (waiting as u64).max(1));
            let first = timing.len() - waiting;
            for (index, grace) in timing[first..].iter_mut().enumerate() {
                grace.start = start + each * index as u64;
                grace.end = grace.start + each;
            }
            timing.push(Sounding { start: start + each * waiting as u64, end });
            waiting = 0;
        }
        timing
    }

    /// Returns the lowest and the highest pitch, or `None` for a melody without notes.
    pub fn range(&self) -> Option<(Pitch, Pitch)> {
        let lowest = self.notes.iter().map(|note| note.pitch).min()?;
        let highest = self.notes.iter().map(|note| note.pitch).max()?;
        Some((lowest, highest))
    }

    /// Returns the key signature that applies at a point.
    pub fn signature_at(&self, at: Beats) -> Option<KeySignature> {
        let index = self.signatures.partition_point(|signature| signature.at <= at);
        // The first signature also applies to the music before it.
        self.signatures.get(index.saturating_sub(1)).copied()
    }

    /// Returns the tempo words at the beginning, before or over the first note.
    pub fn opening_words(&self) -> impl Iterator<Item = &str> {
        self.tempo_words[..self.opening()].iter().map(|words| words.text.as_str())
    }

    /// Returns the tempo words after the beginning.
    pub fn later_words(&self) -> impl Iterator<Item = &TempoWords> {
        self.tempo_words[self.opening()..].iter()
    }

    /// Returns the number of tempo words at the beginning.
    fn opening(&self) -> usize {
        let first = self.notes.first().map_or(Beats::ZERO, |note| note.onset);
        self.tempo_words.partition_point(|words| words.at <= first)
    }

    /// Whether the melody has a chord symbol other than "N.C.".
    pub fn has_chords(&self) -> bool {
        self.chords.iter().any(|chord| chord.root.is_some())
    }

    /// Returns the chord symbol that applies at a point; `None` before the first symbol.
    pub fn chord_at(&self, at: Beats) -> Option<&ChordSymbol> {
        let index = self.chords.partition_point(|chord| chord.at <= at);
        index.checked_sub(1).and_then(|index| self.chords.get(index))
    }

    /// Returns the melody moved by an interval, or `None` if a note would leave the MIDI range.
    ///
    /// Spellings and chord symbols are dropped unless the move is by whole octaves, because any other move makes them
    /// wrong.
    pub fn transposed(&self, by: Interval) -> Option<Melody> {
        let mut moved = self.clone();
        for note in &mut moved.notes {
            note.pitch = note.pitch.transposed(by)?;
            note.spelling = match note.spelling {
                Some(spelling) if by.0 % 12 == 0 => {
                    Some(Spelling { octave: spelling.octave + (by.0 / 12) as i8, ..spelling })
                }
                _ => None,
            };
        }
        if by.0 % 12 != 0 {
            moved.chords.clear();
        }
        for signature in &mut moved.signatures {
            signature.sharps = transposed_sharps(signature.sharps, by);
        }
        Some(moved)
    }

    /// Spells a pitch according to the melody's key signature at a point.
    pub fn spelled(&self, pitch: Pitch, at: Beats) -> Spelling {
        Spelling::in_key(pitch, self.sharps_at(at))
    }

    /// Returns the number of sharps in the key signature at a point; negative for flats.
    pub fn sharps_at(&self, at: Beats) -> i8 {
        self.signature_at(at).map_or(0, |signature| signature.sharps)
    }

    /// Returns the melody, with the signature of `key` if it has none.
    pub fn signed(&self, key: Key) -> Cow<'_, Melody> {
        if !self.signatures.is_empty() {
            return Cow::Borrowed(self);
        }
        let signature = KeySignature { at: Beats::ZERO, sharps: key.sharps(), mode: Some(key.mode) };
        Cow::Owned(Melody { signatures: vec![signature], ..self.clone() })
    }

    /// Returns the spelling of a note at the new `pitch`, after the tune's key has moved by an interval. A spelling in
    /// the score moves along the line of fifths with the key; a note without a spelling gets the usual one.
    pub fn renamed(&self, note: &Note, pitch: Pitch, by: Interval) -> Spelling {
        let before = self.sharps_at(note.onset);
        let after = transposed_sharps(before, by);
        match note.spelling {
            Some(written) => written.moved(after - before, pitch, after),
            None => Spelling::in_key(pitch, after),
        }
    }

    /// Returns a chord symbol after the tune's key has moved by an interval.
    pub fn moved_chord(&self, chord: &ChordSymbol, by: Interval) -> ChordSymbol {
        let before = self.sharps_at(chord.at);
        let after = transposed_sharps(before, by);
        chord.moved(after - before, by, after)
    }
}

/// Returns the key signature after a transposition, with as few accidentals as possible. A move by whole octaves keeps
/// the signature, even six flats or seven sharps.
pub(crate) fn transposed_sharps(sharps: i8, by: Interval) -> i8 {
    if by.0 % 12 == 0 {
        return sharps;
    }
    fewest_accidentals(i16::from(sharps) + 7 * (by.0 % 12))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_upbeat_counts_towards_the_end_of_its_bar() {
        let pickup =
            Bar { length: Beats::new(1, 2), ..Bar::full(0, Beats::ZERO, Meter { beats: 6, unit: 8 }) };
        assert_eq!(pickup.beat(Beats::ZERO), Beats::quarters(6));
        let first = Bar::full(1, Beats::new(1, 2), Meter { beats: 6, unit: 8 });
        assert_eq!(first.beat(Beats::new(1, 2)), Beats::quarters(1));
        assert_eq!(first.beat(Beats::quarters(2)), Beats::quarters(4));
        // Without a meter there is no full bar from which to count back.
        let free = Bar { meter: None, ..pickup };
        assert_eq!(free.beat(Beats::ZERO), Beats::quarters(1));
    }

    #[test]
    fn grace_notes_take_their_time_from_the_note_they_lead_to() {
        let grace = Note { grace: true, ..Note::new(Beats::ZERO, Beats::ZERO, Pitch::MIDDLE_C, 0) };
        let main = Note::new(Beats::ZERO, Beats::new(1, 2), Pitch::MIDDLE_C, 0);
        let melody = Melody {
            notes: vec![grace.clone(), grace, main],
            bars: vec![Bar::full(1, Beats::ZERO, Meter::COMMON)],
            ..Melody::default()
        };
        // An eighth at 120 beats per minute lasts 250 ms, and the two grace notes share half of it.
        let spans: Vec<(u64, u64)> = melody.timing().iter().map(|s| (s.start, s.end)).collect();
        assert_eq!(spans, [(0, 62_500), (62_500, 125_000), (125_000, 250_000)]);
    }

    #[test]
    fn signatures_transpose_round_the_circle_of_fifths() {
        assert_eq!(transposed_sharps(0, Interval(2)), 2);
        assert_eq!(transposed_sharps(2, Interval(-2)), 0);
        assert_eq!(transposed_sharps(0, Interval(5)), -1);
        assert_eq!(transposed_sharps(-1, Interval(1)), 6);
        for sharps in -7..=7 {
            assert_eq!([0, 12, -24].map(|by| transposed_sharps(sharps, Interval(by))), [sharps; 3]);
        }
        // The interval of 32767 semitones is 7 semitones more than whole octaves.
        assert_eq!(transposed_sharps(0, Interval(i16::MAX)), 1);
    }
}
