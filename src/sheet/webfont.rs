//! The letters that pages use as fonts in a style sheet: for SVG and for the page to practise from, so that their texts look as
//! in the PDF where the reader's machine does not have the typeface. A font file is as OpenType 1.9 has it.

use std::{cmp::Reverse, collections::BTreeMap};

use base64::{Engine, prelude::BASE64_STANDARD};
use ttf_parser::{RawFace, Tag};

use super::{Page, letters::Letters, text::Face};

/// Rules that bring the faces that some pages use.
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

/// The font file: the smaller font, with what a browser needs besides.
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
    tables.push((Tag::from_bytes(b"kern"), kerning(letters)));
    tables.extend(ligatures(letters).map(|table| (Tag::from_bytes(b"GSUB"), table)));
    tables.sort_by_key(|(tag, _)| *tag);
    Some(assembled(tables))
}

/// `cmap`, of one subtable of format 12: a group for each character.
fn characters(letters: &Letters) -> Vec<u8> {
    let groups = letters.characters.iter();
    let groups = groups.map(|(char, glyph)| (u32::from(*char), u32::from(letters.number(*glyph))));
    let count = groups.len() as u32;
    let mut table = Vec::new();
    // Version, one subtable: Windows, all of Unicode, at 12.
    put16(&mut table, &[0, 1, 3, 10]);
    put32(&mut table, &[12]);
    put16(&mut table, &[12, 0]);
    put32(&mut table, &[16 + 12 * count, 0, count]);
    for (char, glyph) in groups {
        put32(&mut table, &[char, char, glyph]);
    }
    table
}

/// `kern`, version 0, of one subtable of format 0: the pairs that occur.
fn kerning(letters: &Letters) -> Vec<u8> {
    let mut pairs: Vec<[u16; 3]> = letters
        .pairs
        .iter()
        .map(|&(first, second)| {
            let kerning = letters.typeface.kerning(first, second) as i16;
            [letters.number(first), letters.number(second), kerning as u16]
        })
        .filter(|pair| pair[2] != 0)
        .collect();
    pairs.sort_unstable();
    let count = pairs.len() as u16;
    let mut table = Vec::new();
    put16(&mut table, &[0, 1, 0, 14 + 6 * count, 1]);
    put16(&mut table, &search(count, 6));
    pairs.iter().for_each(|pair| put16(&mut table, pair));
    table
}

/// What a table says of its sorted entries, so that a reader finds one: their number, the greatest power of two in it in
/// bytes, its exponent, the rest in bytes.
fn search(count: u16, size: u16) -> [u16; 4] {
    let exponent = count.checked_ilog2().unwrap_or(0) as u16;
    let range = if count == 0 { 0 } else { size << exponent };
    [count, range, exponent, size * count - range]
}

/// `GSUB` with the one feature `liga`, if there is a ligature.
fn ligatures(letters: &Letters) -> Option<Vec<u8>> {
    // By the first letter, the longer ones first: glyph and letters after the first.
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
    if sets.is_empty() {
        return None;
    }
    sets.values_mut().for_each(|set| set.sort_by_key(|(_, after)| Reverse(after.len())));
    let mut table = Vec::new();
    // Version 1.0; scripts, features and lookups begin there.
    put16(&mut table, &[1, 0, 10, 30, 44]);
    // One script, which stands for all, with one language that has the feature 0.
    put16(&mut table, &[1]);
    table.extend(b"DFLT");
    put16(&mut table, &[8, 4, 0, 0, 0xffff, 1, 0]);
    // One feature, with the lookup 0.
    put16(&mut table, &[1]);
    table.extend(b"liga");
    put16(&mut table, &[8, 0, 1, 0]);
    // One lookup of one subtable, of ligatures.
    put16(&mut table, &[1, 4, 4, 0, 1, 8]);
    let count = sets.len() as u16;
    // After the subtable's head come its sets, then the letters that they begin with.
    let mut places = Vec::new();
    let mut body = Vec::new();
    let head = 6 + 2 * count;
    for ligatures in sets.values() {
        places.push(head + body.len() as u16);
        let mut at = 2 + 2 * ligatures.len() as u16;
        put16(&mut body, &[ligatures.len() as u16]);
        for (_, after) in ligatures {
            put16(&mut body, &[at]);
            at += 4 + 2 * after.len() as u16;
        }
        for (glyph, after) in ligatures {
            put16(&mut body, &[*glyph, after.len() as u16 + 1]);
            put16(&mut body, after);
        }
    }
    put16(&mut table, &[1, head + body.len() as u16, count]);
    put16(&mut table, &places);
    table.extend(body);
    put16(&mut table, &[1, count]);
    sets.keys().for_each(|first| put16(&mut table, &[*first]));
    Some(table)
}

/// The file of some tables, sorted by their tags.
fn assembled(mut tables: Vec<(Tag, Vec<u8>)>) -> Vec<u8> {
    let count = tables.len() as u16;
    let mut file = b"OTTO".to_vec();
    put16(&mut file, &search(count, 16));
    let mut at = 12 + 16 * u32::from(count);
    // What makes the sum of the whole file a certain number is no part of the sum of its table.
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

/// The sum of a table's words.
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
