//! Reads the syllables of lyric events or karaoke texts, and assigns them to notes.

use std::cmp::Reverse;

use super::{
    super::heading::is_stopgap,
    display,
    text::{self, Encoding},
    track::{RawText, Track},
};
use crate::melody::Lyric;

/// The largest number of syllables that is read from one track: a long opera role has a few thousand.
const MAX_SYLLABLES: usize = 20_000;
/// The largest number of verses in a track; further texts are added to the last verse.
const MAX_VERSES: usize = 20;
/// The largest number of parts with which a track of words without notes is compared.
const MAX_CANDIDATES: usize = 256;

/// A syllable and its place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Syllable {
    /// The tick at which the syllable is sung.
    pub(super) tick: u64,
    /// Its text, its verse and its hyphen.
    pub(super) lyric: Lyric,
}

/// The notes of a part that get the words, one for each onset, in order.
pub(super) struct Onsets {
    /// The track that contains the part.
    pub(super) track: usize,
    /// The tick and the index of each note.
    pub(super) notes: Vec<(u64, usize)>,
}

/// A syllable and its note.
pub(super) struct Sung {
    /// The index of the part.
    pub(super) part: usize,
    /// The index of the note in the part.
    pub(super) note: usize,
    /// The syllable.
    pub(super) lyric: Lyric,
}

/// Assigns the syllables to notes; also returns the part and the tick of each syllable for which the part has no note.
///
/// Words in a track with notes belong to those notes if at least half of the words start with a note. If no track's
/// words belong to its own notes, as in karaoke files, the part that fits the longest text best gets the words. The
/// onsets of the parts are computed only if the file has words.
pub(super) fn set(
    tracks: &[Track],
    onsets: impl FnOnce() -> Vec<Onsets>,
    quarter: u64,
) -> (Vec<Sung>, Vec<(usize, u64)>) {
    let words: Vec<Vec<Syllable>> = syllables_of(tracks);
    let (mut sung, mut lost) = (Vec::new(), Vec::new());
    if words.iter().all(Vec::is_empty) {
        return (sung, lost);
    }
    let parts = onsets();
    let parts = parts.as_slice();
    let mut homeless: Vec<&[Syllable]> = Vec::new();
    for (track, syllables) in words.iter().enumerate().filter(|(_, syllables)| !syllables.is_empty()) {
        let first = parts.partition_point(|part| part.track < track);
        let after = parts.partition_point(|part| part.track <= track);
        if !fit_best(syllables, parts, first..after, quarter, &mut sung, &mut lost) {
            homeless.push(syllables);
        }
    }
    if !sung.is_empty() {
        return (sung, lost);
    }
    // The longest text determines the part; further texts that also fit the part become further verses.
    homeless.sort_by_key(|syllables| Reverse(syllables.len()));
    homeless.dedup();
    let mut range = 0..parts.len().min(MAX_CANDIDATES);
    let mut verses = 0;
    for syllables in homeless.into_iter().take(MAX_VERSES) {
        let before = sung.len();
        fit_best(syllables, parts, range.clone(), quarter, &mut sung, &mut lost);
        for Sung { part, lyric, .. } in &mut sung[before..] {
            lyric.verse = lyric.verse.saturating_add(verses);
            range = *part..*part + 1;
        }
        verses = sung.iter().map(|sung| sung.lyric.verse).max().unwrap_or(0);
    }
    (sung, lost)
}

/// Assigns the syllables to the best-fitting part of a range. Returns false if no part fits.
fn fit_best(
    syllables: &[Syllable],
    parts: &[Onsets],
    range: std::ops::Range<usize>,
    quarter: u64,
    sung: &mut Vec<Sung>,
    lost: &mut Vec<(usize, u64)>,
) -> bool {
    let note_at = |part: usize, tick: u64| {
        // A syllable up to a sixteenth of a quarter away from a note belongs to that note.
        let near = quarter / 16;
        let onsets = &parts[part].notes;
        let after = onsets.partition_point(|&(onset, _)| onset < tick);
        [after.checked_sub(1), Some(after)]
            .into_iter()
            .filter_map(|index| onsets.get(index?))
            .filter(|&&(onset, _)| onset.abs_diff(tick) <= near)
            .min_by_key(|&&(onset, _)| onset.abs_diff(tick))
            .map(|&(_, note)| note)
    };
    let fit =
        |part: usize| syllables.iter().filter(|syllable| note_at(part, syllable.tick).is_some()).count();
    // Twice the number of matches divided by the sum of syllables and onsets (the Dice coefficient), in millionths.
    // With this measure, a part with words under every note beats a part that merely has many notes.
    let likeness =
        |part: usize, fit: usize| 2_000_000 * fit / (syllables.len() + parts[part].notes.len()).max(1);
    let best = range
        .map(|part| (part, fit(part)))
        .filter(|&(_, fit)| fit * 2 >= syllables.len())
        .min_by_key(|&(part, fit)| (Reverse(likeness(part, fit)), part));
    let Some((part, _)) = best else { return false };
    for syllable in syllables {
        match note_at(part, syllable.tick) {
            Some(note) => sung.push(Sung { part, note, lyric: syllable.lyric.clone() }),
            None => lost.push((part, syllable.tick)),
        }
    }
    true
}

/// Returns the title that a karaoke file states.
pub(super) fn karaoke_title(tracks: &[Track]) -> Option<String> {
    let texts = || tracks.iter().flat_map(|track| &track.texts);
    if !texts().any(|text| text.bytes.starts_with(b"@K")) {
        return None;
    }
    let mut titles = texts().filter_map(|text| text.bytes.strip_prefix(b"@T")).filter_map(text::name);
    titles.find(|title| !is_stopgap(title))
}

/// Returns the syllables of each track.
fn syllables_of(tracks: &[Track]) -> Vec<Vec<Syllable>> {
    let has_lyrics = tracks.iter().any(|track| !track.lyrics.is_empty());
    // Karaoke files keep the words in general texts; in other files such texts may have any content.
    let is_karaoke = tracks.iter().flat_map(|track| &track.texts).any(|text| text.bytes.starts_with(b"@K"));
    tracks
        .iter()
        .map(|track| match (has_lyrics, is_karaoke) {
            (true, _) => verses(&track.lyrics),
            (false, true) => {
                let is_text = |text: &&RawText| !text.bytes.starts_with(b"@");
                verses(&track.texts.iter().filter(is_text).copied().collect::<Vec<_>>())
            }
            (false, false) => Vec::new(),
        })
        .collect()
}

/// Reads the texts of a track, which may contain several verses: the nth text at a place belongs to verse n.
///
/// Texts at one place are verses if at least half of the places have several texts; otherwise they are pieces of one
/// syllable. The format has no sign for a verse (common practice, no source).
fn verses(texts: &[RawText]) -> Vec<Syllable> {
    let is_blank =
        |text: &RawText| text.bytes.iter().all(u8::is_ascii_whitespace) || display::is_tag(text.bytes);
    let mut by_verse: Vec<Vec<RawText>> = Vec::new();
    let (mut places, mut several) = (0, 0);
    let lines: Vec<RawText> = texts.iter().copied().flat_map(lines).collect();
    let texts = lines.as_slice();
    for place in texts.chunk_by(|a, b| a.tick == b.tick) {
        let mut said: usize = 0;
        for &text in place {
            // A line end belongs to the text before it.
            let verse = if is_blank(&text) { said.saturating_sub(1) } else { said }.min(MAX_VERSES - 1);
            by_verse.resize_with(by_verse.len().max(verse + 1), Vec::new);
            by_verse[verse].push(text);
            said += usize::from(!is_blank(&text));
        }
        places += 1;
        several += usize::from(said > 1);
    }
    if several * 2 < places || several == 0 {
        return syllables(texts);
    }
    // If a file has all its parts in one track, a repetition of the same words belongs to another part.
    let same =
        |a: &[RawText], b: &[RawText]| a.iter().map(|text| text.bytes).eq(b.iter().map(|text| text.bytes));
    let mut kept: Vec<Vec<RawText>> = Vec::new();
    for verse in by_verse {
        if !kept.iter().any(|known| same(known, &verse)) {
            kept.push(verse);
        }
    }
    let mut all: Vec<Syllable> = (1..)
        .zip(&kept)
        .flat_map(|(verse, texts)| {
            syllables(texts).into_iter().map(move |mut syllable| {
                syllable.lyric.verse = verse;
                syllable
            })
        })
        .collect();
    all.sort_by_key(|syllable| syllable.tick);
    all
}

/// Splits a text into lines, because some programs write the verses of a note below each other in one text. A line end
/// at the beginning or end of the text says where words end, so it stays.
fn lines(text: RawText<'_>) -> Vec<RawText<'_>> {
    let lines = text.bytes.split(|&byte| byte == b'\n' || byte == b'\r');
    let lines: Vec<&[u8]> = lines.filter(|line| !line.trim_ascii().is_empty()).collect();
    match lines.len() {
        0 | 1 => vec![text],
        _ => lines.into_iter().map(|bytes| RawText { bytes, ..text }).collect(),
    }
}

/// Reads the texts of a track as syllables, and finds where words end.
///
/// In a file that writes hyphens, a hyphen at the end joins a syllable to the next. In a file that writes spaces (MIDI
/// Manufacturers Association, RP-017), a word ends with a space or a line end; in karaoke texts it may begin with one.
/// In a file that writes neither, each event is a whole word.
fn syllables(texts: &[RawText]) -> Vec<Syllable> {
    let mut encoding = Encoding::default();
    let has_tags = display::has_tags(texts);
    let decoded: Vec<(u64, String)> = texts
        .iter()
        .take(MAX_SYLLABLES)
        .map(|text| {
            let words = text::decode(text.bytes, &mut encoding);
            (text.tick, if has_tags { display::sung(&words) } else { words })
        })
        .collect();
    let breaks = [' ', '\r', '\n', '\u{3000}'];
    let starts_word = |text: &str| text.starts_with(breaks) || text.starts_with(['/', '\\']);
    let ends_word = |text: &str| text.ends_with(breaks);
    let writes_hyphens = decoded.iter().any(|(_, text)| text.trim().len() > 1 && text.trim().ends_with('-'));
    let writes_spaces =
        decoded.iter().any(|(_, text)| !text.trim().is_empty() && (starts_word(text) || text.ends_with(' ')));

    let mut syllables: Vec<Syllable> = Vec::new();
    // Whether the last syllable joins the next one if no word break comes between them.
    let mut open = false;
    for (tick, text) in &decoded {
        let bare = text.trim_start_matches(['/', '\\']).trim();
        if let Some(last) = syllables.last_mut() {
            if bare == "_" || (bare == "-" && open) {
                last.lyric.extend |= bare == "_";
                continue;
            }
            last.lyric.hyphen |= open && !bare.is_empty() && (writes_hyphens || !starts_word(text));
        }
        if bare.is_empty() {
            // The text has no syllable: it is only a space, a line end or a tag.
            open &= writes_hyphens;
            continue;
        }
        let (word, hyphenated) = match bare.strip_suffix('-') {
            Some(word) if !word.is_empty() => (word.trim_end(), true),
            _ => (bare, false),
        };
        let lyric = Lyric { verse: 1, text: word.to_owned(), hyphen: false, extend: false };
        syllables.push(Syllable { tick: *tick, lyric });
        open = if writes_hyphens { hyphenated } else { writes_spaces && !ends_word(text) };
    }
    syllables
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(texts: &[&'static str]) -> Vec<(String, bool)> {
        let raw: Vec<RawText> = texts
            .iter()
            .enumerate()
            .map(|(i, text)| RawText { tick: i as u64, bytes: text.as_bytes() })
            .collect();
        syllables(&raw).into_iter().map(|syllable| (syllable.lyric.text, syllable.lyric.hyphen)).collect()
    }

    #[test]
    fn words_are_joined_by_hyphens_or_ended_by_spaces_as_the_file_writes_them() {
        let expected =
            [("A".into(), false), ("ma".into(), true), ("zing".into(), false), ("grace".into(), false)];
        assert_eq!(read(&["A", "ma-", "zing", "grace"]), expected);
        assert_eq!(read(&["A ", "ma", "zing ", "grace\r"]), expected);
        assert_eq!(read(&["\\A", " ma", "zing", " grace"]), expected);
        let words = [("A".into(), false), ("home".into(), false)];
        assert_eq!(read(&["A", "home"]), words);
    }
}
