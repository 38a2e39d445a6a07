//! Writes the text about the key: its name, the clues for it, where it changes, and the other key that may be meant.

use super::{Block, Line, Tone, Tune, words};
use crate::{
    harp::Position,
    melody::{
        Melody,
        key::{self, Clue, Evidence, Key, KeyFinding, KeyGuess, KeySource, Mode, Section},
        transposed_sharps,
    },
    pitch::PitchClass,
    search::Approach,
};

/// The least confidence, in per cent, at which another mode on the same tonic is mentioned. Where the key changes, the
/// confidence in a section's key is mentioned if it leaves more doubt than this.
const WORTH_A_WORD: u8 = 15;

/// The confidence in the tonic, in per cent, below which pages name the second key and its position beside the first.
const IN_DOUBT: u8 = 70;

/// Returns the rival key on another tonic, if the tonic is in doubt. The rival's confidence is the confidence in its
/// tonic, the same figure on every page.
pub fn rival(finding: &KeyFinding) -> Option<KeyGuess> {
    finding.rival().filter(|_| finding.tonic_confidence < IN_DOUBT)
}

/// Returns "G major" or "D Dorian", spelled as in the tune's signature.
pub(super) fn name(key: Key, melody: &Melody) -> String {
    words::key(key, melody.signatures.first().map(|signature| signature.sharps))
}

/// Returns the name of the tonic in which an approach sounds. While the tune stays in its key, the tonic is spelled as
/// in the tune's signature.
pub(crate) fn sounding(approach: &Approach, mode: Mode, melody: &Melody) -> String {
    let stays = approach.transposed.0 == 0;
    let signature = melody.signatures.first().filter(|_| stays).map(|signature| signature.sharps);
    Key { tonic: approach.tonic, mode }.tonic_name(signature)
}

/// Returns the lines about the key at the top of a page: the key with its shade and its strongest clue, and where it
/// changes.
pub(super) fn lines(tune: &Tune) -> Vec<Block> {
    let melody = &tune.imported.melody;
    let mut lines = vec![Block::Text(key_line(tune.key, melody))];
    let sections = key::sections(melody);
    if let Some(changes) = changes(&sections, tune) {
        lines.push(Block::Text(Tone::Warning.of("The key changes: ").and(Tone::Plain, changes)));
    }
    lines
}

/// Returns "Key: G major, 97% sure, from the signature and the notes: it ends on G".
fn key_line(finding: &KeyFinding, melody: &Melody) -> Line {
    let shade = key::shade(melody, finding.key).map_or(String::new(), |shade| format!(" ({shade})"));
    let key = Line::from("Key: ").and(Tone::Strong, name(finding.key, melody)).and(Tone::Plain, shade);
    let from = match finding.source {
        KeySource::User => return key.and(Tone::Plain, ", as you chose"),
        KeySource::Signature => "the signature and the notes",
        KeySource::Notes => "the notes",
    };
    let why = why(finding).map_or(String::new(), |why| format!(": {why}"));
    let sure = format!("{}% sure", finding.confidence);
    let on_tonic =
        |guess: &&KeyGuess| guess.key.tonic == finding.key.tonic && guess.confidence >= WORTH_A_WORD;
    let rival = rival(finding).or_else(|| finding.others.iter().find(on_tonic).copied());
    // A rival's figure counts every mode on its tonic, so the figure for this tonic must be there to compare.
    let sure = match rival.filter(|guess| guess.confidence >= finding.confidence) {
        None => sure,
        Some(_) => format!("{sure} ({}% with the other modes on its tonic)", finding.tonic_confidence),
    };
    let rival = rival.map_or_else(String::new, |guess| {
        let other = name(guess.key, melody);
        format!("; {other} is {}% likely (--key {})", guess.confidence, option(guess.key, melody))
    });
    key.and(Tone::Plain, format!(", {sure}, from {from}{why}{rival}"))
}

/// Returns a key as the command line accepts it: `G`, `Em`, `"D Dorian"`.
pub(super) fn option(key: Key, melody: &Melody) -> String {
    let tonic = key.tonic_name(melody.signatures.first().map(|signature| signature.sharps));
    match key.mode {
        Mode::Major => tonic,
        Mode::Minor => format!("{tonic}m"),
        mode => format!("\"{tonic} {}\"", words::mode(mode)),
    }
}

/// Returns the strongest clue for the key among those that [`clue`] words: "it ends on G".
///
/// A last note that is the tonic comes before every other clue, because a player can check it at a glance.
fn why(finding: &KeyFinding) -> Option<String> {
    let ends_at_home = |evidence: &&Evidence| evidence.clue == Clue::LastNote(finding.key.tonic);
    let first = finding.evidence.iter().filter(ends_at_home).chain(&finding.evidence);
    first.into_iter().find_map(|evidence| clue(evidence, finding.key))
}

/// Returns all clues for the key that [`clue`] words, for JSON, the strongest first.
pub(crate) fn evidence(finding: &KeyFinding) -> Vec<String> {
    finding.evidence.iter().filter_map(|evidence| clue(evidence, finding.key)).collect()
}

/// Returns a clue for the key as a clause of a sentence. Returns `None` if the clue does not speak for the key, and for
/// kinds of clues that need no words, such as the signature.
fn clue(evidence: &Evidence, key: Key) -> Option<String> {
    let tonic = key.tonic_name(None);
    let is_tonic = |class: PitchClass| class == key.tonic;
    let text = match evidence.clue {
        _ if evidence.points <= 0 => return None,
        Clue::Profile => format!("its notes occur about as often as in {} tunes", words::mode(key.mode)),
        Clue::Durations => {
            format!("the lengths of its notes are typical of {tonic} {}", words::mode(key.mode))
        }
        Clue::ModeNotes => format!("its notes belong to {tonic} {}", words::mode(key.mode)),
        Clue::FirstStress(class) if is_tonic(class) => format!("its first note on a first beat is {tonic}"),
        Clue::FirstStress(_) => format!("its first note on a first beat belongs to the chord of {tonic}"),
        Clue::FirstBars => format!("its strains begin with the chord of {tonic}"),
        Clue::LastBars => format!("its strains end with the chord of {tonic}"),
        Clue::LastNote(class) if is_tonic(class) => format!("it ends on {tonic}"),
        Clue::LastNote(_) => format!("it ends as tunes in {tonic} do"),
        Clue::StrainEnds => format!("its strains end as tunes in {tonic} do"),
        Clue::Approaches => format!("the last notes of its strains lead to {tonic}"),
        Clue::Lowest => format!("its lowest note is typical of tunes in {tonic}"),
        Clue::Highest => format!("its highest note is typical of tunes in {tonic}"),
        Clue::Chords(first, last) if is_tonic(first) && is_tonic(last) => {
            format!("its chords begin and end on {tonic}")
        }
        Clue::Chords(first, _) if is_tonic(first) => format!("its chords begin on {tonic}"),
        Clue::Chords(_, last) if is_tonic(last) => format!("its chords end on {tonic}"),
        Clue::Signature(_) | Clue::SignatureMode(_) | Clue::Chords(..) | Clue::Habit => return None,
    };
    Some(text)
}

/// Returns "G major, then D major from bar 17 on (62% sure); positions are named from G major, …".
fn changes(sections: &[Section], tune: &Tune) -> Option<String> {
    /// The most sections that are named. Readers would skip a longer list.
    const NAMED: usize = 6;
    if sections.is_empty() {
        return None;
    }
    let melody = &tune.imported.melody;
    let named: Vec<String> = sections
        .iter()
        .enumerate()
        .map(|(index, section)| {
            let key = words::key(section.finding.key, Some(section.sharps));
            let sure = section.finding.confidence;
            let from = words::bars(melody, [section.note]);
            let place = if index == 0 { String::new() } else { format!(" from {from} on") };
            if sure < 100 - WORTH_A_WORD { format!("{key}{place} ({sure}% sure)") } else { key + &place }
        })
        .collect();
    let home = name(tune.key.key, melody);
    let why = match tune.key.source {
        KeySource::User => "as you chose",
        KeySource::Signature | KeySource::Notes => "whose signature holds for most of the tune",
    };
    let more = named.len().saturating_sub(NAMED);
    let mut text = named[..named.len() - more].join(", then ");
    if more > 0 {
        text += &format!(" and {more} more");
    }
    Some(format!("{text}; positions are named from {home}, {why}"))
}

/// Names the position, on the harp of an approach, of each section with another tonic than the section before it: "the
/// key changes, and with it the position: 3rd position from bar 17". `None` if the tonic stays the same.
pub(super) fn sections_on(approach: &Approach, tune: &Tune) -> Option<String> {
    const NAMED: usize = 4;
    let melody = &tune.imported.melody;
    let sections = key::sections(melody);
    let mut here = tune.key.key.tonic;
    let mut named = Vec::new();
    for section in &sections {
        let tonic = section.finding.key.tonic;
        if tonic != here {
            let sounding = tonic.transposed(approach.transposed);
            let position = Position::of(approach.harp.first_position_key(), sounding);
            let from = if section.note == 0 {
                "at the beginning".to_owned()
            } else {
                format!("from {}", words::bars(melody, [section.note]))
            };
            named.push(format!("{} {from}", words::position(position)));
        }
        here = tonic;
    }
    (!named.is_empty())
        .then(|| format!("the key changes, and with it the position: {}", words::short_list(&named, NAMED)))
}

/// Returns "D major from bar 18", with the key moved as the approach moves the tune, or "two changes of key". Returns
/// `None` if the tonic never changes.
pub(super) fn other_keys(approach: &Approach, home: Key, melody: &Melody) -> Option<String> {
    let mut here = home;
    let mut named = Vec::new();
    for section in key::sections(melody) {
        let key = section.finding.key;
        if key.tonic != here.tonic {
            let sounding = Key { tonic: key.tonic.transposed(approach.transposed), ..key };
            let name = words::key(sounding, Some(transposed_sharps(section.sharps, approach.transposed)));
            let place = match section.note {
                0 => "at the beginning".to_owned(),
                note => format!("from {}", words::bars(melody, [note])),
            };
            named.push(format!("{name} {place}"));
        }
        here = key;
    }
    match named.len() {
        0 | 1 => named.pop(),
        // A heading has no room for more names.
        many => Some(format!("{} changes of key", words::number(many as u32))),
    }
}

/// Returns the text to follow the name of a position if the key is in doubt: ", if the tune is in G major, which is
/// doubtful; if it is in A minor (38% likely), this is 3rd position". If the key is not in doubt, the text is empty.
pub(super) fn condition(tune: &Tune, approach: &Approach) -> String {
    let Some(other) = rival(tune.key) else { return String::new() };
    let melody = &tune.imported.melody;
    let sounding = other.key.tonic.transposed(approach.transposed);
    let position = Position::of(approach.harp.first_position_key(), sounding);
    format!(
        ", if the tune is in {}, which is doubtful; if it is in {} ({}% likely), this is {}",
        name(tune.key.key, melody),
        name(other.key, melody),
        other.confidence,
        words::position(position)
    )
}
