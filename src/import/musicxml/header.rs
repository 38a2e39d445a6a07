//! Reads the part of a score before the music: the title, the makers, the list of parts, and whether the score is at
//! concert pitch.

use roxmltree::Node;

use super::{
    super::{
        draft::PartInfo,
        heading::{is_stopgap, is_stopgap_maker, one_line},
    },
    MAX_PARTS,
    value::{child, child_text, is, text},
};
use crate::melody::{Creator, Credits};

/// The largest number of texts on the page that are searched for the title and the makers.
const MAX_CREDITS: usize = 20;
/// The largest number of names and copyright texts that is kept.
const MAX_CREATORS: usize = 20;
/// A title with one of these extensions is a file's name, which some programs write in place of a title.
const FILE_ENDINGS: [&str; 5] = [".mxl", ".musicxml", ".xml", ".mid", ".midi"];

/// The content of the score before the music.
pub(super) struct Header<'a> {
    pub(super) title: Option<String>,
    pub(super) credits: Credits,
    /// Whether all parts are written as they sound, apart from octaves.
    pub(super) concert: bool,
    /// The part list: the identifier and the entry of each part.
    parts: Vec<(Option<&'a str>, PartInfo)>,
}

/// A text on the page, with the type that the file gives it.
struct Words<'a> {
    kind: Option<&'a str>,
    text: String,
}

/// Reads all elements before the music.
pub(super) fn read<'a>(root: Node<'a, '_>) -> Header<'a> {
    let mut header = Header { title: None, credits: Credits::default(), concert: false, parts: Vec::new() };
    let (mut work, mut movement, mut on_page) = (None, None, Vec::new());
    for child_node in root.children() {
        match child_node.tag_name().name() {
            "work" => work = child_text(child_node, "work-title"),
            "movement-title" => movement = Some(text(child_node)),
            "identification" => header.credits = identification(child_node),
            "credit" if on_page.len() < MAX_CREDITS => on_page.extend(words(child_node)),
            "defaults" => header.concert = child(child_node, "concert-score").is_some(),
            "part-list" => {
                let parts = child_node.children().filter(|child| is(*child, "score-part"));
                header.parts = parts.take(MAX_PARTS).map(|part| (part.attribute("id"), info(part))).collect();
            }
            "part" | "measure" => break,
            _ => {}
        }
    }
    add_from_page(&mut header.credits, &on_page);
    let stated = [work, movement].into_iter().flatten().map(title);
    header.title =
        stated.into_iter().find(|title| !is_stopgap(title)).or_else(|| header.title_on_page(&on_page));
    header
}

/// Reads the makers and rights from a score's identification.
fn identification(node: Node<'_, '_>) -> Credits {
    let mut credits = Credits::default();
    for child in node.children() {
        let text = one_line(text(child));
        match child.tag_name().name() {
            _ if text.is_empty() => {}
            "creator" if is_stopgap_maker(&text) => {}
            "creator" if credits.creators.len() < MAX_CREATORS => {
                let role = child.attribute("type").map(one_line).unwrap_or_default();
                credits.creators.push(Creator { role, name: text });
            }
            "rights" if credits.rights.len() < MAX_CREATORS => credits.rights.push(text),
            _ => {}
        }
    }
    credits
}

/// Adds from the page the makers and rights that the identification lacks, because some scores name them only on the
/// page.
fn add_from_page(credits: &mut Credits, on_page: &[Words]) {
    let of_kind = |kind: &str| -> Vec<String> {
        on_page.iter().filter(|words| words.kind == Some(kind)).map(|words| words.text.clone()).collect()
    };
    for role in ["composer", "lyricist", "arranger"] {
        if credits.creators.iter().all(|creator| creator.role != role) {
            let names = of_kind(role).into_iter().filter(|name| !is_stopgap_maker(name));
            credits.creators.extend(names.map(|name| Creator { role: role.to_owned(), name }));
        }
    }
    if credits.rights.is_empty() {
        credits.rights = of_kind("rights");
    }
}

impl Header<'_> {
    /// Returns the text on the page marked as the title; otherwise the first text that is neither a number nor the name
    /// of a part or a person.
    fn title_on_page(&self, on_page: &[Words]) -> Option<String> {
        let is_part = |words: &str| {
            let name = |part: &PartInfo| part.name.as_ref().map(|name| name.to_lowercase());
            self.parts.iter().any(|(_, part)| name(part) == Some(words.to_lowercase()))
        };
        let is_credit = |words: &str| {
            let names = self.credits.creators.iter().map(|creator| &creator.name);
            names.chain(&self.credits.rights).any(|name| name == words)
        };
        let stated = on_page.iter().filter(|words| words.kind == Some("title"));
        let others = on_page.iter().filter(|words| words.kind.is_none()).filter(|words| {
            let letters = words.text.chars().filter(|c| c.is_alphabetic()).count();
            letters > 1 && !is_part(&words.text) && !is_credit(&words.text)
        });
        stated.chain(others).map(|words| title(&words.text)).find(|title| !is_stopgap(title))
    }

    /// Returns the entry of a part, by its identifier, or by its place if the part list does not have the identifier.
    pub(super) fn info(&self, id: Option<&str>, index: usize) -> PartInfo {
        let by_id = self.parts.iter().find(|(other, _)| id.is_some() && *other == id);
        by_id.or(self.parts.get(index)).map(|(_, info)| info.clone()).unwrap_or_default()
    }
}

fn info(part: Node<'_, '_>) -> PartInfo {
    const DRUMS: &str = "10";
    let name = child_text(part, "part-name").map(one_line).filter(|name| !name.is_empty());
    let channels = part
        .children()
        .filter(|child| is(*child, "midi-instrument"))
        .filter_map(|instrument| child_text(instrument, "midi-channel"));
    let mut any = false;
    let percussion = channels.fold(true, |all, channel| {
        any = true;
        all && channel == DRUMS
    });
    PartInfo { name, percussion: percussion && any }
}

/// Reads the text of a credit; `None` if the credit has no text, for example because it is a picture.
fn words<'a>(credit: Node<'a, '_>) -> Option<Words<'a>> {
    let kind = child_text(credit, "credit-type");
    let mut lines =
        credit.children().filter(|child| is(*child, "credit-words")).map(|words| one_line(text(words)));
    // The lines below a title do not belong to the title, but a maker's name may continue in the next line.
    let text = if kind.is_none_or(|kind| kind == "title") {
        lines.next()?
    } else {
        one_line(&lines.collect::<Vec<_>>().join(" "))
    };
    (!text.is_empty()).then_some(Words { kind, text })
}

/// Returns a title as one line; removes the extension if the title is a file's name.
fn title(text: &str) -> String {
    let title = one_line(text);
    let lower = title.to_ascii_lowercase();
    let ending = FILE_ENDINGS.iter().find(|ending| lower.ends_with(*ending));
    title[..title.len() - ending.map_or(0, |ending| ending.len())].to_owned()
}
