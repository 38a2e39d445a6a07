//! Reads Standard MIDI Files of every format (MIDI Manufacturers Association, RP-001), including damaged ones.
//!
//! 1. `chunks` finds the tracks; `track` reads their events and pairs the notes.
//! 2. Every pair of track and channel with notes becomes a part, in the order of the file; channel 10 is percussion
//!    (General MIDI).
//! 3. `grid` turns ticks into exact time, `bars` builds the bars from the time signatures.
//! 4. `lyrics` assigns the syllables to notes; `display` separates the sung words from the rest of the lyrics.
//!
//! Tempo, time and key signatures apply to the whole file, whichever track they are in; of several at one place, the
//! last applies. Pedals do not change the length of a note.

mod bars;
mod chunks;
mod display;
mod grid;
mod instruments;
mod sounding;
mod text;
mod track;
mod lyrics;

use super::{
    ImportError, MAX_NOTES, MAX_QUARTERS, Oddity, Part, PartNote, Score, TextPosition, Warning,
    entry::TuneEntry, heading,
};
use crate::{
    melody::{Bar, Credits, KeySignature, Note, key::Mode},
    pitch::Pitch,
    time::{Beats, Meter, Place, TempoMap},
};
use chunks::Chunks;
use grid::{Grid, OnGrid, Places};
use track::{RawNote, Track};

/// The largest number of parts in a file: the largest orchestral scores have about a hundred.
const MAX_PARTS: usize = 1_000;
/// The largest number of key signatures that is kept. The limit is needed because every part has a copy of them.
const MAX_SIGNATURES: usize = 1_000;
/// The largest number of time signatures that is kept.
const MAX_METERS: usize = 10_000;
/// The largest number of bars reported as cut short by a new time signature. Each is reported once for every part.
const MAX_CUT_BARS: usize = 100;
/// The largest number of copyright texts that is kept, for each track and for the file.
const MAX_RIGHTS: usize = 20;
/// The channel for percussion, counted from 0.
const PERCUSSION: u8 = 9;

/// Returns the tracks with pitched notes of a file of patterns (format 2), each with its entry for the list of tunes;
/// an empty list for any other file.
pub(super) fn patterns(bytes: &[u8]) -> Vec<(usize, TuneEntry)> {
    let Some(chunks) = chunks::find(bytes).ok().filter(|chunks| chunks.header.format == 2) else {
        return Vec::new();
    };
    let tracks = chunks.tracks.iter().map(|&chunk| track::read(chunk, MAX_NOTES)).enumerate();
    let tunes = tracks.filter(|(_, track)| is_tune(track)).zip(1..);
    tunes
        .map(|((index, track), number)| {
            let title = track.name.and_then(text::name);
            (index, TuneEntry { number, title, ..TuneEntry::default() })
        })
        .collect()
}

/// Whether a track has notes with a pitch.
fn is_tune(track: &Track) -> bool {
    track.notes.iter().any(|note| note.channel != PERCUSSION)
}

/// Reads the bytes into a score. From a file of patterns, which are played one at a time, it takes only the track
/// `pattern`, or the first track with pitched notes.
///
/// # Errors
///
/// Returns [`ImportError::Broken`] if the header is missing or incomplete, or if the file breaks off or becomes
/// unreadable before its first note. Returns [`ImportError::TooLarge`] if the file exceeds the limit on notes, on parts
/// or on time.
pub fn read(bytes: &[u8], pattern: Option<usize>) -> Result<Score, ImportError> {
    let chunks = chunks::find(bytes)?;
    let mut tracks = Vec::with_capacity(chunks.tracks.len());
    let mut notes = 0;
    for &chunk in &chunks.tracks {
        let track = track::read(chunk, MAX_NOTES + 1 - notes);
        notes += track.notes.len();
        if notes > MAX_NOTES {
            return Err(ImportError::TooLarge {
                what: "the number of notes",
                limit: MAX_NOTES,
                unit: "notes",
            });
        }
        tracks.push(track);
    }
    if notes == 0 {
        check_why_empty(bytes, &chunks, &tracks)?;
    }
    let mut oddities = oddities(&chunks, &tracks);
    let clock = Clock::of(chunks.header.division, &mut oddities);
    if chunks.header.format == 2 {
        // Patterns are played one at a time, each starting from time zero.
        let chosen = pattern.or(tracks.iter().position(is_tune)).unwrap_or(0);
        tracks = tracks.into_iter().skip(chosen).take(1).collect();
    }
    score(tracks, clock, chunks.header.format, oddities)
}

/// Returns an error for a file that breaks off or becomes unreadable before its first note, because the file is damaged
/// rather than empty.
fn check_why_empty(bytes: &[u8], chunks: &Chunks, tracks: &[Track]) -> Result<(), ImportError> {
    let broken =
        |at: usize, what: String| Err(ImportError::Broken { at: Some(TextPosition::Byte(at)), what });
    for (index, (track, chunk)) in tracks.iter().zip(&chunks.tracks).enumerate() {
        let number = index + 1;
        if let Some(at) = track.broken_at {
            return broken(
                at,
                format!("an event in track {number} makes no sense, and there are no notes before it"),
            );
        }
        if !track.complete && chunk.runs_out {
            return broken(bytes.len(), format!("it breaks off in track {number}, before the first note"));
        }
    }
    if tracks.len() < usize::from(chunks.header.tracks) {
        let (found, stated) = (tracks.len(), chunks.header.tracks);
        return broken(
            bytes.len(),
            format!("it breaks off after {found} of {stated} tracks, before the first note"),
        );
    }
    Ok(())
}

/// Returns the oddities that concern the whole file.
fn oddities(chunks: &Chunks, tracks: &[Track]) -> Vec<Oddity> {
    let mut oddities = Vec::new();
    if chunks.header.format > 2 {
        oddities.push(Oddity::Unreadable { what: "the format number in the header".to_owned() });
    }
    let (stated, found) = (chunks.header.tracks, u16::try_from(tracks.len()).unwrap_or(u16::MAX));
    if stated != found {
        oddities.push(Oddity::TrackCount { stated, found });
    }
    let mut ends = tracks.iter().zip(&chunks.tracks);
    if ends.any(|(track, chunk)| chunk.runs_out && !track.complete) {
        oddities.push(Oddity::Truncated);
    }
    let mut ends = tracks.iter().zip(&chunks.tracks);
    if chunks.wrong_length || ends.any(|(track, chunk)| chunk.runs_out && track.complete) {
        oddities.push(Oddity::ChunkLength);
    }
    if chunks.stray_bytes {
        oddities.push(Oddity::StrayBytes);
    }
    if tracks.iter().any(|track| track.status_missing) {
        oddities.push(Oddity::StatusMissing);
    }
    if tracks.iter().flat_map(|track| &track.keys).any(|(_, key)| key.is_none()) {
        oddities.push(Oddity::BadKeySignature);
    }
    if tracks.iter().flat_map(|track| &track.meters).any(|(_, meter)| meter.is_none()) {
        oddities.push(Oddity::Unreadable { what: "a time signature".to_owned() });
    }
    for (index, track) in tracks.iter().enumerate() {
        let number = index + 1;
        if let Some(at) = track.broken_at {
            oddities
                .push(Oddity::Unreadable { what: format!("the rest of track {number} from byte {at} on") });
        }
        for what in &track.unreadable {
            oddities.push(Oddity::Unreadable { what: format!("a {what} in track {number}") });
        }
    }
    oddities
}

/// Converts ticks to beats.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Clock {
    /// Musical time: a quarter has a fixed number of ticks.
    Beats(Grid),
    /// Real time, read at 120 quarters per minute: a tick is this fraction of a quarter.
    Frames(i64, i64),
}

impl Clock {
    /// Interprets the header's division.
    fn of(division: u16, oddities: &mut Vec<Oddity>) -> Clock {
        /// The division that most programs write; it replaces a division of zero.
        const USUAL: u16 = 480;
        let [frames, ticks] = division.to_be_bytes();
        if frames < 0x80 {
            if division == 0 {
                oddities.push(Oddity::Unreadable { what: "the number of ticks a quarter".to_owned() });
            }
            let quarter = if division == 0 { USUAL } else { division };
            return Clock::Beats(Grid { quarter: u64::from(quarter) });
        }
        oddities.push(Oddity::NoBars);
        // The value 29 means the 29.97 frames per second of NTSC television.
        let (frames, per_seconds) = match frames.cast_signed().unsigned_abs() {
            29 => (30_000, 1_001),
            frames => (i64::from(frames), 1),
        };
        // At 120 quarters per minute, a second has two quarters.
        Clock::Frames(2 * per_seconds, frames * i64::from(ticks.max(1)))
    }

    fn raw(self, tick: u64) -> Beats {
        match self {
            Clock::Beats(grid) => grid.raw(tick),
            Clock::Frames(numerator, denominator) => {
                // Far beyond the longest time, the exact value no longer matters.
                let tick = i64::try_from(tick).unwrap_or(i64::MAX).min(i64::MAX / numerator);
                Beats::new(tick * numerator, denominator)
            }
        }
    }

    fn quarter(self) -> u64 {
        match self {
            Clock::Beats(grid) => grid.quarter,
            Clock::Frames(numerator, denominator) => (denominator / numerator).unsigned_abs().max(1),
        }
    }

    /// Returns the tick at the time limit, [`MAX_QUARTERS`].
    fn last_tick(self) -> u64 {
        self.quarter() * MAX_QUARTERS.unsigned_abs()
    }
}

/// A part whose notes are not yet on the grid.
struct RawPart<'a> {
    track: usize,
    channel: u8,
    name: Option<String>,
    instrument: Option<&'static str>,
    /// The notes in order of onset; at one onset, ornaments come first, then the other notes from the highest down.
    notes: &'a [RawNote],
}

/// An oddity within a part, at a point in time.
struct PartOddity {
    oddity: Oddity,
    part: usize,
    at: Beats,
}

/// Combines the tracks into a score.
fn score(
    mut tracks: Vec<Track>,
    clock: Clock,
    format: u16,
    mut oddities: Vec<Oddity>,
) -> Result<Score, ImportError> {
    for track in &mut tracks {
        track.sort_notes();
        track.take_out_silent_chords();
    }
    let tracks = tracks.as_slice();
    let tempo = tempo(tracks, clock);
    let song = display::song(tracks);
    let (title, raw_parts) = parts(tracks, format, song.title);
    if raw_parts.len() > MAX_PARTS {
        return Err(ImportError::TooLarge { what: "the number of parts", limit: MAX_PARTS, unit: "parts" });
    }
    let mut local: Vec<PartOddity> = Vec::new();
    let mut parts: Vec<Part> = Vec::with_capacity(raw_parts.len());
    let mut end = Beats::ZERO;
    let mut places = match clock {
        Clock::Beats(grid) => Some(Places::on(grid)),
        Clock::Frames(..) => None,
    };
    let mut signatures = signatures(tracks, clock);
    if signatures.len() > MAX_SIGNATURES {
        signatures.truncate(MAX_SIGNATURES);
        oddities
            .push(Oddity::Unreadable { what: format!("key signatures after the first {MAX_SIGNATURES}") });
    }
    for (index, raw) in raw_parts.iter().enumerate() {
        if raw.notes.iter().any(|note| note.onset >= clock.last_tick()) {
            let limit = usize::try_from(MAX_QUARTERS).unwrap_or(usize::MAX);
            return Err(ImportError::TooLarge { what: "the tune's length", limit, unit: "quarter notes" });
        }
        let track = &tracks[raw.track];
        let (notes, part_end) = timed_notes(raw, index, clock, places.as_mut(), &tempo, track, &mut local);
        end = end.max(part_end);
        parts.push(Part {
            name: raw.name.clone(),
            instrument: raw.instrument,
            notes,
            written: Vec::new(),
            signatures: signatures.clone(),
            chords: Vec::new(),
            percussion: raw.channel == PERCUSSION,
        });
    }
    let (sung, lost) = lyrics::set(tracks, || onsets(&raw_parts), clock.quarter());
    for lyrics::Sung { part, note, lyric } in sung {
        parts[part].notes[note].note.add_lyric(lyric);
    }
    let lost = lost.into_iter().map(|(part, tick)| (part, clock.raw(tick)));
    local.extend(lost.map(|(part, at)| PartOddity { oddity: Oddity::WordsWithoutNote, part, at }));

    let (bars, cut) = bars::build(&meters(tracks, clock, &mut oddities), end);
    for &bar in cut.iter().take(MAX_CUT_BARS) {
        let at = bars[bar].start;
        local.extend((0..parts.len()).map(|part| PartOddity { oddity: Oddity::BarCut, part, at }));
    }
    let bar_at = |at: Beats| bars.partition_point(|bar| bar.start <= at).saturating_sub(1);
    for part in &mut parts {
        // The notes are in order, so a single pass over the bars is enough.
        let mut bar = 0;
        for note in &mut part.notes {
            while bars.get(bar + 1).is_some_and(|next| next.start <= note.note.onset) {
                bar += 1;
            }
            note.note.bar = bar;
        }
    }
    let global = oddities.into_iter().map(|oddity| Warning { oddity, place: None, text: None });
    let local = local.into_iter().map(|PartOddity { oddity, part, at }| {
        let bar: &Bar = &bars[bar_at(at)];
        let part = u16::try_from(part + 1).unwrap_or(u16::MAX);
        Warning { oddity, place: Some(Place { part, bar: bar.number, beat: bar.beat(at) }), text: None }
    });
    let warnings = global.chain(local).collect();
    let mut rights: Vec<String> = Vec::new();
    for text in tracks.iter().flat_map(|track| &track.rights).filter_map(|text| text::name(text)) {
        // Every track may repeat the same text.
        if rights.len() < MAX_RIGHTS && !rights.contains(&text) {
            rights.push(text);
        }
    }
    let credits = Credits { creators: song.creators, rights };
    let counted_bars = bars::are_counted(&bars);
    Ok(Score { title, credits, bars, counted_bars, tempo, parts, warnings, ..Score::default() })
}

/// Returns the title and the parts, in order of track and channel; the notes of each track must be sorted by channel.
/// `stated` is the title in the tags of the lyrics, if they have one.
fn parts<'a>(tracks: &'a [Track], format: u16, stated: Option<String>) -> (Option<String>, Vec<RawPart<'a>>) {
    // By the standard, the first track's name is the name of the piece, but programs also write an instrument's name
    // there. A name used as the title is not a part's name.
    let first_name = tracks.first().and_then(|track| track.name).and_then(text::name);
    let first_name = first_name.filter(|name| format != 2 && text::can_be_title(name));
    let only_first_is_named =
        tracks.iter().skip(1).all(|track| track.name.is_none() || track.notes.is_empty());
    let first_has_notes = tracks.first().is_some_and(|track| !track.notes.is_empty());
    let name_is_title = !first_has_notes || only_first_is_named;
    let stated = stated.filter(|title| !heading::is_stopgap(title)).or_else(|| lyrics::karaoke_title(tracks));
    let title = stated.or(first_name.filter(|_| name_is_title));

    let mut parts = Vec::new();
    for (index, track) in tracks.iter().enumerate() {
        let track_name = track.name.and_then(text::name).filter(|name| title.as_ref() != Some(name));
        let channels: Vec<&[RawNote]> = track.notes.chunk_by(|a, b| a.channel == b.channel).collect();
        for &notes in &channels {
            let channel = notes[0].channel;
            // A track's name that distinguishes the part is preferred to the MIDI program, which may be a mere
            // placeholder.
            let is_named = track_name.is_some() && channels.len() == 1;
            let program = track.program(channel).filter(|_| channel != PERCUSSION && !is_named);
            let (name, instrument) = (track_name.clone(), program.map(instruments::name));
            parts.push(RawPart { track: index, channel, name, instrument, notes });
        }
    }
    (title, parts)
}

/// Returns the notes of a part in exact time, and the latest end of a note; adds the oddities of the notes to `local`.
fn timed_notes(
    raw: &RawPart<'_>,
    part: usize,
    clock: Clock,
    places: Option<&mut Places>,
    tempo: &TempoMap,
    track: &Track,
    local: &mut Vec<PartOddity>,
) -> (Vec<PartNote>, Beats) {
    let last_tick = clock.last_tick();
    let ticks: Vec<(u64, u64)> = raw
        .notes
        .iter()
        .map(|note| {
            // A note that never ends and starts at the end of its track lasts a quarter.
            let is_cut = note.hanging && note.end <= note.onset;
            let end = if is_cut { note.onset + clock.quarter() } else { note.end };
            (note.onset, end.min(last_tick))
        })
        .collect();
    let OnGrid { notes, moved, lengthened } = match (clock, places) {
        (Clock::Beats(grid), Some(places)) => {
            grid.settle(&ticks, places, |tick| u64::from(tempo.micros_per_quarter(grid.raw(tick))))
        }
        _ => OnGrid {
            notes: ticks.iter().map(|&(onset, end)| (clock.raw(onset), clock.raw(end))).collect(),
            moved: None,
            lengthened: None,
        },
    };
    let first = notes.first().map_or(Beats::ZERO, |&(onset, _)| onset);
    let last = notes.iter().map(|&(_, end)| end).max().unwrap_or(Beats::ZERO);
    let mut odd = |oddity: Oddity, at: Beats| local.push(PartOddity { oddity, part, at });
    if let Some(micros) = moved {
        let mean_ms = u32::try_from(micros.div_ceil(1_000)).unwrap_or(u32::MAX);
        odd(Oddity::OffGrid { mean_ms }, first);
    }
    if let Some(&(onset, _)) = lengthened.and_then(|index| notes.get(index)) {
        odd(Oddity::CutShort, onset);
    }
    if let Some(&tick) = track.silent_chords.get(&raw.channel) {
        odd(Oddity::SilentChords, clock.raw(tick));
    }
    let is_ever_bent = raw.channel != PERCUSSION && !track.bends.is_empty();
    let timed = raw.notes.iter().zip(&notes).filter_map(|(note, &(onset, end))| {
        if note.hanging {
            odd(Oddity::HangingNote, onset);
        }
        if is_ever_bent && track.is_bent(note) {
            odd(Oddity::PitchBend, onset);
        }
        let timed = Note::new(onset, end - onset, Pitch::new(note.key)?, 0);
        // Some programs write an ornament as a note without length.
        let timed = Note { grace: timed.duration == Beats::ZERO, ..timed };
        Some(PartNote { note: timed, voice: 0 })
    });
    let mut all = Vec::with_capacity(raw.notes.len());
    all.extend(timed);
    (all, last)
}

/// Finds the note that gets the words at each onset of each part: the highest note.
fn onsets(parts: &[RawPart<'_>]) -> Vec<lyrics::Onsets> {
    let onsets_of = |part: &RawPart<'_>| {
        let mut notes: Vec<(u64, usize)> = Vec::new();
        for (index, note) in part.notes.iter().enumerate() {
            match notes.last_mut() {
                // The first note with a length replaces an ornament at the same onset.
                Some((onset, taker)) if *onset == note.onset => {
                    if part.notes[*taker].end <= note.onset && note.end > note.onset {
                        *taker = index;
                    }
                }
                _ => notes.push((note.onset, index)),
            }
        }
        lyrics::Onsets { track: part.track, notes }
    };
    parts.iter().map(onsets_of).collect()
}

/// Merges one kind of entry from all tracks in order of place; entries at one place keep the order of the file.
fn in_order<'a, T: Copy + 'a>(
    tracks: &'a [Track],
    clock: Clock,
    events: impl Fn(&'a Track<'a>) -> &'a Vec<(u64, T)>,
) -> Vec<(Beats, T)> {
    let mut all: Vec<(u64, T)> = tracks.iter().flat_map(|track| events(track).iter().copied()).collect();
    all.sort_by_key(|&(tick, _)| tick);
    all.into_iter().map(|(tick, what)| (clock.raw(tick), what)).collect()
}

fn tempo(tracks: &[Track], clock: Clock) -> TempoMap {
    match clock {
        Clock::Beats(_) => {
            let said = in_order(tracks, clock, |track| &track.tempos);
            // Many programs write the default tempo if the user set none.
            let is_default = |&(at, micros): &(Beats, u32)| {
                at == Beats::ZERO && micros == TempoMap::DEFAULT_MICROS_PER_QUARTER
            };
            TempoMap::new(if said.iter().all(is_default) { Vec::new() } else { said })
        }
        Clock::Frames(..) => TempoMap::new([(Beats::ZERO, TempoMap::DEFAULT_MICROS_PER_QUARTER)]),
    }
}

/// Returns the plausible time signatures, in order. A time signature of less than a sixteenth is skipped, and one less
/// than a sixteenth before the next is replaced by the next, because both would only multiply the bars.
fn meters(tracks: &[Track], clock: Clock, oddities: &mut Vec<Oddity>) -> Vec<(Beats, Meter)> {
    let mut kept: Vec<(Beats, Meter)> = Vec::new();
    if matches!(clock, Clock::Frames(..)) {
        return kept;
    }
    let least = Beats::new(1, 4);
    let (mut too_short, mut too_near) = (false, false);
    let all = in_order(tracks, clock, |track| &track.meters).into_iter();
    for (at, meter) in all.filter_map(|(at, meter)| Some((at, meter?))) {
        match kept.last_mut() {
            _ if meter.bar() < least => too_short = true,
            Some(last) if at - last.0 < least => {
                too_near |= at > last.0;
                last.1 = meter;
            }
            _ => kept.push((at, meter)),
        }
    }
    for (is_so, what) in [
        (too_short, "a time signature of less than a sixteenth".to_owned()),
        (too_near, "a time signature less than a sixteenth before the next".to_owned()),
        (kept.len() > MAX_METERS, format!("time signatures after the first {MAX_METERS}")),
    ] {
        oddities.extend(is_so.then_some(Oddity::Unreadable { what }));
    }
    kept.truncate(MAX_METERS);
    kept
}

fn signatures(tracks: &[Track], clock: Clock) -> Vec<KeySignature> {
    let mut kept: Vec<KeySignature> = Vec::new();
    for (at, key) in in_order(tracks, clock, |track| &track.keys) {
        let Some((sharps, minor)) = key else { continue };
        let mode = Some(if minor { Mode::Minor } else { Mode::Major });
        if kept.last().is_some_and(|last| last.at == at) {
            kept.pop();
        }
        if kept.last().is_none_or(|last| (last.sharps, last.mode) != (sharps, mode)) {
            kept.push(KeySignature { at, sharps, mode });
        }
    }
    kept
}
