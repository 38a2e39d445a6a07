//! What stands before the music: title, list of parts, and whether the score is at concert pitch.

use roxmltree::Node;

use super::{
    MAX_PARTS,
    value::{child, child_text, is, text},
};

/// The most words on the page that are looked at for the title.
const MAX_CREDITS: usize = 20;
/// A title that ends so is a file's name, as some programs write it there.
const FILE_ENDINGS: [&str; 4] = [".mxl", ".musicxml", ".xml", ".mid"];

/// The head of a score.
pub(super) struct Header<'a> {
    pub(super) title: Option<String>,
    /// All parts are written as they sound, octaves apart.
    pub(super) concert: bool,
    /// The part list: identifier and what is said about the part.
    parts: Vec<(Option<&'a str>, PartInfo)>,
}

/// What the part list says about a part.
#[derive(Clone, Default)]
pub(super) struct PartInfo {
    pub(super) name: Option<String>,
    /// All its instruments are on the MIDI channel of the drums.
    pub(super) percussion: bool,
}

/// Reads everything before the first note.
pub(super) fn read<'a>(root: Node<'a, '_>) -> Header<'a> {
    let mut header = Header { title: None, concert: false, parts: Vec::new() };
    let (mut work, mut movement, mut credits) = (None, None, Vec::new());
    for child_node in root.children() {
        match child_node.tag_name().name() {
            "work" => work = child_text(child_node, "work-title"),
            "movement-title" => movement = Some(text(child_node)),
            "credit" if credits.len() < MAX_CREDITS => credits.extend(title_credit(child_node)),
            "defaults" => header.concert = child(child_node, "concert-score").is_some(),
            "part-list" => {
                let parts = child_node.children().filter(|child| is(*child, "score-part"));
                header.parts = parts.take(MAX_PARTS).map(|part| (part.attribute("id"), info(part))).collect();
            }
            "part" | "measure" => break,
            _ => {}
        }
    }
    credits.sort_by_key(|&(is_title, _)| !is_title);
    let words = |text: &str| {
        let title = one_line(text);
        let bare = FILE_ENDINGS.iter().find_map(|ending| title.strip_suffix(ending));
        bare.map(str::to_owned).unwrap_or(title)
    };
    // Words that do not say what they are may be a page number or the name of a part.
    let is_part = |title: &str| {
        let named = |(_, part): &(Option<&str>, PartInfo)| {
            part.name.as_ref().is_some_and(|name| name.to_lowercase() == title.to_lowercase())
        };
        header.parts.iter().any(named)
    };
    let can_be_title =
        |title: &String| title.chars().filter(|c| c.is_alphabetic()).count() > 1 && !is_part(title);
    let mut stated = [work, movement].into_iter().flatten().map(words);
    let mut on_page = credits.into_iter().map(|(is_title, text)| (is_title, words(text)));
    header.title = stated.find(|title| !title.is_empty()).or_else(|| {
        on_page
            .find(|(is_title, title)| (*is_title && !title.is_empty()) || can_be_title(title))
            .map(|(_, title)| title)
    });
    header
}

impl Header<'_> {
    /// What is known of a part: by its identifier, or without one by its place.
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

/// The words of a credit that says it is the title, or does not say what it is; and whether it does.
fn title_credit<'a>(credit: Node<'a, '_>) -> Option<(bool, &'a str)> {
    let words = child_text(credit, "credit-words")?;
    match child_text(credit, "credit-type") {
        None => Some((false, words)),
        Some("title") => Some((true, words)),
        Some(_) => None,
    }
}

/// White space of all kinds to single spaces.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
