//! Lays out the bars that all parts share: the start, length and number of each.

use crate::{
    import::{
        Oddity,
        draft::{BarDraft, Draft, OddityDraft, Spot, rounding},
    },
    melody::Bar,
    time::{Beats, Meter},
};

/// Lays the bars end to end.
pub(super) fn bars(draft: &mut Draft<'_>) -> Vec<Bar> {
    resolve_coda_signs(&mut draft.bars);
    let mut bars = Vec::with_capacity(draft.bars.len());
    let (mut start, mut meter) = (Beats::ZERO, None);
    for (index, bar) in draft.bars.iter_mut().enumerate() {
        meter = bar.meter.unwrap_or(meter);
        let length = length(bar, index, meter);
        let marks = std::mem::take(&mut bar.marks);
        bars.push(Bar { number: 0, start, length, meter, marks, written: Vec::new() });
        start += length;
        meter = bar.later_meter.unwrap_or(meter);
    }
    number(&mut bars, &draft.bars);
    report_lengths(&bars, draft);
    bars
}

/// Returns the length of a bar, which the longest part determines. An empty bar has its meter's full length.
fn length(bar: &BarDraft<'_>, index: usize, meter: Option<Meter>) -> Beats {
    let full = meter.map(Meter::bar);
    // In a pickup or half a bar, the whole-bar rest is often written as long as a full bar.
    let partial = bar.filled > Beats::ZERO && (index == 0 || bar.implicit);
    let length = if partial { bar.filled } else { bar.filled.max(bar.rest) };
    match full {
        _ if length == Beats::ZERO => full.unwrap_or(Meter::COMMON.bar()),
        // Durations in whole ticks do not always add up: the notes of a septuplet may take 483 ticks in a bar of 480.
        Some(full) if length < full + rounding() && full < length + rounding() => full,
        // Rests in one part that extend past the end of the bar are a mistake if another part fills the bar correctly.
        Some(full)
            if bar.sounding <= full && full < length && bar.least_filled.is_some_and(|f| f <= full) =>
        {
            full
        }
        _ => length,
    }
}

/// Numbers the bars from 1; a pickup is bar 0, and a bar that completes the previous one shares its number.
fn number(bars: &mut [Bar], drafts: &[BarDraft<'_>]) {
    let full = |bar: &Bar| bar.meter.map_or(bar.length, Meter::bar);
    let (mut next, mut filled) = (1, Beats::ZERO);
    for index in 0..bars.len() {
        let (bar, draft) = (&bars[index], &drafts[index]);
        let number = if index == 0 {
            let second = bars.get(1);
            let short = second.is_some_and(|second| bar.length < bar.meter.map_or(second.length, Meter::bar));
            let followed = bar.meter.is_some() && second.is_some_and(|second| second.length >= full(second));
            // Some programs count from 0, so a full bar numbered 0 is a pickup only if the file says so.
            let pickup = match draft.number {
                "0" => short || draft.implicit,
                _ => short && (draft.implicit || followed),
            };
            u32::from(!pickup)
        } else {
            let completes = (draft.implicit || continues(draft.number, drafts[index - 1].number))
                && filled + bar.length <= full(bar);
            if completes { next - 1 } else { next }
        };
        filled = if number + 1 == next && index > 0 { filled + bar.length } else { bar.length };
        next = number + 1;
        bars[index].number = number;
    }
}

/// Whether a file numbers a bar as a continuation of the previous bar: 3 and 3, 3 and 3a, 3a and 3b.
fn continues(number: &str, before: &str) -> bool {
    let [number, before] =
        [number, before].map(|token| token.trim_end_matches(|c: char| c.is_ascii_alphabetic()));
    !number.is_empty() && number == before
}

/// Reports bars whose length differs from their meter's without a musical reason.
fn report_lengths(bars: &[Bar], draft: &mut Draft<'_>) {
    let mut report = |index: usize, part: usize, oddity| {
        let place = Some((part, Spot { bar: index, offset: Beats::ZERO }));
        draft.oddities.push(OddityDraft { place, oddity, text: None });
    };
    for (index, (bar, written)) in bars.iter().zip(&draft.bars).enumerate() {
        if written.filled >= bar.length + rounding() {
            report(index, written.longest_part, Oddity::RestTooLong);
        }
        let Some(full) = bar.meter.map(Meter::bar).filter(|full| *full != bar.length) else { continue };
        let next = bars.get(index + 1);
        let split = |other: Option<&Bar>| other.is_some_and(|other| other.number == bar.number);
        // A short bar at the end of a repeat, of a section or of the tune leaves space for a pickup.
        let rounds_off = next.is_none() || bar.marks.repeat_end.is_some() || bar.marks.section_end;
        let starts_over = index > 0 && {
            let before = &bars[index - 1].marks;
            before.repeat_end.is_some() || before.section_end || bar.marks.repeat_start
        };
        let short = bar.length < full;
        let explained = bar.number == 0
            || split(next)
            || (index > 0 && split(bars.get(index - 1)))
            || (short && (rounds_off || starts_over))
            || are_halves(bars, index)
            || index.checked_sub(1).is_some_and(|before| are_halves(bars, before))
            || written.later_meter.is_some();
        if !explained {
            report(index, written.longest_part, Oddity::BarLength { longer: !short });
        }
    }
}

/// Whether a bar and the next are the two halves of one bar, between full bars. Files split a bar in two at the end of
/// a line of verse or of the page.
fn are_halves(bars: &[Bar], first: usize) -> bool {
    let is_short = |index: usize| {
        let bar = bars.get(index).filter(|bar| bar.number > 0);
        bar.is_some_and(|bar| bar.meter.is_some_and(|meter| bar.length < meter.bar()))
    };
    let (Some(bar), Some(next)) = (bars.get(first), bars.get(first + 1)) else { return false };
    let alone = !first.checked_sub(1).is_some_and(is_short) && !is_short(first + 2);
    let both = is_short(first) && is_short(first + 1) && next.meter == bar.meter;
    both && alone && bar.meter.map(Meter::bar) == Some(bar.length + next.length)
}

/// Resolves coda signs, which occur twice: at the jump and at the jump's target. The first sign is the jump, unless the
/// file marks the jump otherwise, or unless this sign is its only mark of the target.
fn resolve_coda_signs(bars: &mut [BarDraft<'_>]) {
    let mut leaves = bars.iter().any(|bar| bar.marks.to_coda);
    let signs = bars.iter().filter(|bar| bar.coda_sign).count();
    let arrives = bars.iter().any(|bar| bar.marks.coda);
    for bar in bars.iter_mut().filter(|bar| bar.coda_sign) {
        if !leaves && (signs > 1 || arrives) {
            bar.marks.to_coda = true;
            leaves = true;
        } else {
            bar.marks.coda = true;
        }
    }
}
