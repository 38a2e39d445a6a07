//! Writes the letters that pages use as fonts in a style sheet, for SVG and for the page to practise from. With these
//! fonts, texts look the same as in the PDF even if the reader's machine lacks the typeface. The font files follow
//! OpenType 1.9.

use std::{cmp::Reverse, collections::BTreeMap};

use base64::{Engine, prelude::BASE64_STANDARD};
use ttf_parser::{RawFace, Tag};

use super::{Page, letters::Letters, text::Face};

/// Returns style rules with the fonts of the faces that some pages use.
pub(super) fn rules(pages: &[Page]) -> String {
    let rules = Letters::of(pages).into_iter().filter_map(|letters| {
        let look = match letters.face {
            Face::Regular => "",
            Face::Italic => "font-style:italic;",
            Face::Semibold => "font-weight:600;",
        };
        let data = BASE64_STANDARD.encode(file(&letters)?);
        let family = Face::FAMILY;
        Some(format!("@font-face{{font-family:'{family}';{look}src:url(data:font/otf;base64,{data})}}\n"))
    });
    rules.collect()
}

/// Returns the font file: the smaller font, and the other tables that a browser needs.
fn file(letters: &Letters) -> Option<Vec<u8>> {
    let subset = letters.font().ok()?;
    let subset = RawFace::parse(&subset, 0).ok()?;
    let mut tables: Vec<(Tag, Vec<u8>)> = Vec::new();
    for record in subset.table_records {
        tables.push((record.tag, subset.table(record.tag)?.to_vec()));
    }
    let metrics = letters.typeface.font.raw_face().table(Tag::from_bytes(b"OS/2"))?;
    tables.push((Tag::from_bytes(b"OS/2"), metrics.to_vec()));
    tables.push((Tag::from_bytes(b"cmap"), characters(letters)));
    tables.extend(kerning(letters).map(|table| (Tag::from_bytes(b"GPOS"), table)));
    tables.extend(ligatures(letters).map(|table| (Tag::from_bytes(b"GSUB"), table)));
    tables.sort_by_key(|(tag, _)| *tag);
    Some(assembled(tables))
}

/// Returns the table `cmap`, with one subtable of format 12: a group for each character.
fn characters(letters: &Letters) -> Vec<u8> {
    let groups = letters.characters.iter();
    let groups = groups.map(|(char, glyph)| (u32::from(*char), u32::from(letters.number(*glyph))));
    let count = groups.len() as u32;
    let mut table = Vec::new();
    // Version, then one subtable: Windows, all of Unicode, at offset 12.
    put16(&mut table, &[0, 1, 3, 10]);
    put32(&mut table, &[12]);
    put16(&mut table, &[12, 0]);
    put32(&mut table, &[16 + 12 * count, 0, count]);
    for (char, glyph) in groups {
        put32(&mut table, &[char, char, glyph]);
    }
    table
}

/// Returns the table `GPOS` with the single feature `kern`, for the pairs that occur; `None` if no pair is set closer
/// or wider. (Chromium ignores a table `kern`.)
fn kerning(letters: &Letters) -> Option<Vec<u8>> {
    // For each first letter: the second letters, and the extra distance between the letters of each pair.
    let mut sets: BTreeMap<u16, BTreeMap<u16, i16>> = BTreeMap::new();
    for &(first, second) in &letters.pairs {
        let wider = letters.typeface.kerning(first, second) as i16;
        if wider != 0 {
            sets.entry(letters.number(first)).or_default().insert(letters.number(second), wider);
        }
    }
    let bodies = sets.values().map(|set| {
        let pairs = set.iter().flat_map(|(second, wider)| [*second, *wider as u16]);
        std::iter::once(set.len() as u16).chain(pairs).collect()
    });
    // Only the advance of the first letter changes.
    layout(b"kern", 2, &[4, 0], sets.keys().copied().zip(bodies).collect())
}

/// Returns the search fields before the sorted entries of a table, which have `size` bytes each: the number of entries,
/// the length in bytes of the greatest power of two that this number contains, the exponent of this power, and the
/// number of remaining bytes.
fn search(count: u16, size: u16) -> [u16; 4] {
    let exponent = count.checked_ilog2().unwrap_or(0) as u16;
    let range = if count == 0 { 0 } else { size << exponent };
    [count, range, exponent, size * count - range]
}

/// Returns the table `GSUB` with the single feature `liga`; `None` if there is no ligature.
fn ligatures(letters: &Letters) -> Option<Vec<u8>> {
    // For each first letter, its ligatures, the longest first: the glyph, and the letters after the first.
    let mut sets: BTreeMap<u16, Vec<(u16, Vec<u16>)>> = BTreeMap::new();
    for (glyph, shown) in letters.shown.iter().filter(|(glyph, _)| **glyph != 0) {
        let parts: Option<Vec<u16>> = shown
            .chars()
            .map(|char| letters.characters.get(&char).map(|part| letters.number(*part)))
            .collect();
        if let Some([first, after @ ..]) = parts.as_deref()
            && !after.is_empty()
        {
            sets.entry(*first).or_default().push((letters.number(*glyph), after.to_vec()));
        }
    }
    sets.values_mut().for_each(|set| set.sort_by_key(|(_, after)| Reverse(after.len())));
    let bodies = sets.values().map(|set| {
        let (mut places, mut body) = (vec![set.len() as u16], Vec::new());
        for (glyph, after) in set {
            places.push(2 + 2 * set.len() as u16 + 2 * body.len() as u16);
            body.extend([*glyph, after.len() as u16 + 1]);
            body.extend(after);
        }
        [places, body].concat()
    });
    layout(b"liga", 4, &[], sets.keys().copied().zip(bodies).collect())
}

/// Returns a table with one feature and one lookup of the given kind, in format 1. `sets` has the data of each first
/// letter, in the order of the letters' numbers; `besides` has the fields that the format requires between the letters
/// and the number of sets. `None` without sets.
fn layout(feature: &[u8; 4], kind: u16, besides: &[u16], sets: Vec<(u16, Vec<u16>)>) -> Option<Vec<u8>> {
    if sets.is_empty() {
        return None;
    }
    let mut table = Vec::new();
    // Version 1.0, then the offsets of scripts, features and lookups.
    put16(&mut table, &[1, 0, 10, 30, 44]);
    // One script, the default script, with one language that has feature 0.
    put16(&mut table, &[1]);
    table.extend(b"DFLT");
    put16(&mut table, &[8, 4, 0, 0, 0xffff, 1, 0]);
    // One feature, with lookup 0.
    put16(&mut table, &[1]);
    table.extend(feature);
    put16(&mut table, &[8, 0, 1, 0]);
    // One lookup with one subtable.
    put16(&mut table, &[1, 4, kind, 0, 1, 8]);
    // After the head of the subtable come its sets, then their first letters.
    let count = sets.len() as u16;
    let mut at = 2 * (3 + besides.len() as u16 + count);
    let mut places = Vec::new();
    for (_, body) in &sets {
        places.push(at);
        at += 2 * body.len() as u16;
    }
    put16(&mut table, &[&[1, at], besides, &[count], &places].concat());
    sets.iter().for_each(|(_, body)| put16(&mut table, body));
    put16(&mut table, &[1, count]);
    sets.iter().for_each(|(first, _)| put16(&mut table, &[*first]));
    Some(table)
}

/// Returns a file of tables, which the caller has sorted by their tags.
fn assembled(mut tables: Vec<(Tag, Vec<u8>)>) -> Vec<u8> {
    let count = tables.len() as u16;
    let mut file = b"OTTO".to_vec();
    put16(&mut file, &search(count, 16));
    let mut at = 12 + 16 * u32::from(count);
    // The field that balances the checksum of the whole file is zero in the checksum of its own table.
    let mut balance = None;
    for (tag, table) in &mut tables {
        if *tag == Tag::from_bytes(b"head") {
            table[8..12].fill(0);
            balance = Some(at as usize + 8);
        }
        put32(&mut file, &[tag.0, sum(table), at, table.len() as u32]);
        at += (table.len() as u32).next_multiple_of(4);
    }
    for (_, table) in &tables {
        file.extend(table);
        file.resize(file.len().next_multiple_of(4), 0);
    }
    if let Some(balance) = balance {
        let rest = 0xb1b0_afba_u32.wrapping_sub(sum(&file));
        file[balance..balance + 4].copy_from_slice(&rest.to_be_bytes());
    }
    file
}

/// Returns the checksum of a table.
fn sum(table: &[u8]) -> u32 {
    table.chunks(4).fold(0, |sum: u32, word| {
        let mut whole = [0; 4];
        whole[..word.len()].copy_from_slice(word);
        sum.wrapping_add(u32::from_be_bytes(whole))
    })
}

fn put16(table: &mut Vec<u8>, numbers: &[u16]) {
    table.extend(numbers.iter().flat_map(|number| number.to_be_bytes()));
}

fn put32(table: &mut Vec<u8>, numbers: &[u32]) {
    table.extend(numbers.iter().flat_map(|number| number.to_be_bytes()));
}
