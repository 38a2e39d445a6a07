//! Picks one melody from the parts, and gives the reason for the choice.
//!
//! 1. The part: the one that the user asked for; otherwise the only part with notes; otherwise the part with the most
//!    points of [`Evidence`]. Percussion is never taken.
//! 2. The voice of the part: the one that the user asked for; otherwise the voice that is on top most of the time. If
//!    that voice rests for whole bars, another voice in its range takes over.
//! 3. One note at a time: the top note of a chord is taken, and a held note is cut where the next one begins. The notes
//!    of a left hand that plays on while the tune rests are left out.
//! 4. The words: if the melody has none, they come from notes that were left out, or from another part that sings at
//!    the same time.
//!
//! A [`Warning`](super::Warning) with its place reports every note that is left out or cut.

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

/// Whether a name states the role of a part ("Melody", "Bass") rather than the title of a tune.
pub(super) fn names_a_role(name: &str) -> bool {
    names::role(name).is_some()
}

/// The part that became the melody.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct PartChoice {
    /// The part's number, counted from 1.
    pub part: usize,
    /// The reason for choosing this part.
    pub reason: ChoiceReason,
    /// The voice of the part, counted from 1, if the user asked for a voice.
    pub voice: Option<usize>,
    /// The evidence on every part with pitched notes, in the order of the file. If there is only one such part, its
    /// evidence has no clues.
    pub evidence: Vec<Evidence>,
}

/// The reason for choosing the part.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum ChoiceReason {
    /// The part is the only one with notes.
    OnlyPart,
    /// The user asked for the part.
    Asked,
    /// The part looks most like a melody.
    Evidence {
        /// The facts in which the part beats the runner-up, the greatest difference first; empty only if the two have
        /// equal points, or if the lead comes only from the runner-up's name.
        ahead_in: Vec<Fact>,
        /// The number of the second likeliest part, counted from 1.
        runner_up: usize,
        /// The lead in points; zero if the two parts are equal and the earlier one was taken.
        lead: i32,
    },
}

/// Chooses a part and reduces it to one note at a time.
///
/// # Errors
///
/// Returns [`ImportError::NoNotes`] if no part has pitched notes; [`ImportError::NoSuchPart`] or
/// [`ImportError::NoSuchVoice`] if the part or voice that the user asked for does not exist or has no notes;
/// [`ImportError::NoSuchName`] if not exactly one part has the name that the user gave.
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
    // A lead sheet may have its chord symbols or its key over another staff; at sounding pitch they apply to every
    // part.
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
        rhythm: score.rhythm,
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

/// Chooses a part; returns an error if no part has notes, or if the user's choice does not fit exactly one part.
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

/// Returns the number of the part that the user asked for. A name must match exactly one part with notes.
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

/// Returns the voice that the user asked for, counted from 0, if it has a note other than a grace note.
fn asked_voice(part: &Part, number: usize, asked: usize) -> Result<u16, ImportError> {
    let has_notes = |voice: &u16| part.notes.iter().any(|note| note.voice == *voice && !note.note.grace);
    let voice = asked.checked_sub(1).and_then(|voice| u16::try_from(voice).ok()).filter(has_notes);
    voice.ok_or(ImportError::NoSuchVoice { asked, part: number, voices: voices(part) })
}

fn voices(part: &Part) -> usize {
    part.notes.iter().map(|note| usize::from(note.voice) + 1).max().unwrap_or(0)
}

/// Finds the part with the most points, and the runner-up; of equal parts the earlier one wins. There must be at least
/// two parts.
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

/// Returns the chosen part's list, or the first nonempty list of another part if the chosen part's is empty.
fn first_filled<T: Clone>(parts: &[Part], chosen: usize, list: impl Fn(&Part) -> &Vec<T>) -> Vec<T> {
    std::iter::once(&parts[chosen])
        .chain(parts)
        .map(list)
        .find(|list| !list.is_empty())
        .cloned()
        .unwrap_or_default()
}

/// Ensures that every note's bar exists, so that later code can rely on it.
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

/// Returns the place of a note.
fn place(note: &Note, bars: &[Bar], part: u16) -> Place {
    let bar = &bars[note.bar];
    Place { part, bar: bar.number, beat: bar.beat(note.onset) }
}
