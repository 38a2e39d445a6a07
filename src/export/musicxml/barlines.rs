//! Writes barlines, with repeats and endings, and the signs and words that send the player to another place.

use super::super::xml::Xml;
use crate::{
    melody::{Bar, BarMarks},
    notation,
};

/// Writes the words and sounds that send the player to another place.
pub(super) fn jumps(xml: &mut Xml, bars: &[Bar], index: usize) {
    let marks = &bars[index].marks;
    let sounds = [
        (marks.to_coda, "tocoda", "coda"),
        (marks.fine, "fine", "yes"),
        (marks.da_capo, "dacapo", "yes"),
        (marks.dal_segno, "dalsegno", "segno"),
    ];
    let sounds = sounds.into_iter().filter(|sound| sound.0);
    for (words, (_, sound, value)) in notation::jumps(bars, index).into_iter().zip(sounds) {
        xml.element("direction", &[("placement", "above")], |xml| {
            xml.element("direction-type", &[], |xml| xml.text("words", words));
            xml.empty("sound", &[(sound, value)]);
        });
    }
}

/// Whether a bar is the second part of the previous bar, split at a repeat.
pub(super) fn completes(before: &Bar, bar: &Bar) -> bool {
    before.number == bar.number && bar.meter.is_some_and(|meter| before.length + bar.length <= meter.bar())
}

/// Writes the signs that mark the target of a jump.
pub(super) fn targets(xml: &mut Xml, marks: &BarMarks) {
    for (_, sign) in [(marks.segno, "segno"), (marks.coda, "coda")].into_iter().filter(|sign| sign.0) {
        xml.element("direction", &[("placement", "above")], |xml| {
            xml.element("direction-type", &[], |xml| xml.empty(sign, &[]));
            xml.empty("sound", &[(sign, sign)]);
        });
    }
}

pub(super) fn left_barline(xml: &mut Xml, marks: &BarMarks, opens_ending: bool) {
    if !marks.repeat_start && !opens_ending {
        return;
    }
    xml.element("barline", &[("location", "left")], |xml| {
        if marks.repeat_start {
            xml.text("bar-style", "heavy-light");
        }
        if opens_ending {
            xml.empty("ending", &[("number", &numbers(&marks.ending)), ("type", "start")]);
        }
        if marks.repeat_start {
            xml.empty("repeat", &[("direction", "forward")]);
        }
    });
}

pub(super) fn right_barline(xml: &mut Xml, marks: &BarMarks, closes_ending: bool, last: bool) {
    if marks.repeat_end.is_none() && !marks.section_end && !closes_ending {
        return;
    }
    xml.element("barline", &[("location", "right")], |xml| {
        if marks.repeat_end.is_some() || (marks.section_end && last) {
            xml.text("bar-style", "light-heavy");
        } else if marks.section_end {
            xml.text("bar-style", "light-light");
        }
        if closes_ending {
            // If no repeat ends here, the bracket stays open at its end.
            let kind = if marks.repeat_end.is_some() { "stop" } else { "discontinue" };
            xml.empty("ending", &[("number", &numbers(&marks.ending)), ("type", kind)]);
        }
        if let Some(times) = marks.repeat_end {
            let times = times.to_string();
            let mut attributes = vec![("direction", "backward")];
            if times != "2" {
                attributes.push(("times", &times));
            }
            if marks.repeat_after_jump {
                attributes.push(("after-jump", "yes"));
            }
            xml.empty("repeat", &attributes);
        }
    });
}

/// Returns the text of ending numbers, as in "1, 2".
pub(super) fn numbers(endings: &[u8]) -> String {
    let numbers: Vec<String> = endings.iter().map(u8::to_string).collect();
    numbers.join(", ")
}
