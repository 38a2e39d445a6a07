//! Reads lyric events that also contain display instructions and facts about the song (MIDI Manufacturers Association,
//! RP-026).
//!
//! Readings in brackets are printed over the word before them and are not sung. Tags in braces name the encoding, the
//! title and the makers of the song. A backslash removes the special meaning of the next sign, makes `r` or `n` a line
//! end, and makes `t` a space. Other programs give brackets and backslashes other meanings, so these rules apply only
//! to tracks with a tag.

use super::{
    super::heading::one_line,
    text::{self, Encoding},
    track::{RawText, Track},
};
use crate::melody::Creator;

/// The largest number of lyric events in a track that are searched for tags, which come at the beginning.
const MAX_EVENTS: usize = 1_000;

/// Facts about the song from a file's tags.
#[derive(PartialEq, Eq, Debug, Default)]
pub(super) struct Song {
    pub(super) title: Option<String>,
    pub(super) creators: Vec<Creator>,
}

/// Whether a track's lyrics have tags.
pub(super) fn has_tags(lyrics: &[RawText]) -> bool {
    lyrics.iter().take(MAX_EVENTS).any(|text| begins_with_tag(text.bytes))
}

/// Whether a text consists only of tags.
pub(super) fn is_tag(bytes: &[u8]) -> bool {
    begins_with_tag(bytes) && bytes.trim_ascii().ends_with(b"}")
}

fn begins_with_tag(bytes: &[u8]) -> bool {
    let bytes = bytes.trim_ascii_start();
    bytes.starts_with(b"{@") || bytes.starts_with(b"{#")
}

/// Reads the tags of all tracks; the first of each kind is used.
pub(super) fn song(tracks: &[Track]) -> Song {
    let mut song = Song::default();
    for lyrics in tracks.iter().map(|track| &track.lyrics).filter(|lyrics| has_tags(lyrics)) {
        let mut encoding = Encoding::default();
        for text in lyrics.iter().take(MAX_EVENTS) {
            read(&text::decode(text.bytes, &mut encoding), &mut song);
        }
    }
    song
}

/// Returns the sung words of a text, without its tags, readings and backslashes.
pub(super) fn sung(text: &str) -> String {
    read(text, &mut Song::default())
}

/// Reads through a text, collects tags into `song`, and returns the sung words.
fn read(text: &str, song: &mut Song) -> String {
    let (mut sung, mut tag, mut in_reading) = (String::new(), None::<String>, false);
    let mut signs = text.chars().peekable();
    while let Some(sign) = signs.next() {
        let plain = match (sign, signs.peek()) {
            ('\\', Some('r' | 'n')) => signs.next().map(|_| '\n'),
            ('\\', Some('t')) => signs.next().map(|_| ' '),
            ('\\', Some('\\' | '{' | '}' | '[' | ']')) => signs.next(),
            // A new tag also ends an unclosed tag.
            ('{', Some('@' | '#')) => {
                song.take(tag.replace(String::new()));
                None
            }
            ('}', _) if tag.is_some() => {
                song.take(tag.take());
                None
            }
            ('[', _) if tag.is_none() => {
                in_reading = true;
                None
            }
            (']', _) if in_reading => {
                in_reading = false;
                None
            }
            _ => Some(sign),
        };
        match &mut tag {
            Some(tag) => tag.extend(plain),
            None if in_reading => {}
            None => sung.extend(plain),
        }
    }
    song.take(tag);
    sung
}

impl Song {
    /// Stores the content of a tag, such as `#Title=The Mill`.
    fn take(&mut self, tag: Option<String>) {
        let tag = tag.unwrap_or_default();
        let Some((item, words)) = tag.strip_prefix('#').and_then(|tag| tag.split_once('=')) else { return };
        let words = one_line(words);
        let role = match item.trim().to_ascii_lowercase().as_str() {
            _ if words.is_empty() => return,
            "title" => {
                self.title.get_or_insert(words);
                return;
            }
            "composer" => "composer",
            "lyrics" => "lyricist",
            "artist" => "artist",
            _ => return,
        };
        if self.creators.iter().all(|known| known.role != role) {
            self.creators.push(Creator { role: role.to_owned(), name: words });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tags_and_readings_are_not_sung_and_a_backslash_makes_signs_plain() {
        for (text, expected) in [
            ("mi casa[my house] ", "mi casa "),
            ("{@LATIN}{#Title=The Mill}La", "La"),
            (r"\{la\}\[la\]\\", r"{la}[la]\"),
            (r"la\r", "la\n"),
            (r"la\t\n", "la \n"),
            ("{#Title=The Mill", ""),
            ("la}la]{la}", "la}la]{la}"),
            (r"\x\", r"\x\"),
        ] {
            assert_eq!(sung(text), expected, "{text}");
        }
    }

    #[test]
    fn a_tag_that_is_not_closed_ends_with_the_next() {
        let mut song = Song::default();
        read(
            r"{#TITLE= The \{Mill\} {#composer=A. Nonymous} {#Title=Another}{#Artist=}{#Year=1890}{#}",
            &mut song,
        );
        assert_eq!(song.title.as_deref(), Some("The {Mill}"));
        assert_eq!(song.creators, [Creator { role: "composer".into(), name: "A. Nonymous".into() }]);
    }
}
