//! Compares a typed tab with the tune, and with the playing of least effort.

use super::{
    Difference,
    align::{self, Alignment, Expected, Step, Wanted},
    differences,
};
use crate::{
    harp::{Action, Bend, Breath, Harp, Technique, Tuning},
    pitch::{Interval, Pitch, PitchClass},
    search::{
        Approach, Request,
        path::{self, Reach, Timeline},
        price,
    },
    tab::{
        Style,
        read::{TabText, TypedNote},
    },
};

/// The result of checking a tab.
#[derive(Clone, PartialEq, Debug)]
pub struct Lesson<'a> {
    /// The notes of the tab in the order in which they were compared.
    pub typed: Vec<TypedNote>,
    /// The steps of the alignment between tune and tab.
    pub steps: Vec<Step>,
    /// Whether `typed` is the tab with its repeats written out.
    pub performed: bool,
    /// Whether `typed` is the tab with blow and draw exchanged, because its up arrows mean draw.
    pub turned: bool,
    /// Whether `typed` is the tab with its separate dashes read as lines between notes and not as signs.
    pub lines_between: bool,
    /// The number of notes of the tune that the tab has right.
    pub right: usize,
    /// Whether the tab is of this tune: its faults are at most half as many as its notes. Lost signs do not count as
    /// faults here, and neither do the notes left out before the tab's first note and after its last.
    pub same_tune: bool,
    /// The number of grace notes that the tab leaves out; leaving them out is no fault.
    pub graces_left_out: usize,
    /// The differences from the tune, in order.
    pub faults: Vec<Fault>,
    /// The harp on which the tab would be in the expected key, if it is not in that key on the given harp.
    pub in_key: Option<Harp>,
    /// A harp of another tuning that the tab fits better, and the number of faults on that harp. This harp is searched
    /// for only if tune and tab have no more pairs of notes than [`align::MOST_WORK`].
    pub other_tuning: Option<(Harp, usize)>,
    /// The least technique that covers both the player's and the tab's; both playings are priced with it.
    pub technique: Technique,
    /// The tab with its faults corrected: a wrong note by the closest action on its hole if there is one, all else as
    /// cheaply as possible. Correct notes stay as typed.
    pub given: Approach<'a>,
    /// The playing of least effort on the same harp, in the same octave and key.
    pub least: Approach<'a>,
    /// The notes that the two playings sound differently.
    pub differences: Vec<Difference>,
}

/// A difference between the tab and the tune.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Fault {
    /// The kind of the fault.
    pub kind: FaultKind,
    /// The index of the note in the tune. For an added note, the index of the note before which it is typed, or of the
    /// last note.
    pub note: usize,
    /// The index of the note in the tab. For a note left out, the index of the note after which it belongs.
    pub typed: Option<usize>,
    /// The action to play instead; `None` for an added note, or if the harp and the player cannot sound the note.
    pub wants: Option<Action>,
    /// The pitch that the tune requires; `None` for an added note.
    pub pitch: Option<Pitch>,
    /// The pitch that the tab sounds; `None` if the harp cannot sound it.
    pub has: Option<Pitch>,
}

/// The kinds of faults.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[non_exhaustive]
pub enum FaultKind {
    /// The hole and breath are right, but a bend is missing or wrong.
    Bend,
    /// The hole is right, but the breath is wrong.
    Breath,
    /// The hole is right but blown, in a tab without any draw note: the draw signs were lost.
    SignLost,
    /// This note and the next one are swapped.
    Swapped,
    /// The note is right, but in another octave: the number of octaves by which it is too high, negative if it is too
    /// low.
    Octave(i8),
    /// The wrong hole.
    Hole,
    /// The harp cannot sound the action.
    NotOnHarp,
    /// The note is wrong, but the player could not sound the tune's note on this harp either.
    NotInReach,
    /// The tab lacks a note of the tune.
    LeftOut,
    /// The tab has a note that the tune does not have.
    Added,
}

/// The facts that the user stated about the tab.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Stated<'a> {
    /// The harp that the tab is for.
    pub harp: &'a Harp,
    /// The semitones by which the tune is transposed, without octaves.
    pub transposed: Interval,
    /// The further octaves by which the tune is moved, if they are known.
    pub octave: Option<i8>,
}

/// Checks a tab. Returns `None` if the tab or the tune has no notes, or if both are too long to compare
/// ([`align::MAX_CELLS`]).
pub fn check<'a>(request: &Request, stated: Stated<'a>, text: &TabText) -> Option<Lesson<'a>> {
    let melody = request.melody;
    let tune: Vec<Wanted> =
        melody.notes.iter().map(|note| Wanted { pitch: note.pitch, grace: note.grace }).collect();
    let expected = Expected { transposed: stated.transposed, octave: stated.octave };
    let (reading, found) = readings(text)
        .into_iter()
        .filter_map(|reading| {
            let found = align::best(&tune, &pitches(stated.harp, &reading.typed), expected)?;
            Some((reading, found))
        })
        // Among equals the first reading wins, which is the tab as written.
        .min_by_key(|(_, found)| found.cost)?;
    let Alignment { shift, steps, cost } = found;
    let Reading { typed, performed, turned, lines_between } = reading;
    let harp = stated.harp;

    let has = pitches(harp, &typed);
    let is_right =
        |note: usize, at: usize| has[at].is_some() && melody.notes[note].pitch.transposed(shift) == has[at];
    let mut kept = vec![None; tune.len()];
    for step in &steps {
        if let Step::Pair { note, typed: at } = *step
            && is_right(note, at)
        {
            kept[note] = Some(typed[at].action);
        }
    }
    let right = kept.iter().flatten().count();

    // The tab may need more technique than the player has; both playings are then priced with the higher technique.
    let technique = price::technique(request.technique, kept.iter().copied().flatten());
    // Corrects each wrong note with the action closest to the typed one.
    for step in &steps {
        if let Step::Pair { note, typed: at } = *step
            && !is_right(note, at)
        {
            let pitch = melody.notes[note].pitch.transposed(shift);
            kept[note] = pitch.and_then(|pitch| meant(harp, typed[at].action, pitch));
        }
    }
    let (line, reach) = (Timeline::new(melody), Reach::new(harp, technique));
    let place = place(shift, stated.transposed);
    let approach = |playing| price::approach(request, harp, place, playing);
    let given = approach(path::best_keeping(&line, &reach, request.weights, shift, &kept));
    let least = approach(path::best(&line, &reach, request.weights, shift));

    let faults = signs_lost(swapped(faults(request, harp, &typed, &steps, shift, &given)), &typed);
    let graces_left_out = steps.iter().filter(|step| is_left_out_grace(request, **step)).count();
    let outside = |steps: &mut dyn Iterator<Item = &Step>| {
        let left_out = steps.take_while(|step| matches!(step, Step::LeftOut { .. }));
        left_out.filter(|step| !is_left_out_grace(request, **step)).count()
    };
    let outside = outside(&mut steps.iter()) + outside(&mut steps.iter().rev());
    let lost = faults.iter().filter(|fault| fault.kind == FaultKind::SignLost).count();
    let same_tune = faults.len().saturating_sub(outside + lost) * 2 <= typed.len();
    let off_key = shift.0 - stated.transposed.0;
    let in_key = (off_key % 12 != 0).then(|| {
        let key = harp.key().transposed(Interval(-(off_key % 12)));
        Harp::new(key, harp.register(), harp.tuning().clone())
    });
    let is_long = tune.len().saturating_mul(typed.len()) > align::MOST_WORK;
    let other_tuning =
        if faults.is_empty() || is_long { None } else { other_tuning(&tune, &typed, harp, expected, cost) };
    let differences = differences(&given.playing, &least.playing);
    Some(Lesson {
        typed,
        steps,
        performed,
        turned,
        lines_between,
        right,
        same_tune,
        graces_left_out,
        faults,
        in_key,
        other_tuning,
        technique,
        given,
        least,
        differences,
    })
}

/// A way to read the tab.
struct Reading {
    typed: Vec<TypedNote>,
    performed: bool,
    turned: bool,
    lines_between: bool,
}

/// Lists the ways to read the tab: as written, with its repeats written out, with its arrows reversed, and with its
/// dashes as lines between the notes.
fn readings(text: &TabText) -> Vec<Reading> {
    let mut texts = vec![(text.clone(), false, false)];
    texts.extend(text.with_lines_between.as_ref().map(|text| (TabText::clone(text), false, true)));
    if text.style == Style::Arrows {
        texts.push((text.turned(), true, false));
    }
    let mut readings = Vec::new();
    for (text, turned, lines_between) in texts {
        let performed: Vec<TypedNote> = text.performed().into_iter().map(|note| text.notes[note]).collect();
        let repeats = performed.len() > text.notes.len();
        readings.push(Reading { typed: text.notes, performed: false, turned, lines_between });
        if repeats {
            readings.push(Reading { typed: performed, performed: true, turned, lines_between });
        }
    }
    readings
}

fn pitches(harp: &Harp, typed: &[TypedNote]) -> Vec<Option<Pitch>> {
    typed.iter().map(|note| harp.pitch(note.action)).collect()
}

/// Splits a move into octaves and a remainder: the expected transposition if possible, otherwise -5 to 6 semitones.
fn place(shift: Interval, expected: Interval) -> (i8, Interval) {
    let off = shift.0 - expected.0;
    let transposed = if off % 12 == 0 { expected.0 } else { (shift.0 + 5).rem_euclid(12) - 5 };
    (((shift.0 - transposed) / 12) as i8, Interval(transposed))
}

fn is_left_out_grace(request: &Request, step: Step) -> bool {
    matches!(step, Step::LeftOut { note } if request.melody.notes[note].grace)
}

fn faults(
    request: &Request,
    harp: &Harp,
    typed: &[TypedNote],
    steps: &[Step],
    shift: Interval,
    given: &Approach,
) -> Vec<Fault> {
    let notes = &request.melody.notes;
    let wanted = |note: usize| notes[note].pitch.transposed(shift);
    let mut faults = Vec::new();
    let (mut next_note, mut last_typed) = (0, None);
    for &step in steps {
        match step {
            Step::Pair { note, typed: at } => {
                (next_note, last_typed) = (note + 1, Some(at));
                let (pitch, has) = (wanted(note), harp.pitch(typed[at].action));
                if has.is_some() && pitch == has {
                    continue;
                }
                let wants = given.playing.notes[note].action;
                let kind = kind(typed[at].action, wants, pitch, has);
                faults.push(Fault { kind, note, typed: Some(at), wants, pitch, has });
            }
            Step::LeftOut { note } => {
                next_note = note + 1;
                if !notes[note].grace {
                    let wants = given.playing.notes[note].action;
                    let pitch = wanted(note);
                    let kind = FaultKind::LeftOut;
                    faults.push(Fault { kind, note, typed: last_typed, wants, pitch, has: None });
                }
            }
            Step::Added { typed: at } => {
                last_typed = Some(at);
                let note = next_note.min(notes.len().saturating_sub(1));
                let has = harp.pitch(typed[at].action);
                let kind = FaultKind::Added;
                faults.push(Fault { kind, note, typed: Some(at), wants: None, pitch: None, has });
            }
        }
    }
    faults
}

/// Combines two neighbouring notes that were typed in each other's place into one fault.
fn swapped(faults: Vec<Fault>) -> Vec<Fault> {
    let mut merged: Vec<Fault> = Vec::with_capacity(faults.len());
    for fault in faults {
        let is_second = merged.last().is_some_and(|first| {
            let neighbours =
                first.note + 1 == fault.note && first.typed.map(|typed| typed + 1) == fault.typed;
            let crossed = first.has.is_some() && first.has == fault.pitch && fault.has == first.pitch;
            neighbours && crossed && first.kind != FaultKind::Swapped
        });
        match merged.last_mut().filter(|_| is_second) {
            Some(first) => first.kind = FaultKind::Swapped,
            None => merged.push(fault),
        }
    }
    merged
}

/// Marks the faults of lost draw signs. In a tab without any draw note, signs were lost if most of the faults become
/// right notes when drawn.
fn signs_lost(mut faults: Vec<Fault>, typed: &[TypedNote]) -> Vec<Fault> {
    /// Fewer faults may simply be notes whose breath somebody mistook.
    const FEWEST: usize = 4;
    if typed.iter().any(|note| note.action.breath == Breath::Draw) {
        return faults;
    }
    let is_lost = |fault: &Fault| {
        let typed = fault.typed.map(|at| typed[at].action);
        let drawn = typed.map(|typed| Action { breath: Breath::Draw, ..typed });
        fault.wants.is_some() && fault.wants == drawn
    };
    let lost = faults.iter().filter(|fault| is_lost(fault)).count();
    if lost >= FEWEST && lost * 2 > faults.len() {
        faults.iter_mut().filter(|fault| is_lost(fault)).for_each(|fault| fault.kind = FaultKind::SignLost);
    }
    faults
}

/// Returns the most likely correction of a hole that sounds the wrong pitch. The same hole and breath with another
/// bend, or with no bend, comes first; a natural note of the same hole comes second.
fn meant(harp: &Harp, typed: Action, pitch: Pitch) -> Option<Action> {
    let here = || harp.actions_for(pitch).filter(|way| way.hole == typed.hole);
    let bent = |way: &Action| way.breath == typed.breath && way.bend != Bend::Over;
    here().find(bent).or_else(|| here().find(|way| way.bend == Bend::None && typed.bend == Bend::None))
}

/// Returns the kind of a wrong note's fault.
fn kind(typed: Action, wants: Option<Action>, pitch: Option<Pitch>, has: Option<Pitch>) -> FaultKind {
    let same_hole = wants.filter(|wants| wants.hole == typed.hole);
    if same_hole.is_some_and(|wants| wants.breath == typed.breath) {
        return FaultKind::Bend;
    }
    let Some(has) = has else { return FaultKind::NotOnHarp };
    if wants.is_none() {
        return FaultKind::NotInReach;
    }
    if let Some(pitch) = pitch.filter(|pitch| pitch.class() == has.class()) {
        return FaultKind::Octave((has.above(pitch).0 / 12) as i8);
    }
    if same_hole.is_some() { FaultKind::Breath } else { FaultKind::Hole }
}

/// Finds a harp of the same key and register but of another built-in tuning, on which the tab fits better by at least a
/// fault and a half. Also returns the number of faults on that harp. The key is the one on the cover, even for a tuning
/// that is stamped with another position's key.
fn other_tuning(
    tune: &[Wanted],
    typed: &[TypedNote],
    harp: &Harp,
    expected: Expected,
    cost: u32,
) -> Option<(Harp, usize)> {
    /// The smallest gain is a fault and a half, which is more than a single note can gain by chance.
    const LEAST_GAIN: u32 = 45;
    let others = Tuning::built_in().iter().filter(|tuning| *tuning != harp.tuning());
    let tried = others.filter_map(|tuning| {
        let key: PitchClass = harp.key();
        let other = Harp::new(key, harp.register(), tuning.clone());
        let has = pitches(&other, typed);
        let found = align::best(tune, &has, expected)?;
        let faults = found.steps.iter().filter(|step| match **step {
            Step::Pair { note, typed } => {
                has[typed].is_none() || tune[note].pitch.transposed(found.shift) != has[typed]
            }
            Step::LeftOut { note } => !tune[note].grace,
            Step::Added { .. } => true,
        });
        let in_key = (found.shift.0 - expected.transposed.0) % 12 == 0;
        (in_key && found.cost + LEAST_GAIN <= cost).then_some((found.cost, other, faults.count()))
    });
    // The first of equally good tunings wins.
    tried.min_by_key(|&(cost, _, _)| cost).map(|(_, other, faults)| (other, faults))
}
