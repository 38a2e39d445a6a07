//! Short texts that several pages use: numbers, plurals, lists, places and the names of actions.

use crate::{
    harp::{Action, Bend, Harp, Position, Register},
    melody::{Melody, key::Key},
    mode::Mode,
    search::{Approach, Region, Style},
    time::Beats,
};

/// Returns a number up to twelve as a word, and a larger number in digits.
pub(super) fn number(n: u32) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
        "twelve",
    ];
    WORDS.get(n as usize).map_or_else(|| n.to_string(), |word| (*word).to_owned())
}

/// Returns "once", "twice" or "six times".
pub(super) fn times(n: u32) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        _ => format!("{} times", number(n)),
    }
}

/// Returns "one note" or "two notes".
pub(super) fn plural(n: u32, one: &str, many: &str) -> String {
    format!("{} {}", number(n), if n == 1 { one } else { many })
}

/// Returns "a", "a and b" or "a, b and c".
pub(super) fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// Like [`list`], but names at most `most` items: "a, b and 3 more".
pub(super) fn short_list(items: &[String], most: usize) -> String {
    if items.len() <= most {
        return list(items);
    }
    format!("{} and {} more", items[..most].join(", "), items.len() - most)
}

/// Returns "bar 3" or "bars 3, 5 and 9" for the bars of notes, given by index; bar 0 is "the pickup".
pub(super) fn bars(melody: &Melody, notes: impl IntoIterator<Item = usize>) -> String {
    let mut numbers: Vec<u32> =
        notes.into_iter().map(|note| melody.bars[melody.notes[note].bar].number).collect();
    numbers.sort_unstable();
    numbers.dedup();
    bar_numbers(&numbers)
}

/// Returns "bar 3" or "bars 3, 5 and 9" for bar numbers in order; bar 0 is "the pickup".
pub(super) fn bar_numbers(numbers: &[u32]) -> String {
    let names: Vec<String> = numbers.iter().map(u32::to_string).collect();
    match (numbers, names.as_slice()) {
        ([0], _) => "the pickup".to_owned(),
        ([0, rest @ ..], _) => format!("the pickup and {}", bar_numbers(rest)),
        (_, [one]) => format!("bar {one}"),
        (_, names) => format!("bars {}", short_list(names, 6)),
    }
}

/// Capitalises the first letter.
pub(super) fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// Returns "major" or "Dorian": modes named after a people have a capital letter.
pub(super) fn mode(mode: Mode) -> String {
    match mode {
        Mode::Major | Mode::Minor => mode.to_string(),
        _ => sentence(&mode.to_string()),
    }
}

/// Returns "G major" or "D Dorian", with the tonic spelled as in this signature.
pub(super) fn key(key: Key, signature: Option<i8>) -> String {
    format!("{} {}", key.tonic_name(signature), mode(key.mode))
}

/// Returns "draw 3", "blow 10" or "overblow 6".
pub(super) fn hole(action: Action) -> String {
    match action.bend {
        Bend::Over => format!("over{} {}", action.breath, action.hole),
        Bend::None | Bend::Down(_) => format!("{} {}", action.breath, action.hole),
    }
}

/// Returns "draw 3 with a whole-step bend"; unbent notes and overbends as in [`hole`].
pub(super) fn bent_hole(action: Action) -> String {
    match action.bend {
        Bend::Down(semitones) => format!("{} with a {}", hole(action), depth(semitones)),
        Bend::Over | Bend::None => hole(action),
    }
}

/// Returns "the half-step bend on draw 3" or "overblow 6"; an unbent note as in [`hole`].
pub(super) fn bend_on(action: Action) -> String {
    match action.bend {
        Bend::Down(semitones) => format!("the {} on {}", depth(semitones), hole(action)),
        Bend::Over | Bend::None => hole(action),
    }
}

/// Returns "half-step bend", "whole-step bend", "step-and-a-half bend" or "bend of 4 half steps".
pub(super) fn depth(semitones: u8) -> String {
    match semitones {
        1 => "half-step bend".to_owned(),
        2 => "whole-step bend".to_owned(),
        3 => "step-and-a-half bend".to_owned(),
        _ => format!("bend of {semitones} half steps"),
    }
}

/// Returns "a half step", "a whole step", "a step and a half" or "4 half steps".
pub(super) fn steps(semitones: u8) -> String {
    match semitones {
        1 => "a half step".to_owned(),
        2 => "a whole step".to_owned(),
        3 => "a step and a half".to_owned(),
        _ => format!("{semitones} half steps"),
    }
}

/// Says how a style changes the prices; `None` for the plain style.
pub(super) fn style(style: Style) -> Option<&'static str> {
    match style {
        Style::Plain => None,
        Style::Blues => Some(
            "Played as blues: half, full and unsteady bends, and moves into and out of them, cost half as much.",
        ),
        Style::Folk => Some(
            "Played as folk: half, full and unsteady bends, and moves into and out of them, cost one and a half times \
             as much.",
        ),
    }
}

/// Returns a degree in the trade's short form: `b7`. Six semitones are `b5` in a scale with a plain fourth and no plain
/// fifth; in every other scale they are `#4`.
pub(crate) fn degree(semitones: u8, in_scale: &[u8]) -> &'static str {
    const DEGREES: [&str; 12] = ["1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7"];
    match semitones % 12 {
        6 if in_scale.contains(&5) && !in_scale.contains(&7) => "b5",
        semitones => DEGREES[usize::from(semitones)],
    }
}

/// Returns "C harp", "low F harp" or "Am natural minor harp".
pub(super) fn harp(harp: &Harp) -> String {
    format!("{harp} harp")
}

/// Returns "a" or "an", for use before a harp's name.
pub(super) fn article(harp: &Harp) -> &'static str {
    let name = harp.to_string();
    let vowel = harp.register() == Register::Standard && name.starts_with(['A', 'E', 'F']);
    // The sound of the name decides: "an F harp", but "a low F harp".
    if vowel { "an" } else { "a" }
}

/// Returns "2nd position (cross harp)".
pub(super) fn position(position: Position) -> String {
    match position.nickname() {
        Some(nickname) => format!("{position} position ({nickname})"),
        None => format!("{position} position"),
    }
}

/// Returns "2nd position, an octave up", and the key if it differs from the tune's key.
pub(super) fn short_place(approach: &Approach) -> String {
    let mut text = format!("{} position", approach.position);
    if approach.transposed.0 != 0 {
        text += &format!(", in {}", approach.tonic);
    }
    if approach.octave != 0 {
        text += &format!(", {}", octave(approach.octave));
    }
    text
}

/// Returns the heading of a tab, "Tab for the G harp, 1st position, an octave up". The heading names the octave because
/// two rows of a ranking may differ in the octave alone.
pub(super) fn tab_for(approach: &Approach) -> String {
    let octave = if approach.octave == 0 { String::new() } else { format!(", {}", octave(approach.octave)) };
    format!("Tab for the {}, {} position{octave}", harp(approach.harp), approach.position)
}

/// Returns "as written", "an octave up" or "two octaves down".
pub(super) fn octave(octaves: i8) -> String {
    let way = if octaves > 0 { "up" } else { "down" };
    match octaves.unsigned_abs() {
        0 => "as written".to_owned(),
        1 => format!("an octave {way}"),
        many => format!("{} octaves {way}", number(many.into())),
    }
}

/// Returns "three half steps up".
pub(super) fn half_steps(interval: i16) -> String {
    let way = if interval > 0 { "up" } else { "down" };
    format!("{} {way}", distance(interval.unsigned_abs()))
}

/// Returns "three half steps", "an octave" or "an octave and five half steps".
pub(super) fn distance(semitones: u16) -> String {
    let rest = plural((semitones % 12).into(), "half step", "half steps");
    let octaves = match semitones / 12 {
        0 => return rest,
        1 => "an octave".to_owned(),
        many => format!("{} octaves", number(many.into())),
    };
    if semitones.is_multiple_of(12) { octaves } else { format!("{octaves} and {rest}") }
}

/// Returns "hole 4", "holes 4 and 5" or "holes 4 to 7".
pub(super) fn holes(low: u8, high: u8) -> String {
    match high - low {
        0 => format!("hole {low}"),
        1 => format!("holes {low} and {high}"),
        _ => format!("holes {low} to {high}"),
    }
}

/// Returns "C harp, 2nd position, low register".
pub(super) fn playing(approach: &Approach) -> String {
    let (harp, position) = (harp(approach.harp), approach.position);
    format!("{harp}, {position} position, {} register", approach.counts.region().word())
}

/// Returns "holes 4 to 7, the middle": the range of holes, and the part of the harp with the most notes.
pub(super) fn region(approach: &Approach) -> String {
    let Some((low, high)) = approach.counts.holes else { return String::new() };
    let holes = holes(low, high);
    let region = approach.counts.region();
    let name = match region {
        Region::Low => "the low end",
        Region::Middle => "the middle",
        Region::High => "the high end",
    };
    let counts = approach.counts.by_region;
    let where_to = if counts[region as usize] * 10 >= 9 * counts.iter().sum::<u32>() {
        name.to_owned()
    } else {
        format!("mostly {name}")
    };
    format!("{holes}, {where_to}")
}

/// Returns tempi, given in quarters a minute, as players count them: "quarter = 99"; in compound metres "dotted quarter
/// = 66 (quarter = 99)".
pub(super) fn tempi(melody: &Melody, quarters: &[u64]) -> String {
    let listed = |each: fn(u64) -> u64| {
        let tempi: Vec<String> = quarters.iter().map(|&quarters| each(quarters).to_string()).collect();
        short_list(&tempi, 3)
    };
    let plain = format!("quarter = {}", listed(|quarters| quarters));
    if counts_dotted(melody) {
        format!("dotted quarter = {} ({plain})", listed(|quarters| (4 * quarters + 3) / 6))
    } else {
        plain
    }
}

/// Whether a tune's beat is a dotted quarter, by its first metre.
pub(super) fn counts_dotted(melody: &Melody) -> bool {
    let meter = melody.bars.iter().find_map(|bar| bar.meter);
    meter.is_some_and(|meter| meter.felt_beat() == Beats::new(3, 2))
}
