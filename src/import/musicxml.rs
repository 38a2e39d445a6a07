//! MusicXML 1.0 to 4.0, partwise and timewise: bytes in, a [`Score`] out.
//!
//! 1. `parse` decodes the bytes into text and parses the text into a tree;
//! 2. `header` finds the title and the list of parts;
//! 3. `part` reads each part once and drafts the content of each bar (`note`, `direction`, `harmony`, `transpose`
//!    read single elements, `clock` keeps the time, `order` marks repeats and jumps);
//! 4. `fillers` cuts hidden rests beside repeat signs, `layout` lays the bars, which all parts share, end to end;
//! 5. `voices` numbers the voices, and `ties` merges tied notes.
//!
//! Pitch is what sounds: transpositions count, while clefs, octave lines and accidentals are only display. Time comes
//! from durations alone. Cue notes and notes without pitch take time but are left out. Where parts differ in the length
//! of a bar, the longest decides.

pub(super) mod parse;

mod clock;
mod direction;
mod draft;
mod fillers;
mod harmony;
mod header;
mod layout;
mod note;
mod order;
mod part;
mod ties;
mod transpose;
mod value;
mod voices;

use roxmltree::Node;

use super::{ImportError, MAX_QUARTERS, Oddity, Part, PartNote, PartWritten, Score, Warning};
use crate::{
    melody::{Bar, ChordSymbol, KeySignature},
    time::{Beats, Place, TempoMap},
};
use draft::{Draft, OddityDraft, PartDraft, Spot};
use header::PartInfo;
use part::PartReader;
use value::is;

/// The most parts; the largest orchestras have about fifty.
const MAX_PARTS: usize = 1000;
/// The most bars: the longest operas have some twenty thousand.
const MAX_BARS: usize = 50_000;

/// Reads the bytes into a score.
///
/// # Errors
///
/// [`ImportError::Broken`] with line and column when the XML is damaged, [`ImportError::NotAScore`] when it is no
/// score, [`ImportError::TooLarge`] when a limit is exceeded.
pub fn read(bytes: &[u8]) -> Result<Score, ImportError> {
    let (text, as_claimed) = parse::decode(bytes);
    let document = parse::document(&text)?;
    let root = document.root_element();
    let timewise = match root.tag_name().name() {
        "score-partwise" => false,
        "score-timewise" => true,
        "opus" => {
            let found = "an opus, which only lists other files (open one of those)".into();
            return Err(ImportError::NotAScore { found });
        }
        other => return Err(ImportError::NotAScore { found: parse::kind(other) }),
    };
    let header = header::read(root);
    let mut draft = Draft::default();
    if !as_claimed {
        draft.oddities.push(OddityDraft { place: None, oddity: Oddity::WrongEncoding });
    }
    let (infos, parts) = if timewise {
        read_timewise(root, &header, &mut draft)?
    } else {
        read_partwise(root, &header, &mut draft)?
    };
    Ok(Score { title: header.title, credits: header.credits, ..assemble(infos, parts, draft)? })
}

type Parts<'a> = (Vec<PartInfo>, Vec<PartDraft<'a>>);

/// Reads the parts one after the other, each with all its bars.
fn read_partwise<'a>(
    root: Node<'a, '_>,
    header: &header::Header<'a>,
    draft: &mut Draft<'a>,
) -> Result<Parts<'a>, ImportError> {
    let (mut infos, mut parts) = (Vec::new(), Vec::new());
    for (index, node) in root.children().filter(|child| is(*child, "part")).enumerate() {
        check_parts(index)?;
        let mut reader = PartReader::new(draft, index, header.concert);
        for (bar, measure) in node.children().filter(|child| is(*child, "measure")).enumerate() {
            check_bars(bar)?;
            reader.bar(bar, measure, measure)?;
        }
        infos.push(header.info(node.attribute("id"), index));
        parts.push(reader.finish());
    }
    Ok((infos, parts))
}

/// Reads the bars one after the other, each with all its parts.
fn read_timewise<'a>(
    root: Node<'a, '_>,
    header: &header::Header<'a>,
    draft: &mut Draft<'a>,
) -> Result<Parts<'a>, ImportError> {
    // Sorted by part first, so that each part is read in one pass as in a partwise score.
    let mut ids: Vec<Option<&str>> = Vec::new();
    let mut pieces: Vec<Vec<(usize, Node<'a, '_>, Node<'a, '_>)>> = Vec::new();
    let mut bars = 0;
    for (bar, measure) in root.children().filter(|child| is(*child, "measure")).enumerate() {
        check_bars(bar)?;
        bars = bar + 1;
        for (order, part) in measure.children().filter(|child| is(*child, "part")).enumerate() {
            let id = part.attribute("id");
            // The parts nearly always have the same order in each bar.
            let known = match ids.get(order) {
                Some(&expected) if expected == id || id.is_none() => Some(order),
                _ => ids.iter().position(|&other| other == id && id.is_some()),
            };
            let index = known.unwrap_or(ids.len());
            if index == ids.len() {
                check_parts(index)?;
                ids.push(id);
                pieces.push(Vec::new());
            }
            pieces[index].push((bar, measure, part));
        }
    }
    draft.count = bars;
    draft.bars.resize_with(bars, Default::default);
    let (mut infos, mut parts) = (Vec::new(), Vec::new());
    for (index, (id, pieces)) in ids.into_iter().zip(pieces).enumerate() {
        let mut reader = PartReader::new(draft, index, header.concert);
        for (bar, measure, content) in pieces {
            reader.bar(bar, measure, content)?;
        }
        infos.push(header.info(id, index));
        parts.push(reader.finish());
    }
    Ok((infos, parts))
}

fn check_bars(index: usize) -> Result<(), ImportError> {
    if index < MAX_BARS {
        return Ok(());
    }
    Err(ImportError::TooLarge { what: "the number of bars", limit: MAX_BARS, unit: "bars" })
}

fn check_parts(index: usize) -> Result<(), ImportError> {
    if index < MAX_PARTS {
        return Ok(());
    }
    Err(ImportError::TooLarge { what: "the score", limit: MAX_PARTS, unit: "parts" })
}

/// Assembles the parts over their common bars.
fn assemble(
    infos: Vec<PartInfo>,
    mut drafts: Vec<PartDraft<'_>>,
    mut draft: Draft<'_>,
) -> Result<Score, ImportError> {
    // A mark after the last bar may have added an empty one.
    draft.bars.truncate(draft.count);
    fillers::cut(&mut draft, &mut drafts);
    let bars = layout::bars(&mut draft);
    let end: Beats = bars.last().map_or(Beats::ZERO, |bar| bar.start + bar.length);
    if end >= Beats::new(MAX_QUARTERS, 1) {
        return Err(ImportError::TooLarge {
            what: "the score",
            limit: MAX_QUARTERS as usize,
            unit: "quarter notes of time",
        });
    }
    let mut oddities = std::mem::take(&mut draft.oddities);
    let at = |spot: Spot| bars.get(spot.bar).map_or(spot.offset, |bar| bar.start + spot.offset);
    for odd in &mut oddities {
        if let Some((_, spot)) = &mut odd.place {
            spot.offset = at(*spot);
        }
    }
    let mut parts = Vec::with_capacity(drafts.len());
    for (index, (info, part)) in infos.into_iter().zip(drafts).enumerate() {
        parts.push(finish_part(info, part, index, &bars, &mut oddities));
    }
    // At one place a sound wins over a printed mark, and the first part over the others.
    draft.tempi.reverse();
    draft.tempi.sort_by_key(|tempo| (tempo.at, tempo.sound));
    let tempo = TempoMap::new(draft.tempi.iter().map(|tempo| (at(tempo.at), tempo.micros_per_quarter)));
    let mut warnings: Vec<Warning> = oddities
        .into_iter()
        .map(|odd| Warning {
            oddity: odd.oddity,
            place: odd.place.map(|(part, spot)| place(part, spot, &bars)),
        })
        .collect();
    warnings.sort_by(|a, b| (a.place, &a.oddity).cmp(&(b.place, &b.oddity)));
    Ok(Score { bars, tempo, parts, warnings, ..Score::default() })
}

/// Converts a spot, with its offset counted from the start of the score, into a musician's words.
fn place(part: usize, spot: Spot, bars: &[Bar]) -> Place {
    let part = u16::try_from(part + 1).unwrap_or(u16::MAX);
    match bars.get(spot.bar) {
        Some(bar) => Place { part, bar: bar.number, beat: bar.beat(spot.offset) },
        None => Place { part, bar: 0, beat: Beats::quarters(1) },
    }
}

fn finish_part(
    info: PartInfo,
    draft: PartDraft<'_>,
    index: usize,
    bars: &[Bar],
    oddities: &mut Vec<OddityDraft>,
) -> Part {
    let at = |spot: Spot| bars[spot.bar].start + spot.offset;
    let mut notes = draft.notes;
    for draft in &mut notes {
        let bar = &bars[draft.note.bar];
        // A bar that was rounded to its meter may be shorter than its notes by a tick or two.
        let room = bar.length - draft.note.onset;
        if draft.note.duration > room && room > Beats::ZERO {
            draft.note.duration = room;
        }
        draft.note.onset += bar.start;
    }
    let in_order = |a: &draft::NoteDraft, b: &draft::NoteDraft| {
        (a.note.onset, !a.note.grace).cmp(&(b.note.onset, !b.note.grace))
    };
    if !notes.is_sorted_by(|a, b| in_order(a, b).is_le()) {
        notes.sort_by(in_order);
    }
    let numbers = voices::number(&mut notes, &draft.voices);
    let written = draft.written.into_iter().filter_map(|written| {
        let voice = draft.voices.iter().position(|voice| *voice == written.voice)?;
        Some(PartWritten { bar: written.bar, voice: numbers[voice], written: written.written })
    });
    let written = written.collect();
    let mut notes = ties::merge(notes, index, bars, oddities);
    if !notes.is_sorted_by(|a, b| in_order(a, b).is_le()) {
        notes.sort_by(in_order);
    }
    let percussion = (draft.unpitched && notes.is_empty()) || info.percussion;
    let mut signatures: Vec<KeySignature> = Vec::new();
    let mut keys = draft.keys;
    keys.sort_by_key(|&(spot, ..)| at(spot));
    for (spot, sharps, mode) in keys {
        let last = signatures.last();
        if last.is_none_or(|last| (last.sharps, last.mode) != (sharps, mode)) {
            signatures.push(KeySignature { at: at(spot), sharps, mode });
        }
    }
    let chords = draft.chords.into_iter();
    let mut chords: Vec<ChordSymbol> =
        chords.map(|(spot, chord)| ChordSymbol { at: at(spot), ..chord }).collect();
    chords.sort_by_key(|chord| chord.at);
    let notes = notes.into_iter().map(|draft| PartNote { note: draft.note, voice: draft.voice }).collect();
    Part { name: info.name, instrument: None, notes, written, signatures, chords, percussion }
}
