//! Reads the events of one track: pairs the beginnings and ends of notes, and sorts all other events by their meaning.

use std::{
    cmp::Reverse,
    collections::{BTreeMap, BTreeSet},
};

use midly::{
    EventBytemapIter, MetaMessage, MidiMessage, PitchBend, TrackEventKind,
    num::{u7, u14},
};

use super::{
    MAX_RIGHTS,
    chunks::Chunk,
    sounding::{Key, Sounding},
};
use crate::time::Meter;

/// A note, with its onset and end in ticks.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct RawNote {
    pub(super) channel: u8,
    pub(super) key: u8,
    pub(super) onset: u64,
    pub(super) end: u64,
    /// Whether the file never ends the note.
    pub(super) hanging: bool,
}

impl RawNote {
    /// Whether the note has a length; a note without length is an ornament.
    fn has_length(&self) -> bool {
        self.end > self.onset || self.hanging
    }
}

/// A text and its place.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct RawText<'a> {
    pub(super) tick: u64,
    pub(super) bytes: &'a [u8],
}

/// The contents of a track.
#[derive(Default, Debug)]
pub(super) struct Track<'a> {
    pub(super) name: Option<&'a [u8]>,
    /// Texts about rights.
    pub(super) rights: Vec<&'a [u8]>,
    /// The notes, in order of onset.
    pub(super) notes: Vec<RawNote>,
    /// Lyric events, and the general texts that karaoke files use instead.
    pub(super) lyrics: Vec<RawText<'a>>,
    pub(super) texts: Vec<RawText<'a>>,
    /// The tempos: for each, its tick and the microseconds per quarter.
    pub(super) tempos: Vec<(u64, u32)>,
    /// The time signatures, each with its tick; `None` for a signature that makes no sense.
    pub(super) meters: Vec<(u64, Option<Meter>)>,
    /// Key signatures, as sharps and whether minor; `None` for a key signature that makes no sense.
    pub(super) keys: Vec<(u64, Option<(i8, bool)>)>,
    /// The program changes of each channel, in order.
    pub(super) programs: BTreeMap<u8, Vec<(u64, u8)>>,
    /// The tick of the first chord of notes without length in each channel; see [`Track::take_out_silent_chords`].
    pub(super) silent_chords: BTreeMap<u8, u64>,
    /// The start and end of each pitch bend, by channel, in order.
    pub(super) bends: BTreeMap<u8, Vec<(u64, u64)>>,
    /// Whether the track has its end mark, or ends exactly at its stated length.
    pub(super) complete: bool,
    /// The offset in the file of an event that makes no sense; the rest of the track is lost.
    pub(super) broken_at: Option<usize>,
    /// Whether a status byte is missing after a meta or system exclusive event.
    pub(super) status_missing: bool,
    /// The names of events that were skipped because they break their own format.
    pub(super) unreadable: BTreeSet<&'static str>,
}

/// Reads the events until the end mark, or until the track has `most_notes` notes.
pub(super) fn read<'a>(chunk: Chunk<'a>, most_notes: usize) -> Track<'a> {
    let mut reader = Reader::new();
    // The smallest number of bytes for a note, with its beginning and end.
    const NOTE: usize = 6;
    reader.track.notes.reserve(most_notes.min(chunk.data.len() / NOTE));
    let mut rest = chunk.data;
    let mut last_status = None;
    while !rest.is_empty() && reader.track.notes.len() < most_notes {
        // Nearly all events have the short form.
        if let Some(event) = short_event(rest, last_status) {
            reader.tick += event.delta;
            reader.track.status_missing |= event.bare && reader.after_meta;
            reader.after_meta = false;
            last_status = Some(event.status);
            rest = &rest[event.length..];
            reader.message(event.status & 0x0F, event.message);
            continue;
        }
        let mut events = EventBytemapIter::new(rest);
        *events.running_status_mut() = last_status;
        match events.next() {
            Some(Ok((bytes, event))) => {
                reader.tick += u64::from(event.delta.as_int());
                if matches!(event.kind, TrackEventKind::Midi { .. }) {
                    let bare = bytes.first().is_some_and(|&byte| byte < 0x80);
                    reader.track.status_missing |= bare && reader.after_meta;
                    reader.after_meta = false;
                    last_status = events.running_status();
                } else {
                    // By the standard, running status ends here. Running status is kept all the same, because some
                    // files rely on it after such events, and no other file is harmed.
                    reader.after_meta = true;
                }
                rest = events.unread();
                if reader.event(bytes, event.kind) {
                    reader.track.complete = true;
                    break;
                }
            }
            // The full reader gives up on an event that breaks the rules, but most such events can be skipped.
            _ => match stray_event(rest) {
                Some(stray) => {
                    reader.tick += stray.delta;
                    reader.track.unreadable.insert(stray.what);
                    rest = &rest[stray.length..];
                }
                None => {
                    if !chunk.runs_out {
                        reader.track.broken_at = Some(chunk.at + chunk.data.len() - rest.len());
                    }
                    break;
                }
            },
        }
    }
    // Without an end mark, the track ends with its chunk, if the chunk is whole.
    reader.track.complete |= rest.is_empty() && !chunk.runs_out;
    reader.finish()
}

/// A channel message preceded by at most two bytes of time.
struct ShortEvent {
    delta: u64,
    status: u8,
    /// Whether the event has no status byte and uses the status of the previous event.
    bare: bool,
    message: MidiMessage,
    length: usize,
}

/// Reads an event of the most common shape. Returns `None` for any other shape or for data out of range: the full
/// reader handles those.
fn short_event(bytes: &[u8], last_status: Option<u8>) -> Option<ShortEvent> {
    let (delta, time) = match *bytes {
        [time @ 0..0x80, ..] => (u64::from(time), 1),
        [high, low @ 0..0x80, ..] => (u64::from(high & 0x7F) << 7 | u64::from(low), 2),
        _ => return None,
    };
    let (status, bare) = match *bytes.get(time)? {
        status @ 0x80..0xF0 => (status, false),
        0..0x80 => (last_status?, true),
        _ => return None,
    };
    let start = time + usize::from(!bare);
    let datum = |index: usize| bytes.get(start + index).copied().and_then(u7::try_from);
    let first = datum(0)?;
    let (message, size) = match status >> 4 {
        0x8 => (MidiMessage::NoteOff { key: first, vel: datum(1)? }, 2),
        0x9 => (MidiMessage::NoteOn { key: first, vel: datum(1)? }, 2),
        0xA => (MidiMessage::Aftertouch { key: first, vel: datum(1)? }, 2),
        0xB => (MidiMessage::Controller { controller: first, value: datum(1)? }, 2),
        0xC => (MidiMessage::ProgramChange { program: first }, 1),
        0xD => (MidiMessage::ChannelAftertouch { vel: first }, 1),
        _ => {
            let bend = u14::new(u16::from(datum(1)?.as_int()) << 7 | u16::from(first.as_int()));
            (MidiMessage::PitchBend { bend: PitchBend(bend) }, 2)
        }
    };
    Some(ShortEvent { delta, status, bare, message, length: start + size })
}

/// An event that the reader can skip without understanding it.
struct StrayEvent {
    delta: u64,
    length: usize,
    what: &'static str,
}

/// Finds the length of an event that does not belong in a file, or of a meta event with the wrong number of data bytes.
fn stray_event(bytes: &[u8]) -> Option<StrayEvent> {
    let (delta, delta_length) = variable_length(bytes)?;
    let status = *bytes.get(delta_length)?;
    let (body, what) = match status {
        0xFF => {
            let (data, size) = variable_length(bytes.get(delta_length + 2..)?)?;
            (1 + size + usize::try_from(data).ok()?, "meta event")
        }
        0xF1 | 0xF3 => (1, "system event"),
        0xF2 => (2, "system event"),
        0xF4..=0xFE => (0, "system event"),
        _ => return None,
    };
    let length = delta_length + 1 + body;
    (length <= bytes.len()).then_some(StrayEvent { delta, length, what })
}

/// Reads a number with seven bits in each of at most four bytes; also returns the number of bytes.
fn variable_length(bytes: &[u8]) -> Option<(u64, usize)> {
    let size = bytes.iter().take(4).position(|byte| *byte < 0x80)? + 1;
    Some((bytes[..size].iter().fold(0, |value, byte| value << 7 | u64::from(byte & 0x7F)), size))
}

struct Reader<'a> {
    track: Track<'a>,
    tick: u64,
    after_meta: bool,
    sounding: Sounding,
    /// The tick of each key's last unmatched note-off.
    early_ends: BTreeMap<Key, u64>,
    /// The last note of each key that was read as having no length.
    ornaments: BTreeMap<Key, usize>,
    /// The time at which each channel's current pitch bend began.
    bent_since: BTreeMap<u8, u64>,
}

impl<'a> Reader<'a> {
    fn new() -> Reader<'a> {
        Reader {
            track: Track::default(),
            tick: 0,
            after_meta: false,
            sounding: Sounding::new(),
            early_ends: BTreeMap::new(),
            ornaments: BTreeMap::new(),
            bent_since: BTreeMap::new(),
        }
    }

    /// Handles an event; returns true if it ends the track.
    fn event(&mut self, bytes: &[u8], kind: TrackEventKind<'a>) -> bool {
        match kind {
            TrackEventKind::Midi { channel, message } => self.message(channel.as_int(), message),
            TrackEventKind::Meta(MetaMessage::EndOfTrack) => return true,
            TrackEventKind::Meta(meta) => self.meta(bytes, meta),
            TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) => {}
        }
        false
    }

    fn message(&mut self, channel: u8, message: MidiMessage) {
        /// Controllers that silence a channel: all sound off (120), all notes off (123) and the mode changes after 123.
        const SILENCE: [u8; 6] = [120, 123, 124, 125, 126, 127];
        match message {
            MidiMessage::NoteOn { key, vel } if vel.as_int() > 0 => {
                let key = key.as_int();
                self.start_note((channel, key));
            }
            MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
                self.end_note((channel, key.as_int()));
            }
            MidiMessage::Controller { controller, .. } if SILENCE.contains(&controller.as_int()) => {
                for key in 0..128 {
                    while let Some(note) = self.sounding.pop((channel, key)) {
                        self.track.notes[note].end = self.tick;
                        self.track.notes[note].hanging = false;
                    }
                }
            }
            MidiMessage::ProgramChange { program } => {
                self.track.programs.entry(channel).or_default().push((self.tick, program.as_int()));
            }
            MidiMessage::PitchBend { bend } if bend.as_int() == 0 => {
                if let Some(since) = self.bent_since.remove(&channel) {
                    self.track.bends.entry(channel).or_default().push((since, self.tick));
                }
            }
            MidiMessage::PitchBend { .. } => {
                self.bent_since.entry(channel).or_insert(self.tick);
            }
            _ => {}
        }
    }

    fn start_note(&mut self, key: Key) {
        let index = self.track.notes.len();
        let (onset, end) = (self.tick, self.tick);
        // An unmatched note-off at the same tick belongs to this note: the note is an ornament without length whose two
        // events were written in the wrong order. Such note-offs are rare.
        let early_end = if self.early_ends.is_empty() { None } else { self.early_ends.get(&key).copied() };
        let without_length = early_end == Some(onset);
        if without_length {
            self.early_ends.remove(&key);
            self.ornaments.insert(key, index);
        } else {
            if early_end.is_some() {
                self.settle_early_end(key);
            }
            self.sounding.push(key, index);
        }
        self.track.notes.push(RawNote { channel: key.0, key: key.1, onset, end, hanging: !without_length });
    }

    fn end_note(&mut self, key: Key) {
        // First in, first out: if a note starts again before it has ended, each note-off ends the oldest one.
        if let Some(index) = self.sounding.pop(key) {
            self.track.notes[index].end = self.tick;
            self.track.notes[index].hanging = false;
        } else {
            self.settle_early_end(key);
            self.early_ends.insert(key, self.tick);
        }
    }

    /// Gives an unmatched note-off to the last ornament, which therefore is a note with length after all.
    fn settle_early_end(&mut self, key: Key) {
        if let Some(end) = self.early_ends.remove(&key)
            && let Some(index) = self.ornaments.remove(&key)
        {
            self.track.notes[index].end = end;
        }
    }

    fn meta(&mut self, bytes: &[u8], meta: MetaMessage<'a>) {
        let tick = self.tick;
        match meta {
            // Only the first name is the track's; later names are marks that some programs add.
            MetaMessage::TrackName(name) if self.track.name.is_none() => self.track.name = Some(name),
            MetaMessage::Copyright(text) if self.track.rights.len() < MAX_RIGHTS => {
                self.track.rights.push(text)
            }
            MetaMessage::Lyric(bytes) => self.track.lyrics.push(RawText { tick, bytes }),
            MetaMessage::Text(bytes) => self.track.texts.push(RawText { tick, bytes }),
            MetaMessage::Tempo(micros) => self.track.tempos.push((tick, micros.as_int())),
            MetaMessage::TimeSignature(beats, power, ..) => {
                self.track.meters.push((tick, meter(beats, power)));
            }
            // Some programs write only the first two numbers and leave out the numbers for the metronome.
            MetaMessage::Unknown(0x58, &[beats, power, ..]) => {
                self.track.meters.push((tick, meter(beats, power)));
            }
            MetaMessage::Unknown(0x51 | 0x58, _) => {
                self.track.unreadable.insert("meta event");
            }
            MetaMessage::KeySignature(sharps, minor) => {
                // The mode is 0 or 1; any other byte makes the whole key signature doubtful.
                let mode_is_known = bytes.last().is_some_and(|mode| *mode <= 1);
                let key = (mode_is_known && (-7..=7).contains(&sharps)).then_some((sharps, minor));
                self.track.keys.push((tick, key));
            }
            _ => {}
        }
    }

    fn finish(mut self) -> Track<'a> {
        for key in self.early_ends.keys().copied().collect::<Vec<_>>() {
            self.settle_early_end(key);
        }
        let end = self.tick;
        for note in self.track.notes.iter_mut().filter(|note| note.hanging) {
            note.end = end;
        }
        for (channel, since) in std::mem::take(&mut self.bent_since) {
            self.track.bends.entry(channel).or_default().push((since, end.max(since + 1)));
        }
        self.track
    }
}

/// Returns the time signature with this upper number and this power of two as its lower number, if it makes sense.
fn meter(beats: u8, power: u8) -> Option<Meter> {
    /// The power of two of the shortest accepted unit, 1/128, which is the shortest note that has a name.
    const SHORTEST: u8 = 7;
    (beats > 0 && power <= SHORTEST).then(|| Meter { beats: u16::from(beats), unit: 1 << power })
}

impl Track<'_> {
    /// Sorts the notes by channel, then by onset. At one onset the ornaments come first, in the order of the file, then
    /// the notes from the highest down. The notes are already in order of onset, so the sort has little to do.
    pub(super) fn sort_notes(&mut self) {
        if !self.notes.is_sorted_by_key(|note| note.channel) {
            self.notes.sort_by_key(|note| note.channel);
        }
        for chord in self.notes.chunk_by_mut(|a, b| (a.channel, a.onset) == (b.channel, b.onset)) {
            if chord.len() > 1 {
                chord.sort_by_key(|note| (note.has_length(), Reverse(note.has_length().then_some(note.key))));
            }
        }
    }

    /// Removes chords whose notes have no length; some programs write chord symbols in this way, so that they stay
    /// silent.
    ///
    /// Notes without length are such a chord if three or more of them rise in the file and span at least a tritone, the
    /// smallest span of a triad; otherwise they are ornaments (our judgement). The notes must be sorted by
    /// [`Track::sort_notes`].
    pub(super) fn take_out_silent_chords(&mut self) {
        const TRITONE: u8 = 6;
        if self.notes.iter().all(RawNote::has_length) {
            return;
        }
        let notes = std::mem::take(&mut self.notes);
        let place = |note: &RawNote| (note.channel, note.onset, note.has_length());
        for group in notes.chunk_by(|a, b| place(a) == place(b)) {
            match group {
                [first, _, .., last]
                    if !first.has_length()
                        && last.key >= first.key + TRITONE
                        && group.len() > 2
                        && group.is_sorted_by(|a, b| a.key < b.key) =>
                {
                    self.silent_chords.entry(first.channel).or_insert(first.onset);
                }
                _ => self.notes.extend(group),
            }
        }
    }

    /// Returns the program of a channel at its first note.
    pub(super) fn program(&self, channel: u8) -> Option<u8> {
        let first = self.notes.iter().find(|note| note.channel == channel)?.onset;
        let changes = self.programs.get(&channel)?;
        let before = changes.partition_point(|&(tick, _)| tick <= first);
        changes.get(before.checked_sub(1)?).map(|&(_, program)| program)
    }

    /// Whether a note sounds while its channel's pitch is bent.
    pub(super) fn is_bent(&self, note: &RawNote) -> bool {
        self.bends.get(&note.channel).is_some_and(|bends| {
            let after = bends.partition_point(|&(_, end)| end <= note.onset);
            bends.get(after).is_some_and(|&(since, _)| since < note.end)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The full reader serves as the oracle.
    #[test]
    fn a_short_event_is_read_as_the_whole_reader_does() {
        let times: [&[u8]; 5] = [&[0], &[0x7F], &[0x81, 0x00], &[0xFF, 0x7F], &[0x81, 0x80, 0x00]];
        let data: [&[u8]; 7] = [&[0, 0], &[60, 80], &[127, 127], &[1, 64], &[60], &[0x80, 1], &[1, 0xFF]];
        let mut short = 0;
        for time in times {
            for status in 0x80..=0xFF_u8 {
                for (bare, last) in [(false, None), (false, Some(0x91)), (true, Some(status)), (true, None)] {
                    let running = last.filter(|status| *status < 0xF0);
                    for data in data {
                        let status: &[u8] = if bare { &[] } else { &[status] };
                        let bytes = [time, status, data].concat();
                        let Some(event) = short_event(&bytes, running) else { continue };
                        short += 1;
                        let mut events = EventBytemapIter::new(&bytes);
                        *events.running_status_mut() = running;
                        let (raw, whole) = events.next().unwrap().unwrap();
                        let channel = (event.status & 0x0F).into();
                        assert_eq!(whole.kind, TrackEventKind::Midi { channel, message: event.message });
                        assert_eq!(u64::from(whole.delta.as_int()), event.delta);
                        assert_eq!(events.unread(), &bytes[event.length..]);
                        assert_eq!(events.running_status(), Some(event.status));
                        assert_eq!(raw[0] < 0x80, event.bare);
                    }
                }
            }
        }
        // Four of the five times have at most two bytes, three of the four ways to give the status are valid, and 112
        // statuses are channel messages. Four pairs of data are valid for every message. A single byte, or a valid byte
        // before an invalid one, is valid only for the 32 statuses of messages with one data byte.
        assert_eq!(short, 4 * 3 * (112 * 4 + 32 * 2));
    }
}
