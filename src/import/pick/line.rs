//! Reduces a part to one note at a time: chooses the voice, takes the top notes of chords, and cuts overlaps.

use std::cmp::Reverse;

use itertools::Itertools;

use super::{
    super::{Oddity, Part, PartNote, Warning},
    hands::lower_hand,
    place, sweep,
};
use crate::{
    melody::{Bar, Note},
    pitch::Pitch,
    time::Beats,
};

/// How far outside the chosen voice's range another voice may go and still take over, in semitones. The second voice of
/// a divided tune stays close to the range; a left hand that plays alone does not.
const TAKEOVER_REACH: u8 = 7;

/// The longest note, in quarters: a longer one is damage, not music, and would fill pages with ties.
const LONGEST_HELD: i32 = 256;

/// The notes of a melody, with warnings about the reduction.
pub(super) struct MelodyLine {
    /// The notes, one at a time, in order.
    pub(super) notes: Vec<Note>,
    /// The warnings about notes left out or cut.
    pub(super) warnings: Vec<Warning>,
    /// The voice of each bar.
    pub(super) voices: Voices,
}

/// The voice that the melody follows, bar by bar.
#[derive(Default)]
pub(super) struct Voices {
    chosen: u16,
    /// The bars in which another voice takes over, in order.
    others: Vec<(usize, u16)>,
}

impl Voices {
    /// Returns the voice of a bar.
    pub(super) fn of(&self, bar: usize) -> u16 {
        let other = self.others.binary_search_by_key(&bar, |&(other, _)| other);
        other.map_or(self.chosen, |index| self.others[index].1)
    }
}

/// Reduces a part, in n log n steps, to the voice that the user asked for or to the likeliest voice; `number` is the
/// part's number, used for the places of warnings.
pub(super) fn reduce(part: &Part, voice: Option<u16>, bars: &[Bar], number: u16) -> MelodyLine {
    let warn =
        |oddity: Oddity, note: &Note| Warning { oddity, place: Some(place(note, bars, number)), text: None };
    let (mut taken, mut warnings, voices) = match voice {
        Some(asked) => {
            let own = part.notes.iter().filter(|note| note.voice == asked);
            let voices = Voices { chosen: asked, others: Vec::new() };
            (own.map(|note| &note.note).collect(), Vec::new(), voices)
        }
        None => one_voice(part, bars, warn),
    };
    // At one onset the ornaments come first; the stable sort keeps their order.
    taken.sort_by_key(|note| (note.onset, !note.grace));

    let lower_hand = lower_hand(&taken);
    let mut notes: Vec<Note> = Vec::with_capacity(taken.len());
    for moment in taken.chunk_by(|a, b| a.onset == b.onset) {
        let (graces, chord) = moment.split_at(moment.partition_point(|note| note.grace));
        let Some(top) = top_of(chord) else {
            warnings.extend(graces.iter().map(|grace| warn(Oddity::GraceWithoutNote, grace)));
            continue;
        };
        if lower_hand.is_some_and(|highest| top.pitch <= highest) {
            warnings.push(warn(Oddity::AccompanimentAlone, &top));
            continue;
        }
        if chord.iter().any(|note| note.pitch != top.pitch) {
            warnings.push(warn(Oddity::ChordReduced, &top));
        }
        if let Some(before) = notes.last_mut()
            && before.end() > top.onset
        {
            if lies_under(&top, before) {
                warnings.push(warn(Oddity::ChordReduced, &top));
                continue;
            }
            warnings.push(warn(Oddity::OverlapCut, before));
            before.duration = top.onset - before.onset;
        }
        notes.extend(graces.iter().map(|&grace| Note { bar: top.bar, ..grace.clone() }));
        notes.push(top);
    }
    let longest = Beats::quarters(LONGEST_HELD);
    for note in notes.iter_mut().filter(|note| note.duration > longest) {
        warnings.push(warn(Oddity::HeldTooLong { quarters: LONGEST_HELD }, note));
        note.duration = longest;
    }
    MelodyLine { notes, warnings, voices }
}

/// Returns the top note of a chord, with the signs of all its notes; if the top note has no words, it gets those of
/// another note.
fn top_of(chord: &[&Note]) -> Option<Note> {
    let mut top = (*chord.iter().max_by_key(|note| (note.pitch, note.duration))?).clone();
    if top.lyrics.is_empty()
        && let Some(worded) = chord.iter().find(|note| !note.lyrics.is_empty())
    {
        top.lyrics = worded.lyrics.clone();
    }
    top.breath_after |= chord.iter().any(|note| note.breath_after);
    chord.iter().for_each(|note| top.signs.shared_with(note.signs));
    Some(top)
}

/// Whether a note that starts while another is held belongs to an inner voice, and is not the next note of the line.
///
/// In legato playing a note outlasts the start of the next note only a little; a later note that is not lower also
/// continues the line. An inner voice ends no later than the upper note, or sounds together with it for a long time.
fn lies_under(note: &Note, held: &Note) -> bool {
    let overlap = held.end() - note.onset;
    note.pitch < held.pitch
        && (note.end() <= held.end()
            || overlap.times(4, 1) > held.duration
            || overlap.times(2, 1) > note.duration)
}

/// Returns the notes of the voice that is on top most of the time, and of the voices that take over in bars in which
/// that voice rests.
fn one_voice<'a>(
    part: &'a Part,
    bars: &[Bar],
    warn: impl Fn(Oddity, &Note) -> Warning,
) -> (Vec<&'a Note>, Vec<Warning>, Voices) {
    let voices = part.notes.iter().map(|note| usize::from(note.voice) + 1).max().unwrap_or(0);
    if voices < 2 {
        return (part.notes.iter().map(|note| &note.note).collect(), Vec::new(), Voices::default());
    }
    let mains = || part.notes.iter().filter(|note| !note.note.grace);
    let (times, _) =
        sweep::times(mains().map(|note| (usize::from(note.voice), &note.note)), part.notes.len(), voices);
    let on_top: Vec<u64> = times.iter().map(|time| time.on_top).collect();
    // A voice with only ornaments is never the tune, however short the other voices' notes are.
    let mut sings = vec![false; voices];
    mains().for_each(|note| sings[usize::from(note.voice)] = true);
    let likeliest = |&voice: &usize| (sings[voice], on_top[voice], Reverse(voice));
    let chosen = (0..voices).max_by_key(likeliest).unwrap_or(0);
    let is_chosen = |note: &&PartNote| usize::from(note.voice) == chosen;
    let silent = silent_bars(mains().filter(is_chosen).map(|note| &note.note), bars);
    let range = mains().filter(is_chosen).map(|note| note.note.pitch).minmax().into_option();

    let (mut taken, mut warnings) = (Vec::with_capacity(part.notes.len()), Vec::new());
    let mut left_out: Option<&Note> = None;
    let mut takeovers: Vec<(usize, u16)> = Vec::new();
    for (bar, notes) in &part.notes.iter().sorted_by_key(|note| note.note.bar).chunk_by(|note| note.note.bar)
    {
        let notes: Vec<&PartNote> = notes.collect();
        let substitute = if silent[bar] { substitute(&notes, &on_top, range) } else { None };
        for &note in &notes {
            if is_chosen(&note) || Some(note.voice) == substitute {
                taken.push(&note.note);
            } else if left_out.is_none_or(|first| first.onset > note.note.onset) {
                left_out = Some(&note.note);
            }
        }
        if let Some(voice) = substitute {
            let goes_on = takeovers.last().copied() == bar.checked_sub(1).map(|before| (before, voice));
            let first = notes.iter().filter(|note| note.voice == voice).min_by_key(|note| note.note.onset);
            if let Some(first) = first.filter(|_| !goes_on) {
                warnings.push(warn(Oddity::VoiceTakesOver { voice: voice + 1 }, &first.note));
            }
            takeovers.push((bar, voice));
        } else if let Some(first) = notes.first().filter(|_| silent[bar]) {
            warnings.push(warn(Oddity::VoiceLeftOut { voice: first.voice + 1 }, &first.note));
        }
    }
    if let Some(first) = left_out {
        let (voice, of) = (clamped(chosen + 1), clamped(voices));
        warnings.push(warn(Oddity::VoiceChosen { voice, of }, first));
    }
    (taken, warnings, Voices { chosen: chosen as u16, others: takeovers })
}

/// Returns the voice that takes over in a bar: of the voices near the chosen voice's range, the one that is on top most
/// of the time.
fn substitute(bar: &[&PartNote], on_top: &[u64], range: Option<(Pitch, Pitch)>) -> Option<u16> {
    let (lowest, highest) = range?;
    let lowest = lowest.midi().saturating_sub(TAKEOVER_REACH);
    let highest = highest.midi().saturating_add(TAKEOVER_REACH);
    let near = |voice: u16| {
        let mut own = bar.iter().filter(|note| note.voice == voice);
        own.all(|note| (lowest..=highest).contains(&note.note.pitch.midi()))
    };
    bar.iter()
        .filter(|note| !note.note.grace)
        .map(|note| note.voice)
        .sorted()
        .dedup()
        .filter(|&voice| near(voice))
        .max_by_key(|&voice| (on_top[usize::from(voice)], Reverse(voice)))
}

/// Returns, for each bar, whether none of the notes sounds in the bar.
fn silent_bars<'a>(notes: impl Iterator<Item = &'a Note>, bars: &[Bar]) -> Vec<bool> {
    // The loop adds one where a note's bars begin and subtracts one after they end, so that a running sum counts the
    // notes in each bar.
    let mut changes = vec![0_i64; bars.len() + 1];
    for note in notes {
        let after = bars.partition_point(|bar| bar.start < note.end()).max(note.bar + 1);
        changes[note.bar] += 1;
        changes[after] -= 1;
    }
    changes
        .iter()
        .take(bars.len())
        .scan(0, |sounding, change| {
            *sounding += change;
            Some(*sounding == 0)
        })
        .collect()
}

fn clamped(n: usize) -> u16 {
    u16::try_from(n).unwrap_or(u16::MAX)
}
