//! MusicXML 1.0 to 4.0, partwise and timewise: takes bytes, returns a [`Score`].
//!
//! 1. `parse` decodes the bytes into text, `indent` takes the indentation out, and `parse` makes a tree of the rest.
//! 2. `header` finds the title and the list of parts.
//! 3. `part` reads each part once and drafts the content of each bar (`note`, `direction`, `harmony`, `transpose`
//!    read single elements, `clock` keeps the time, `order` marks repeats and jumps).
//! 4. `assemble` lays the bars, which all parts share, end to end, and merges tied notes.
//!
//! Pitch is sounding pitch: transpositions are applied, while clefs, octave lines and accidentals affect only the
//! display. Time comes from durations, or from the printed value of a note that has none. Cue notes and notes without
//! pitch become rests. If parts differ in the length of a bar, the longest part determines it.

pub(super) mod parse;

mod clock;
mod direction;
mod harmony;
mod header;
mod indent;
mod note;
mod order;
mod part;
mod transpose;
mod value;

use roxmltree::Node;

use super::{
    ImportError, Oddity, Score, assemble,
    draft::{Draft, OddityDraft, PartDraft, PartInfo},
};
use part::PartReader;
use value::is;

/// The largest number of parts; the largest orchestral scores have about a hundred.
const MAX_PARTS: usize = 1000;
/// The largest number of bars; the longest operas have some twenty thousand.
const MAX_BARS: usize = 50_000;

/// Reads the bytes into a score.
///
/// # Errors
///
/// Returns [`ImportError::Broken`] with line and column if the XML is damaged, [`ImportError::NotAScore`] if it is not
/// a score, and [`ImportError::TooLarge`] if a limit is exceeded.
pub fn read(bytes: &[u8]) -> Result<Score, ImportError> {
    let source = parse::Source::decode(bytes);
    let document = source.document()?;
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
    if !source.as_claimed {
        draft.oddities.push(OddityDraft { place: None, oddity: Oddity::WrongEncoding, text: None });
    }
    let (infos, parts) = if timewise {
        read_timewise(root, &header, &mut draft)?
    } else {
        read_partwise(root, &header, &mut draft)?
    };
    Ok(Score { title: header.title, credits: header.credits, ..assemble::assemble(infos, parts, draft)? })
}

type Parts<'a> = (Vec<PartInfo>, Vec<PartDraft<'a>>);

/// Reads the parts one after another, each with all its bars.
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

/// Reads the bars one after another, each with all its parts.
fn read_timewise<'a>(
    root: Node<'a, '_>,
    header: &header::Header<'a>,
    draft: &mut Draft<'a>,
) -> Result<Parts<'a>, ImportError> {
    // The content is first sorted by part, so that each part is read in one pass, as in a partwise score.
    let mut ids: Vec<Option<&str>> = Vec::new();
    let mut pieces: Vec<Vec<(usize, Node<'a, '_>, Node<'a, '_>)>> = Vec::new();
    let mut bars = 0;
    for (bar, measure) in root.children().filter(|child| is(*child, "measure")).enumerate() {
        check_bars(bar)?;
        bars = bar + 1;
        for (order, part) in measure.children().filter(|child| is(*child, "part")).enumerate() {
            let id = part.attribute("id");
            // The parts nearly always come in the same order in each bar.
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
