//! Picks one melody from the parts, and gives the reason.
//!
//! 1. The part: the one the user asked for, else the only one with notes, else the one with the most points of
//!    [`Evidence`]; never percussion.
//! 2. Its voice: the one the user asked for, else the one that lies on top most of the time. Where that voice rests for
//!    whole bars, another voice in its range takes over.
//! 3. One note at a time: the top note of a chord; a held note is cut where the next begins; low notes of a lower hand that
//!    plays on while the tune rests are left out.
//! 4. Words: from the notes that were left out, or from another part that sings at the same time.
//!
//! Whatever is left out or cut on the way is a [`Warning`](super::Warning) with its place.

mod evidence;
mod hands;
mod line;
mod names;
mod sweep;
mod lyrics;

use itertools::Itertools;

use super::{AskedPart, Format, ImportError, ImportOptions, Imported, Part, PartSummary, Score, abc};
use crate::{
    melody::{Bar, Melody, Note, tempo_words},
    time::{Beats, Meter, Place},
};
pub use evidence::{Clue, Evidence, Fact};

/// Whether a name says what a part does ("Melody", "Bass") rather than what the tune is called.
pub(super) fn names_a_role(name: &str) -> bool {
    names::role(name).is_some()
}

/// Which part became the melody.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct PartChoice {
    /// The part's number, counted from 1.
    pub part: usize,
    /// Why this one.
    pub reason: ChoiceReason,
    /// The voice of the part, counted from 1, where the user asked for one.
    pub voice: Option<usize>,
    /// The evidence on every part with pitched notes, in order of the file; empty if there is only one.
    pub evidence: Vec<Evidence>,
}

/// The reason for taking a part as the melody.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum ChoiceReason {
    /// It is the only part with notes.
    OnlyPart,
    /// The user named it.
    Asked,
    /// It looks most like a melody.
    Evidence {
        /// The facts in which it beats the runner-up, the weightiest first; never empty unless the two are equal.
        ahead_in: Vec<Fact>,
        /// The next likely part, counted from 1.
        runner_up: usize,
        /// By how many points it leads; zero if the two are equal and the earlier one was taken.
        lead: i32,
    },
}

/// Chooses a part and reduces it to one note at a time.
///
/// # Errors
///
/// [`ImportError::NoNotes`] when no part has pitched notes; [`ImportError::NoSuchPart`] and
/// [`ImportError::NoSuchVoice`] when the part or voice asked for does not exist or has no notes.
pub fn melody(mut score: Score, format: Format, options: &ImportOptions) -> Result<Imported, ImportError> {
    make_bars_sound(&mut score);
    let choice = choose(&score.parts, options)?;
    let index = choice.part - 1;
    let number = u16::try_from(choice.part).unwrap_or(u16::MAX);
    let parts: Vec<PartSummary> = score.parts.iter().map(summary).collect();

    let part = &score.parts[index];
    let voice = choice.voice.map(|asked| asked_voice(part, choice.part, asked)).transpose()?;
    let mut line = line::reduce(part, voice, &score.bars, number);
    lyrics::carry_over(&mut line.notes, &score.parts, index);
    let bars = score.bars.len();
    for written in part.written.iter().filter(|written| written.bar < bars) {
        if line.voices.of(written.bar) == written.voice {
            score.bars[written.bar].written.push(written.written);
        }
    }
    // A lead sheet may have its chord symbols or its key over another staff; at sounding pitch they are the same.
    let chords = first_filled(&score.parts, index, |part| &part.chords);
    let signatures = first_filled(&score.parts, index, |part| &part.signatures);

    // Oddities of the other parts do not affect the melody.
    let mut warnings = score.warnings;
    warnings.retain(|warning| warning.place.is_none_or(|place| place.part == number));
    warnings.append(&mut line.warnings);
    warnings.sort_by_key(|warning| warning.place);

    tempo_words::set_over_notes(&mut score.tempo_words, &line.notes);
    let melody = Melody {
        title: score.title,
        credits: score.credits,
        notes: line.notes,
        bars: score.bars,
        counted_bars: score.counted_bars,
        signatures,
        chords,
        tempo: score.tempo,
        tempo_words: score.tempo_words,
    };
    Ok(Imported { format, melody, parts, choice, unfolded: false, warnings })
}

/// Chooses a part, or returns why there is none.
fn choose(parts: &[Part], options: &ImportOptions) -> Result<PartChoice, ImportError> {
    let evidence = evidence::weigh(parts);
    let with_notes: Vec<usize> = evidence.iter().map(|evidence| evidence.part).collect();
    let asked = options.part.as_ref().map(|asked| asked_part(asked, parts, &with_notes)).transpose()?;
    let (part, reason) = match (asked, with_notes.as_slice()) {
        (Some(asked), _) if with_notes.contains(&asked) => (asked, ChoiceReason::Asked),
        (Some(asked), _) => {
            let empty = (1..=parts.len()).contains(&asked);
            return Err(ImportError::NoSuchPart { asked, parts: parts.len(), empty });
        }
        (None, []) => return Err(ImportError::NoNotes),
        (None, &[only]) => (only, ChoiceReason::OnlyPart),
        (None, _) => most_likely(&evidence),
    };
    Ok(PartChoice { part, reason, voice: options.voice, evidence })
}

/// Returns the number of the part asked for. A name is that of one part with notes.
fn asked_part(asked: &AskedPart, parts: &[Part], with_notes: &[usize]) -> Result<usize, ImportError> {
    let asked = match asked {
        AskedPart::Number(number) => return Ok(*number),
        AskedPart::Name(asked) => asked,
    };
    let name =
        |number: usize| summary(&parts[number - 1]).name.unwrap_or_else(|| "without a name".to_owned());
    let named: Vec<(usize, String)> = with_notes.iter().map(|&number| (number, name(number))).collect();
    let folded = abc::text::folded(asked);
    let fitting = |fits: fn(&str, &str) -> bool| -> Vec<(usize, String)> {
        named.iter().filter(|(_, name)| fits(&abc::text::folded(name), &folded)).cloned().collect()
    };
    let mut fit = fitting(|name, asked| name == asked);
    if fit.len() != 1 {
        fit = fitting(|name, asked| name.contains(asked));
    }
    match fit.as_slice() {
        [(number, _)] => Ok(*number),
        [] => Err(ImportError::NoSuchName { asked: asked.clone(), parts: named, fit: false }),
        _ => Err(ImportError::NoSuchName { asked: asked.clone(), parts: fit, fit: true }),
    }
}

/// Returns the voice asked for, counted from 0, if it has a note that can be played.
fn asked_voice(part: &Part, number: usize, asked: usize) -> Result<u16, ImportError> {
    let has_notes = |voice: &u16| part.notes.iter().any(|note| note.voice == *voice && !note.note.grace);
    let voice = asked.checked_sub(1).and_then(|voice| u16::try_from(voice).ok()).filter(has_notes);
    voice.ok_or(ImportError::NoSuchVoice { asked, part: number, voices: voices(part) })
}

fn voices(part: &Part) -> usize {
    part.notes.iter().map(|note| usize::from(note.voice) + 1).max().unwrap_or(0)
}

/// Finds the part with the most points and the runner-up; of equals the earlier. Needs at least two parts.
fn most_likely(evidence: &[Evidence]) -> (usize, ChoiceReason) {
    let mut ranked: Vec<&Evidence> = evidence.iter().collect();
    ranked.sort_by_key(|evidence| (-evidence.points(), evidence.part));
    let (first, second) = (ranked[0], ranked[1]);
    let reason = ChoiceReason::Evidence {
        ahead_in: first.ahead_of(second),
        runner_up: second.part,
        lead: first.points() - second.points(),
    };
    (first.part, reason)
}

fn summary(part: &Part) -> PartSummary {
    let pitches = part.notes.iter().map(|note| note.note.pitch);
    let range = if part.percussion { None } else { pitches.minmax().into_option() };
    let name = match (&part.name, part.instrument) {
        (Some(name), Some(instrument)) => Some(format!("{name} ({instrument})")),
        (Some(name), None) => Some(name.clone()),
        (None, instrument) => instrument.map(str::to_owned),
    };
    PartSummary { name, notes: part.notes.len(), voices: voices(part), range, percussion: part.percussion }
}

/// Returns the chosen part's list, or the first other part's if it is empty.
fn first_filled<T: Clone>(parts: &[Part], chosen: usize, list: impl Fn(&Part) -> &Vec<T>) -> Vec<T> {
    std::iter::once(&parts[chosen])
        .chain(parts)
        .map(list)
        .find(|list| !list.is_empty())
        .cloned()
        .unwrap_or_default()
}

/// Makes sure that every note's bar exists, so that later code can rely on it.
fn make_bars_sound(score: &mut Score) {
    let notes = || score.parts.iter().flat_map(|part| &part.notes);
    if score.bars.is_empty() {
        let end = notes().map(|note| note.note.end()).max().unwrap_or(Beats::ZERO);
        let bar = Bar { length: end, meter: None, ..Bar::full(1, Beats::ZERO, Meter::COMMON) };
        score.bars.push(bar);
    }
    let last = score.bars.len() - 1;
    for note in score.parts.iter_mut().flat_map(|part| &mut part.notes) {
        note.note.bar = note.note.bar.min(last);
    }
}

/// The place of a note.
fn place(note: &Note, bars: &[Bar], part: u16) -> Place {
    let bar = &bars[note.bar];
    Place { part, bar: bar.number, beat: bar.beat(note.onset) }
}
