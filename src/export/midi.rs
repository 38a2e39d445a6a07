//! Writes an arrangement as a Standard MIDI File (MIDI Manufacturers Association, RP-001) in format 1.
//!
//! Notation programs and sequencers expect the title, tempo, meter and key in a separate first track, and name the part
//! after the second track. Format 0 would leave a single name for both title and part.
//!
//! MIDI has no field for the tune's authors and no repeat signs, so the melody must have its repeats written out. MIDI
//! has no grace notes either: each grace note sounds as a thirty-second taken from the note that it leads to. All grace
//! notes of one note together take at most half of that note (common practice, no source). A note that is not played
//! becomes a rest. A bar shorter than its meter, such as a pickup, gets a time signature of its own.

use midly::{
    Format, Header, MetaMessage, MidiMessage, Smf, Timing, TrackEvent, TrackEventKind,
    num::{u4, u7, u15, u24, u28},
};
use num_integer::Integer;

use super::Arrangement;
use crate::{
    melody::{Bar, Lyric, Melody},
    mode::Mode,
    time::{Beats, Meter},
};

/// The ticks per quarter if they are fine enough: most programs write 480.
const USUAL: i64 = 480;
/// The ticks per quarter if no number up to the format's limit of 32767 expresses every length exactly; this number has
/// many small factors.
const FINEST: i64 = 30_240;
/// Harmonica in General MIDI: number 23 in the standard's list, 22 in the file, which counts from 0.
const HARMONICA: u7 = u7::new(22);
const CHANNEL: u4 = u4::new(0);
/// Neither soft nor loud: about mezzo-forte (common practice, no source).
const VELOCITY: u7 = u7::new(80);

/// Returns the bytes of the file.
pub fn write(arrangement: &Arrangement) -> Vec<u8> {
    let melody = &arrangement.melody;
    let grid = Ticks::of(melody);
    let words = words(melody);
    let tracks = vec![conductor(melody, grid), harmonica(arrangement, &words, grid)];
    let header = Header::new(Format::Parallel, Timing::Metrical(u15::new(grid.quarter as u16)));
    let mut bytes = Vec::new();
    // Writing into memory fails only for tracks too long for the format, and the import's limits rule those out.
    let _ = Smf { header, tracks }.write(&mut bytes);
    bytes
}

#[derive(Clone, Copy)]
struct Ticks {
    /// The number of ticks per quarter.
    quarter: i64,
}

impl Ticks {
    fn of(melody: &Melody) -> Ticks {
        let notes = melody.notes.iter().flat_map(|note| [note.onset, note.end()]);
        let mut points = notes.chain(melody.bars.iter().map(|bar| bar.start));
        let quarter = points.try_fold(USUAL, |quarter, point| {
            let finer = quarter.lcm(&point.fraction().1);
            (finer <= i64::from(u16::MAX >> 1)).then_some(finer)
        });
        Ticks { quarter: quarter.unwrap_or(FINEST) }
    }

    fn ticks(self, at: Beats) -> u32 {
        let (numerator, denominator) = at.fraction();
        let doubled = 2 * i128::from(numerator) * i128::from(self.quarter) + i128::from(denominator);
        u32::try_from(doubled.div_euclid(2 * i128::from(denominator)).max(0)).unwrap_or(u32::MAX)
    }
}

/// Events by tick. Within a tick, events with lower ranks come first; events of equal rank keep the order in which they
/// were added.
#[derive(Default)]
struct Events<'a> {
    events: Vec<(u32, u8, TrackEventKind<'a>)>,
}

impl<'a> Events<'a> {
    fn meta(&mut self, at: u32, message: MetaMessage<'a>) {
        self.events.push((at, 1, TrackEventKind::Meta(message)));
    }

    fn note(&mut self, from: u32, to: u32, key: u8) {
        let key = u7::new(key.min(127));
        let message = |message| TrackEventKind::Midi { channel: CHANNEL, message };
        // A note must end before the same pitch begins again.
        self.events.push((to, 0, message(MidiMessage::NoteOff { key, vel: u7::new(0) })));
        self.events.push((from, 2, message(MidiMessage::NoteOn { key, vel: VELOCITY })));
    }

    fn track(mut self, end: u32) -> Vec<TrackEvent<'a>> {
        self.events.sort_by_key(|&(at, rank, _)| (at, rank));
        let end = self.events.last().map_or(end, |&(at, ..)| at.max(end));
        self.events.push((end, 3, TrackEventKind::Meta(MetaMessage::EndOfTrack)));
        let mut now = 0;
        let timed = self.events.into_iter().map(|(at, _, kind)| {
            let delta = u28::new((at - now).min(u28::max_value().as_int()));
            now = at;
            TrackEvent { delta, kind }
        });
        timed.collect()
    }
}

/// Returns the first track: rights, title, tempos, meters and keys.
fn conductor(melody: &Melody, grid: Ticks) -> Vec<TrackEvent<'_>> {
    let mut events = Events::default();
    // The standard requires the copyright to come first.
    for rights in &melody.credits.rights {
        events.meta(0, MetaMessage::Copyright(rights.as_bytes()));
    }
    events
        .meta(0, MetaMessage::Text(concat!("Written by breathline ", env!("CARGO_PKG_VERSION")).as_bytes()));
    if let Some(title) = &melody.title {
        events.meta(0, MetaMessage::TrackName(title.as_bytes()));
    }
    if melody.tempo.is_known() {
        for (at, micros) in melody.tempo.changes() {
            events.meta(grid.ticks(at), MetaMessage::Tempo(u24::new(micros.min(0xFF_FFFF))));
        }
    }
    for signature in &melody.signatures {
        // MIDI has only major and minor, so every other mode is written as major.
        let minor = signature.mode == Some(Mode::Minor);
        let key = MetaMessage::KeySignature(signature.sharps.clamp(-7, 7), minor);
        events.meta(grid.ticks(signature.at), key);
    }
    let mut last = None;
    for bar in &melody.bars {
        let Some((meter, beat)) = as_long_as(bar) else { continue };
        if last != Some(meter) {
            let clocks = u8::try_from(beat.times(24, 1).fraction().0).unwrap_or(24);
            events.meta(grid.ticks(bar.start), time_signature(meter, clocks));
        }
        last = Some(meter);
    }
    events.track(end(melody, grid))
}

/// Returns a meter that fills the bar, and the length of its felt beat; `None` if no whole number of notes fills the
/// bar.
fn as_long_as(bar: &Bar) -> Option<(Meter, Beats)> {
    let meter = bar.meter?;
    if bar.length == meter.bar() {
        return Some((meter, meter.felt_beat()));
    }
    let units = std::iter::successors(Some(meter.unit), |unit| (*unit < 64).then_some(unit * 2));
    units.into_iter().find_map(|unit| {
        let (count, rest) = bar.length.times(i64::from(unit), 4).fraction();
        let beats = u16::try_from(count).ok().filter(|beats| rest == 1 && (1..=255).contains(beats))?;
        Some((Meter { beats, unit }, meter.felt_beat()))
    })
}

fn time_signature<'a>(meter: Meter, clocks: u8) -> MetaMessage<'a> {
    const THIRTY_SECONDS_A_QUARTER: u8 = 8;
    let beats = u8::try_from(meter.beats).unwrap_or(u8::MAX);
    // MIDI's lower number is a power of two; any other number, as in 4/5, becomes the next lower power of two.
    let unit = meter.unit.max(1).ilog2() as u8;
    MetaMessage::TimeSignature(beats, unit, clocks, THIRTY_SECONDS_A_QUARTER)
}

fn end(melody: &Melody, grid: Ticks) -> u32 {
    melody.bars.last().map_or(0, |bar| grid.ticks(bar.start + bar.length))
}

/// Returns the words of the first verse, at most one syllable for each note. A space ends a word (MIDI Manufacturers
/// Association, RP-017).
fn words(melody: &Melody) -> Vec<Option<String>> {
    let verse = melody.notes.iter().flat_map(|note| &note.lyrics).map(|lyric| lyric.verse).min();
    let syllable = |lyric: &Lyric| format!("{}{}", lyric.text, if lyric.hyphen { "" } else { " " });
    let sung = melody.notes.iter().map(|note| note.lyrics.iter().find(|lyric| Some(lyric.verse) == verse));
    sung.map(|lyric| lyric.map(syllable)).collect()
}

/// Returns the second track: name, sound, words and notes.
fn harmonica<'a>(arrangement: &Arrangement, words: &'a [Option<String>], grid: Ticks) -> Vec<TrackEvent<'a>> {
    let melody = &arrangement.melody;
    let sounds = |note: usize| arrangement.notes.get(note).is_none_or(|note| note.action.is_some());
    let mut events = Events::default();
    events.meta(0, MetaMessage::TrackName(b"Harmonica"));
    let program = MidiMessage::ProgramChange { program: HARMONICA };
    events.events.push((0, 1, TrackEventKind::Midi { channel: CHANNEL, message: program }));
    let mut graces: Vec<usize> = Vec::new();
    for (index, note) in melody.notes.iter().enumerate() {
        if note.grace || note.duration <= Beats::ZERO {
            graces.extend(sounds(index).then_some(index));
            continue;
        }
        let (mut start, stop) = (grid.ticks(note.onset), grid.ticks(note.end()));
        let waiting = u32::try_from(graces.len()).unwrap_or(u32::MAX).max(1);
        let each = (grid.ticks(Beats::new(1, 8))).min(stop.saturating_sub(start) / 2 / waiting);
        for grace in graces.drain(..).filter(|_| each > 0) {
            word(&mut events, start, &words[grace]);
            events.note(start, start + each, melody.notes[grace].pitch.midi());
            start += each;
        }
        if stop > start {
            word(&mut events, start, &words[index]);
            if sounds(index) {
                events.note(start, stop, note.pitch.midi());
            }
        }
    }
    events.track(end(melody, grid))
}

fn word<'a>(events: &mut Events<'a>, at: u32, word: &'a Option<String>) {
    if let Some(word) = word {
        events.meta(at, MetaMessage::Lyric(word.as_bytes()));
    }
}
