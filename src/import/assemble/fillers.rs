//! Cuts hidden rests beside a repeat sign. Some programs divide a bar there and fill both halves up to a full bar with
//! rests that are not printed. If these rests were kept, the tune would pause for a bar in the middle.

use crate::{
    import::draft::{BarDraft, Draft, PartDraft, Spot, rounding},
    time::Beats,
};

/// The cuts in a bar: the length cut from its start, and the offset after which its end is cut, if any.
#[derive(Clone, Copy)]
struct Cut {
    head: Beats,
    end: Option<Beats>,
}

/// Cuts the hidden rests at the start of the tune, at its end and on either side of a repeat sign or a double bar, if
/// no part has visible content there.
pub(super) fn cut(draft: &mut Draft<'_>, parts: &mut [PartDraft<'_>]) {
    if !draft.bars.iter().any(|bar| bar.hidden) {
        return;
    }
    let cuts: Vec<Option<Cut>> = (0..draft.bars.len()).map(|bar| filler(&draft.bars, bar)).collect();
    let at = |bar: usize| cuts.get(bar).copied().flatten();
    for (bar, cut) in draft.bars.iter_mut().zip(&cuts) {
        let Some(Cut { head, end }) = *cut else { continue };
        for filled in [&mut bar.filled, &mut bar.sounding, &mut bar.rest] {
            *filled = end.map_or(*filled, |end| end.min(*filled)) - head;
        }
        bar.least_filled = Some(bar.filled);
        bar.implicit |= head > Beats::ZERO;
    }
    let moved = |spot: &mut Spot| {
        if let Some(Cut { head, .. }) = at(spot.bar) {
            spot.offset = (spot.offset - head).max(Beats::ZERO);
        }
    };
    draft.tempi.iter_mut().for_each(|tempo| moved(&mut tempo.at));
    draft.tempo_words.iter_mut().for_each(|(spot, _)| moved(spot));
    draft.oddities.iter_mut().filter_map(|odd| odd.place.as_mut()).for_each(|(_, spot)| moved(spot));
    for part in parts {
        part.keys.iter_mut().for_each(|(spot, ..)| moved(spot));
        part.chords.iter_mut().for_each(|(spot, _)| moved(spot));
        for note in &mut part.notes {
            let mut spot = Spot { bar: note.note.bar, offset: note.note.onset };
            moved(&mut spot);
            note.note.onset = spot.offset;
        }
        part.written.retain_mut(|written| {
            let Some(Cut { head, end }) = at(written.bar) else { return true };
            let inside = written.written.at >= head && end.is_none_or(|end| written.written.at < end);
            written.written.at = written.written.at - head;
            inside
        });
    }
}

/// Returns the cuts to make in a bar; `None` if the bar stays whole.
fn filler(bars: &[BarDraft<'_>], index: usize) -> Option<Cut> {
    let bar = &bars[index];
    let (from, to) = bar.seen.filter(|&(from, to)| bar.hidden && from < to)?;
    let divides = |before: &BarDraft<'_>, after: &BarDraft<'_>| {
        before.marks.repeat_end.is_some() || before.marks.section_end || after.marks.repeat_start
    };
    let before = index.checked_sub(1).map(|before| &bars[before]);
    let opens = before.is_none_or(|before| divides(before, bar));
    let closes = bars.get(index + 1).is_none_or(|next| divides(bar, next));
    let head = if opens && from > rounding() { from } else { Beats::ZERO };
    let end = (closes && to + rounding() < bar.filled).then_some(to);
    (head > Beats::ZERO || end.is_some()).then_some(Cut { head, end })
}
