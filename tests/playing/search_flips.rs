//! The effect of each weight on a choice: just below, at and above the number where the choice flips.
//!
//! For each player here, only the prices that the row names cost anything, so the sum can be done mentally.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a panic is how a test reports a failure")]

use crate::players;
use crate::tunes;

use breathline::{
    harp::{Bend, Breath, Harp, Position, Technique, Tuning},
    melody::{
        Melody,
        key::{Key, Mode},
        phrase,
    },
    pitch::PitchClass,
    search::{Request, Term, Weights, search},
    tab::Notation,
};
use players::{each_number, improver, player};
use tunes::tune;

/// A question, a field, and the effect of its value on the answer.
struct Flip {
    field: &'static str,
    /// The reason why the answer flips at this value of the field.
    sum: &'static str,
    /// The other prices, each as a field, `=` and a number.
    others: &'static [&'static str],
    /// A tune at 120 quarters per minute: a quarter is 500 ms, `:1/4` is 125 ms.
    tune: &'static str,
    harps: &'static [&'static str],
    /// Values of the field, each with the harp and the tab that win.
    choices: &'static [(i64, &'static str)],
}

const FLIPS: &[Flip] = &[
    Flip {
        field: "missing.note",
        sum: "F#4 is left out while leaving it out costs less than bending it for 100; at the tie more notes win",
        others: &["bends.half_step=100"],
        tune: "C4 F#4 C4",
        harps: &["C"],
        choices: &[(99, "C: 1 . 1"), (100, "C: 1 -2' 1"), (101, "C: 1 -2' 1")],
    },
    Flip {
        field: "missing.grace",
        sum: "the C harp lacks the grace note, the G harp bends twice for 50 each; at the tie more notes win",
        others: &["bends.half_step=50"],
        tune: "C4 ~B3 C4",
        harps: &["C", "G"],
        choices: &[(99, "C: 1 . 1"), (100, "G: -2'' 2 -2''"), (101, "G: -2'' 2 -2''")],
    },
    Flip {
        field: "missing.downbeat",
        sum: "leaving out F#4 on the first beat costs 50 times the factor, and bending it costs 100; \
              at the tie more notes win",
        others: &["missing.note=50", "bends.half_step=100"],
        tune: "F#4 C4",
        harps: &["C"],
        choices: &[(199, "C: . 1"), (200, "C: -2' 1"), (201, "C: -2' 1")],
    },
    Flip {
        field: "missing.off_beat",
        sum: "F#4 off the beat, half as long as the average, is left out for 35 times the factor, or bent for 42",
        others: &["missing.note=50", "bends.half_step=42"],
        tune: "C4:3/2 F#4:1/2 C4:1",
        harps: &["C"],
        choices: &[(119, "C: 1 . 1"), (120, "C: 1 -2' 1"), (121, "C: 1 -2' 1")],
    },
    Flip {
        field: "missing.phrase_end",
        sum: "F#4, long and at the end of a phrase, is left out for 79 times the factor, or bent for 100",
        others: &["missing.note=50", "bends.half_step=100"],
        tune: "C4 C4 C4 F#4:5 C4 C4 C4 C4:5",
        harps: &["C"],
        choices: &[(126, "C: 1 1 1 . 1 1 1 1"), (127, "C: 1 1 1 -2' 1 1 1 1"), (128, "C: 1 1 1 -2' 1 1 1 1")],
    },
    Flip {
        field: "missing.last",
        sum: "F#4 at the end of the tune is left out for 50 times the factor, or bent for 100",
        others: &["missing.note=50", "bends.half_step=100"],
        tune: "C4 F#4",
        harps: &["C"],
        choices: &[(199, "C: 1 ."), (200, "C: 1 -2'"), (201, "C: 1 -2'")],
    },
    Flip {
        field: "missing.passing",
        sum: "F#4 on the second beat, a step from E4 and from G4, is left out for 50 times the factor, or bent for 50",
        others: &["missing.note=50", "bends.half_step=50"],
        tune: "E4 F#4 G4",
        harps: &["C"],
        choices: &[(99, "C: 2 . 3"), (100, "C: 2 -2' -2"), (101, "C: 2 -2' -2")],
    },
    Flip {
        field: "missing.repeated",
        sum: "leaving out the notes costs 100 for the first and 100 times the factor for the second; both bends \
              together cost 150",
        others: &["missing.note=100", "bends.half_step=75", "bends.repeated=100"],
        tune: "F#4 F#4 C4",
        harps: &["C"],
        choices: &[(49, "C: . . 1"), (50, "C: -2' -2' 1"), (51, "C: -2' -2' 1")],
    },
    Flip {
        field: "rest_ms",
        sum: "after a rest of 250 ms blow 3 is as free as draw 2, and the tie goes to fewer changes of breath; \
              without that rest the step costs more than the change",
        others: &["moves.bit=20", "breath.same_hole=10"],
        tune: "E4:1/2 r:1/2 G4",
        harps: &["C"],
        choices: &[(249, "C: 2 3"), (250, "C: 2 3"), (251, "C: 2 -2")],
    },
    Flip {
        field: "bends.half_step",
        sum: "draw 3 bent on a C harp against blow 4 for 100 on a B flat harp; the tie goes to fewer bends",
        others: &["register.blow.3=100", "register.draw.3=100"],
        tune: "Bb4",
        harps: &["C", "Bb"],
        choices: &[(99, "C: -3'"), (100, "Bb: 4"), (101, "Bb: 4")],
    },
    Flip {
        field: "bends.further",
        sum: "draw 3 bent by two half steps on a C harp against blow 4 for 100 on an A harp",
        others: &["register.blow.3=100", "register.draw.3=100"],
        tune: "A4",
        harps: &["C", "A"],
        choices: &[(99, "C: -3''"), (100, "A: 4"), (101, "A: 4")],
    },
    Flip {
        field: "bends.unsteady",
        sum: "draw 3 bent by a half step could be bent further: it costs the price, against 100",
        others: &["register.blow.3=100", "register.draw.3=100"],
        tune: "Bb4",
        harps: &["C", "Bb"],
        choices: &[(99, "C: -3'"), (100, "Bb: 4"), (101, "Bb: 4")],
    },
    Flip {
        field: "bends.unsteady",
        sum: "draw 6 bent is its hole's deepest bend: it costs nothing",
        others: &["register.blow.6=100", "register.draw.6=100"],
        tune: "Ab5",
        harps: &["C", "Ab"],
        choices: &[(99, "C: -6'"), (100, "C: -6'"), (101, "C: -6'")],
    },
    Flip {
        field: "bends.blow",
        sum: "blow 8 bent on a C harp against blow 7 for 100 on an E flat harp",
        others: &["register.blow.6=100", "register.draw.6=100"],
        tune: "Eb6",
        harps: &["C", "Eb"],
        choices: &[(99, "C: 8'"), (100, "Eb: 7"), (101, "Eb: 7")],
    },
    Flip {
        field: "bends.high",
        sum: "blow 8 bent on a C harp is Eb6, MIDI note 87, two above 85: twice the price, against blow 7 for 100",
        others: &["bends.high_above=85", "register.blow.6=100", "register.draw.6=100"],
        tune: "Eb6",
        harps: &["C", "Eb"],
        choices: &[(49, "C: 8'"), (50, "Eb: 7"), (51, "Eb: 7")],
    },
    Flip {
        field: "bends.high_above",
        sum: "blow 8 bent on a C harp is Eb6, MIDI note 87: 50 for each semitone above, against blow 7 for 100",
        others: &["bends.high=50", "register.blow.6=100", "register.draw.6=100"],
        tune: "Eb6",
        harps: &["C", "Eb"],
        choices: &[(84, "Eb: 7"), (85, "Eb: 7"), (86, "C: 8'")],
    },
    Flip {
        field: "bends.overbends.5",
        sum: "blow 6 overblown on a C harp against blow 7 for 100 on a B flat harp",
        others: &["register.blow.6=100"],
        tune: "Bb5",
        harps: &["C", "Bb"],
        choices: &[(99, "C: 6o"), (100, "Bb: 7"), (101, "Bb: 7")],
    },
    Flip {
        field: "bends.overbends.8",
        sum: "draw 9 overdrawn on a C harp against blow 10 for 100 on an A flat harp",
        others: &["register.blow.9=100"],
        tune: "Ab6",
        harps: &["C", "Ab"],
        choices: &[(99, "C: -9o"), (100, "Ab: 10"), (101, "Ab: 10")],
    },
    Flip {
        field: "bends.repeated",
        sum: "the first bend costs 100, and the repeated bend costs 100 times the factor; hole 4 costs 75 twice",
        others: &["bends.half_step=100", "register.blow.3=75"],
        tune: "Bb4 Bb4",
        harps: &["C", "Bb"],
        choices: &[(49, "C: -3' -3'"), (50, "Bb: 4 4"), (51, "Bb: 4 4")],
    },
    Flip {
        field: "bends.last",
        sum: "the tune ends with the bend, which costs the price, against 100",
        others: &["register.blow.3=50"],
        tune: "Bb4 Bb4",
        harps: &["C", "Bb"],
        choices: &[(99, "C: -3' -3'"), (100, "Bb: 4 4"), (101, "Bb: 4 4")],
    },
    Flip {
        field: "bends.cold",
        sum: "the tune begins with the bend, which costs the price, against 100",
        others: &["register.blow.3=100", "register.draw.3=100"],
        tune: "Bb4",
        harps: &["C", "Bb"],
        choices: &[(99, "C: -3'"), (100, "Bb: 4"), (101, "Bb: 4")],
    },
    Flip {
        field: "bends.cold",
        sum: "the bend is slid into from the same reed, so it costs nothing. Draw 4 is entered anew, but it is not \
              bent",
        others: &["register.blow.3=100", "register.draw.3=100"],
        tune: "B4 Bb4",
        harps: &["C", "Bb"],
        choices: &[(99, "C: -3 -3'"), (100, "C: -3 -3'"), (101, "C: -3 -3'")],
    },
    Flip {
        field: "bends.cold",
        sum: "a rest of 500 ms separates the bends, so both begin from silence: twice the price, against 100",
        others: &["register.blow.3=50", "register.draw.3=50", "rest_ms=500"],
        tune: "Bb4 r Bb4",
        harps: &["C", "Bb"],
        choices: &[(49, "C: -3' -3'"), (50, "Bb: 4 4"), (51, "Bb: 4 4")],
    },
    Flip {
        field: "bends.quick_ms",
        sum: "a bend of 250 ms costs 10 points for each millisecond that it lacks, against 100",
        others: &["bends.quick=100", "register.blow.3=100", "register.draw.3=100"],
        tune: "Bb4:1/2",
        harps: &["C", "Bb"],
        choices: &[(259, "C: -3'"), (260, "Bb: 4"), (261, "Bb: 4")],
    },
    Flip {
        field: "bends.quick",
        sum: "a bend of 250 ms is 50 ms too short, five times the price, against 100",
        others: &["bends.quick_ms=300", "register.blow.3=100", "register.draw.3=100"],
        tune: "Bb4:1/2",
        harps: &["C", "Bb"],
        choices: &[(19, "C: -3'"), (20, "Bb: 4"), (21, "Bb: 4")],
    },
    Flip {
        field: "bends.hold_ms",
        sum: "a bend of 500 ms costs a point for each millisecond above the limit, against 100",
        others: &["bends.hold=100", "register.blow.3=100", "register.draw.3=100"],
        tune: "Bb4",
        harps: &["C", "Bb"],
        choices: &[(399, "Bb: 4"), (400, "Bb: 4"), (401, "C: -3'")],
    },
    Flip {
        field: "bends.hold",
        sum: "a bend of 500 ms is 200 ms too long, twice the price, against 100",
        others: &["bends.hold_ms=300", "register.blow.3=100", "register.draw.3=100"],
        tune: "Bb4",
        harps: &["C", "Bb"],
        choices: &[(49, "C: -3'"), (50, "Bb: 4"), (51, "Bb: 4")],
    },
    Flip {
        field: "bends.hold",
        sum: "a bend of 5 seconds is priced as one of two seconds: 20 times the price, against 100",
        others: &["register.blow.3=100", "register.draw.3=100"],
        tune: "Bb4:10",
        harps: &["C", "Bb"],
        choices: &[(4, "C: -3'"), (5, "Bb: 4"), (6, "Bb: 4")],
    },
    Flip {
        field: "moves.bit",
        sum: "after blow 2, blow 3 is a step, draw 2 a breath change for 20; the tie goes to fewer changes",
        others: &["breath.same_hole=20"],
        tune: "E4 G4",
        harps: &["C"],
        choices: &[(19, "C: 2 3"), (20, "C: 2 3"), (21, "C: 2 -2")],
    },
    Flip {
        field: "moves.bit",
        sum: "a jump of two holes is log2(3) = 1.58 bits: 158 for draw 2 after draw 4, against a step with a change \
              for 58; at 101 both cost 159",
        others: &["breath.other_hole=58"],
        tune: "D5 G4",
        harps: &["C"],
        choices: &[(99, "C: -4 -2"), (100, "C: -4 -2"), (102, "C: -4 3")],
    },
    Flip {
        field: "moves.far",
        sum: "from blow 10 to blow 3 are seven holes, four beyond three; to draw 2, which costs nothing itself, are \
              five beyond three; blow 3 costs 100, and the tie goes to fewer changes",
        others: &["register.blow.2=100"],
        tune: "C7 G4",
        harps: &["C"],
        choices: &[(99, "C: 10 -2"), (100, "C: 10 3"), (101, "C: 10 3")],
    },
    Flip {
        field: "moves.over",
        sum: "after draw 4, draw 2 passes over hole 3; blow 3 is a breath change for 20, and the tie goes to fewer \
              changes",
        others: &["breath.other_hole=20"],
        tune: "D5 G4",
        harps: &["C"],
        choices: &[(19, "C: -4 -2"), (20, "C: -4 -2"), (21, "C: -4 3")],
    },
    Flip {
        field: "moves.turnover",
        sum: "A5 B5 goes from draw 6 to draw 7 on a C harp; on a G harp it stays on hole 8, for 100. The tie goes to \
              fewer changes",
        others: &["register.blow.7=100"],
        tune: "A5 B5",
        harps: &["C", "G"],
        choices: &[(99, "C: -6 -7"), (100, "C: -6 -7"), (101, "G: -8 8")],
    },
    Flip {
        field: "moves.base_ms",
        sum: "blow 3 has 125 ms and costs a point for each millisecond that it lacks; draw 2 is a breath change for 20",
        others: &["moves.hurry=10", "breath.same_hole=20"],
        tune: "E4:1/4 G4",
        harps: &["C"],
        choices: &[(144, "C: 2 3"), (145, "C: 2 3"), (146, "C: 2 -2")],
    },
    Flip {
        field: "moves.bit_ms",
        sum: "a step is one bit: it has 125 ms and costs a point for each millisecond that it lacks; \
              draw 2 is a breath change for 20",
        others: &["moves.hurry=10", "breath.same_hole=20"],
        tune: "E4:1/4 G4",
        harps: &["C"],
        choices: &[(144, "C: 2 3"), (145, "C: 2 3"), (146, "C: 2 -2")],
    },
    Flip {
        field: "moves.hurry",
        sum: "a step lacks 100 of 225 ms, ten times the price; draw 2 is a breath change for 20",
        others: &["moves.base_ms=225", "breath.same_hole=20"],
        tune: "E4:1/4 G4",
        harps: &["C"],
        choices: &[(1, "C: 2 3"), (2, "C: 2 3"), (3, "C: 2 -2")],
    },
    Flip {
        field: "breath.same_hole",
        sum: "after blow 2, draw 2 is a change on the same hole, blow 3 a step for 20; the tie goes to fewer changes",
        others: &["moves.bit=20"],
        tune: "E4 G4",
        harps: &["C"],
        choices: &[(19, "C: 2 -2"), (20, "C: 2 3"), (21, "C: 2 3")],
    },
    Flip {
        field: "breath.other_hole",
        sum: "after blow 1, blow 3 is a jump for 158, draw 2 a step for 100 with a breath change",
        others: &["moves.bit=100"],
        tune: "C4 G4",
        harps: &["C"],
        choices: &[(57, "C: 1 -2"), (58, "C: 1 3"), (59, "C: 1 3")],
    },
    Flip {
        field: "breath.free_ms",
        sum: "a change has 125 ms and costs a point for each millisecond that it lacks; blow 3 is a step for 20",
        others: &["breath.hurry=10", "moves.bit=20"],
        tune: "E4:1/4 G4",
        harps: &["C"],
        choices: &[(144, "C: 2 -2"), (145, "C: 2 3"), (146, "C: 2 3")],
    },
    Flip {
        field: "breath.hurry",
        sum: "a change lacks 100 of 225 ms, ten times the price; blow 3 is a step for 20",
        others: &["breath.free_ms=225", "moves.bit=20"],
        tune: "E4:1/4 G4",
        harps: &["C"],
        choices: &[(1, "C: 2 -2"), (2, "C: 2 3"), (3, "C: 2 3")],
    },
    Flip {
        field: "breath.hard_ms",
        sum: "a change has 125 ms and costs a point for each millisecond that it lacks; blow 3 is a step for 20",
        others: &["breath.hard=10", "moves.bit=20"],
        tune: "E4:1/4 G4",
        harps: &["C"],
        choices: &[(144, "C: 2 -2"), (145, "C: 2 3"), (146, "C: 2 3")],
    },
    Flip {
        field: "breath.hard",
        sum: "a change lacks 100 of 225 ms, ten times the price; blow 3 is a step for 20",
        others: &["breath.hard_ms=225", "moves.bit=20"],
        tune: "E4:1/4 G4",
        harps: &["C"],
        choices: &[(1, "C: 2 -2"), (2, "C: 2 3"), (3, "C: 2 3")],
    },
    Flip {
        field: "breath.jump_holes",
        sum: "after draw 4, blow 3 is a step for 100 with a change, and costs 100 more if a move of one hole counts \
              as a jump; draw 2 costs 158",
        others: &["breath.jump=100", "breath.fast_ms=600", "moves.bit=100"],
        tune: "D5 G4",
        harps: &["C"],
        choices: &[(0, "C: -4 -2"), (1, "C: -4 -2"), (2, "C: -4 3")],
    },
    Flip {
        field: "breath.jump",
        sum: "after draw 4, blow 3 costs 100 for the step and the price for step and change together; draw 2 costs 158",
        others: &["breath.jump_holes=1", "breath.fast_ms=600", "moves.bit=100"],
        tune: "D5 G4",
        harps: &["C"],
        choices: &[(57, "C: -4 3"), (58, "C: -4 -2"), (59, "C: -4 -2")],
    },
    Flip {
        field: "breath.fast_ms",
        sum: "blow 3 has 500 ms for a step and a change: the price of both together applies below this time",
        others: &["breath.jump_holes=1", "breath.jump=100", "moves.bit=100"],
        tune: "D5 G4",
        harps: &["C"],
        choices: &[(499, "C: -4 3"), (500, "C: -4 3"), (501, "C: -4 -2")],
    },
    Flip {
        field: "register.rest_blown",
        sum: "the tune comes to rest on G4: blow 3 costs the price, draw 2 costs a breath change for 20",
        others: &["breath.same_hole=20"],
        tune: "E4 G4",
        harps: &["C"],
        choices: &[(19, "C: 2 3"), (20, "C: 2 3"), (21, "C: 2 -2")],
    },
    Flip {
        field: "register.low_below",
        sum: "G3 in 125 ms costs 10 points for each semitone below this note; an octave higher, hole 4 costs 100; \
              the tie goes to the written octave",
        others: &["register.low=10", "register.low_ms=200", "register.blow.3=100", "register.draw.3=100"],
        tune: "G3:1/4",
        harps: &["G"],
        choices: &[(64, "G: 1"), (65, "G: 1"), (66, "G: 4")],
    },
    Flip {
        field: "register.low_ms",
        sum: "G3 lasts 125 ms: below this time it costs 110 for 11 semitones; an octave higher, hole 4 costs 100",
        others: &["register.low=10", "register.low_below=66", "register.blow.3=100", "register.draw.3=100"],
        tune: "G3:1/4",
        harps: &["G"],
        choices: &[(124, "G: 1"), (125, "G: 1"), (126, "G: 4")],
    },
    Flip {
        field: "register.low",
        sum: "G3 in 125 ms costs the price for each of ten semitones; an octave higher, hole 4 costs 100",
        others: &[
            "register.low_ms=200",
            "register.low_below=65",
            "register.blow.3=100",
            "register.draw.3=100",
        ],
        tune: "G3:1/4",
        harps: &["G"],
        choices: &[(9, "G: 1"), (10, "G: 1"), (11, "G: 4")],
    },
    Flip {
        field: "register.high_above",
        sum: "C7 is MIDI note 96: it costs 10 points for each semitone above this note; an octave lower, hole 7 costs \
              100",
        others: &["register.high=10", "register.blow.6=100", "register.draw.6=100"],
        tune: "C7",
        harps: &["C"],
        choices: &[(85, "C: 7"), (86, "C: 10"), (87, "C: 10")],
    },
    Flip {
        field: "register.high",
        sum: "C7 is ten semitones above 86 and costs the price for each; an octave lower, hole 7 costs 100",
        others: &["register.high_above=86", "register.blow.6=100", "register.draw.6=100"],
        tune: "C7",
        harps: &["C"],
        choices: &[(9, "C: 10"), (10, "C: 10"), (11, "C: 7")],
    },
    Flip {
        field: "bends.leave",
        sum: "on a C harp, leaving the bend costs the price, and blow 4 after it costs 50; on a B flat harp, hole 4 \
              costs 50 twice; the tie goes to fewer bends",
        others: &["register.blow.3=50", "register.draw.3=50"],
        tune: "Bb4 C5",
        harps: &["C", "Bb"],
        choices: &[(49, "C: -3' 4"), (50, "Bb: 4 -4"), (51, "Bb: 4 -4")],
    },
    Flip {
        field: "bends.leave",
        sum: "the bend is released on the same reed, so it costs nothing",
        others: &["register.blow.3=50", "register.draw.3=50"],
        tune: "Bb4 B4",
        harps: &["C"],
        choices: &[(99, "C: -3' -3"), (100, "C: -3' -3"), (101, "C: -3' -3")],
    },
    Flip {
        field: "lungs.uneasy",
        sum: "two G4 of 2 s, drawn at 100 ml per second, end at 900 of 1000 ml, 200 ml above the comfortable range: \
              four times the price, against a blow for 100",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=100",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(24, "C: -2 -2"), (25, "C: -2 -2"), (26, "C: -2 3")],
    },
    Flip {
        field: "lungs.strain",
        sum: "two G4 of 2 s end at 900 ml, 50 ml above the range without strain: once the price, against a blow for \
              100",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=100",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(99, "C: -2 -2"), (100, "C: -2 -2"), (101, "C: -2 3")],
    },
    Flip {
        field: "lungs.gasp",
        sum: "at 150 ml per second the second note fills the lungs and costs the price; as a blow it costs 100",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=150",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(99, "C: -2 -2"), (100, "C: -2 -2"), (101, "C: -2 3")],
    },
    Flip {
        field: "lungs.flow_ml",
        sum: "500 ml plus four times the flow exceed 950 ml from 113 ml on",
        others: &["lungs.capacity_ml=1000", "lungs.gasp=101", "register.blow.2=100", "register.draw.2=100"],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(112, "C: -2 -2"), (113, "C: -2 3"), (114, "C: -2 3")],
    },
    Flip {
        field: "lungs.capacity_ml",
        sum: "half the capacity and 448 ml together exceed 95 % of the capacity if the capacity is below 995 ml",
        others: &["lungs.flow_ml=112", "lungs.gasp=101", "register.blow.2=100", "register.draw.2=100"],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(994, "C: -2 3"), (995, "C: -2 -2"), (996, "C: -2 -2")],
    },
    Flip {
        field: "lungs.limits.1",
        sum: "948 ml exceed 94 % of 1000 ml, but not 95 %",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=112",
            "lungs.gasp=101",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(94, "C: -2 3"), (95, "C: -2 -2"), (96, "C: -2 -2")],
    },
    Flip {
        field: "lungs.limits.0",
        sum: "the notes are blown and 52 ml are left: less than 6 % of 1000 ml, but not less than 5 %",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=112",
            "lungs.gasp=101",
            "register.blow.1=100",
            "register.draw.1=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(4, "C: 3 3"), (5, "C: 3 3"), (6, "C: -2 3")],
    },
    Flip {
        field: "lungs.easy.1",
        sum: "900 ml are 200 ml above 70 %, which costs 104, and 190 ml above 71 %, which costs 98",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=100",
            "lungs.uneasy=26",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(70, "C: -2 3"), (71, "C: -2 -2"), (72, "C: -2 -2")],
    },
    Flip {
        field: "lungs.easy.0",
        sum: "the notes are blown and 100 ml are left: 200 ml below 30 %, which costs 104, and 190 ml below 29 %, \
              which costs 98",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=100",
            "lungs.uneasy=26",
            "register.blow.1=100",
            "register.draw.1=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(28, "C: 3 3"), (29, "C: 3 3"), (30, "C: -2 3")],
    },
    Flip {
        field: "lungs.strained.1",
        sum: "900 ml are 50 ml above 85 %, which costs 101, and 40 ml above 86 %, which costs 80",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=100",
            "lungs.strain=101",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(85, "C: -2 3"), (86, "C: -2 -2"), (87, "C: -2 -2")],
    },
    Flip {
        field: "lungs.strained.0",
        sum: "the notes are blown and 100 ml are left: 100 ml below 20 %, which costs 102, and 90 ml below 19 %, \
              which costs 91",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=100",
            "lungs.strain=51",
            "register.blow.1=100",
            "register.draw.1=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(18, "C: 3 3"), (19, "C: 3 3"), (20, "C: -2 3")],
    },
    Flip {
        field: "lungs.start.0",
        sum: "before drawing 600 ml the player breathes out to this volume; from 36 % on the lungs exceed 95 %",
        others: &["lungs.capacity_ml=1000", "lungs.flow_ml=150", "lungs.gasp=101", "register.blow.2=100"],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(34, "C: -2 -2"), (35, "C: -2 -2"), (36, "C: -2 3")],
    },
    Flip {
        field: "lungs.start.1",
        sum: "before blowing 600 ml the player breathes in to this volume; below 65 %, less than 5 % is left at the \
              end. On a B flat harp the notes are drawn, for 50 each",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=150",
            "lungs.gasp=101",
            "lungs.start.0=35",
            "register.draw.3=50",
        ],
        tune: "C5:4 C5:4",
        harps: &["C", "Bb"],
        choices: &[(64, "Bb: -4 -4"), (65, "C: 4 4"), (66, "C: 4 4")],
    },
    Flip {
        field: "lungs.recover_ml",
        sum: "half a second of rest must recover 10 of 960 ml",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=115",
            "lungs.gasp=101",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 r G4:4",
        harps: &["C"],
        choices: &[(19, "C: -2 3"), (20, "C: -2 -2"), (21, "C: -2 -2")],
    },
    Flip {
        field: "lungs.bend_percent",
        sum: "draw 3 bent takes 113 ml per second, not 112, and fills the lungs; hole 4 costs 50 twice",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=112",
            "lungs.gasp=101",
            "register.blow.3=50",
            "register.draw.3=50",
        ],
        tune: "Bb4:4 Bb4:4",
        harps: &["C", "Bb"],
        choices: &[(99, "C: -3' -3'"), (100, "C: -3' -3'"), (101, "Bb: 4 4")],
    },
    Flip {
        field: "lungs.low_percent",
        sum: "G4 is MIDI note 67, below 68: it takes 113 ml per second, not 112",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=112",
            "lungs.gasp=101",
            "lungs.low_below=68",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(99, "C: -2 -2"), (100, "C: -2 -2"), (101, "C: -2 3")],
    },
    Flip {
        field: "lungs.low_below",
        sum: "G4 is MIDI note 67: below 68 it takes more air",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=112",
            "lungs.gasp=101",
            "lungs.low_percent=200",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(66, "C: -2 -2"), (67, "C: -2 -2"), (68, "C: -2 3")],
    },
    Flip {
        field: "lungs.high_percent",
        sum: "G4 is MIDI note 67, above 66: it takes 113 ml per second, not 112",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=112",
            "lungs.gasp=101",
            "lungs.high_above=66",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(99, "C: -2 -2"), (100, "C: -2 -2"), (101, "C: -2 3")],
    },
    Flip {
        field: "lungs.high_above",
        sum: "G4 is MIDI note 67: above 66 it takes more air",
        others: &[
            "lungs.capacity_ml=1000",
            "lungs.flow_ml=112",
            "lungs.gasp=101",
            "lungs.high_percent=200",
            "register.blow.2=100",
            "register.draw.2=100",
        ],
        tune: "G4:4 G4:4",
        harps: &["C"],
        choices: &[(65, "C: -2 3"), (66, "C: -2 3"), (67, "C: -2 -2")],
    },
];

/// Makes a player for whom only these prices cost anything.
fn nothing_but(prices: &[(&str, i64)]) -> Weights {
    let mut numbers = improver();
    let mut set = 0;
    let lung_ranges = ["lungs.easy", "lungs.strained", "lungs.limits"];
    each_number(&mut numbers, "", &mut |name, number| {
        let resting = match name {
            // No rest is long enough, and no reed is too low or too high.
            "rest_ms" => 10_000,
            "bends.high_above" | "register.high_above" | "lungs.high_above" => 127,
            // Every note takes the same air per second, and there is enough air.
            "lungs.capacity_ml" | "lungs.bend_percent" | "lungs.low_percent" | "lungs.high_percent" => 100,
            // Every phrase begins with half-full lungs.
            name if name.starts_with("lungs.start") => 50,
            // Every note is heard equally.
            "missing.note" => 10_000,
            name if name.starts_with("missing.") && name != "missing.grace" => 100,
            "bends.repeated" => 100,
            // Each range must stay inside the next wider one.
            name if lung_ranges.iter().any(|range| name.starts_with(range)) => *number,
            _ => 0,
        };
        let price = prices.iter().find(|(field, _)| *field == name);
        set += usize::from(price.is_some());
        *number = price.map_or(resting, |&(_, price)| price);
    });
    assert_eq!(set, prices.len(), "a field of {prices:?} is misspelt");
    player(&numbers)
}

fn request<'a>(
    melody: &'a Melody,
    harps: &'a [Harp],
    weights: &'a Weights,
    technique: Technique,
) -> Request<'a> {
    let key = Key { tonic: PitchClass::new(0), mode: Mode::Major };
    Request { melody, key, harps, technique, weights, any_key: false, pins: &[] }
}

/// Returns the winner as harp and tab, with a dot for a note that is left out. The winner is in the written octave,
/// except in tests of the ends of the harp.
fn winner(flip: &Flip, weights: &Weights) -> String {
    let harps: Vec<Harp> = flip.harps.iter().map(|name| harp(name)).collect();
    let melody = tune(flip.tune, 120);
    let technique = match flip.field {
        field if field.starts_with("bends.overbends") => Technique::Over,
        _ => Technique::All,
    };
    let moves = ["register.low", "register.high"].iter().any(|end| flip.field.starts_with(end));
    let octaves = if moves { -1..=1 } else { 0..=0 };
    let ranking = search(&request(&melody, &harps, weights, technique));
    let best = ranking.approaches.iter().find(|row| octaves.contains(&row.octave)).unwrap();
    let write = |action| Notation::default().write(action);
    let tab: Vec<String> =
        best.playing.notes.iter().map(|note| note.action.map_or(".".to_owned(), write)).collect();
    format!("{}: {}", best.harp, tab.join(" "))
}

fn harp(name: &str) -> Harp {
    Harp::parse(name, Tuning::built_in()).unwrap()
}

#[test]
fn each_choice_flips_where_the_sum_says() {
    let mut wrong = String::new();
    for flip in FLIPS {
        for &(value, expected) in flip.choices {
            let mut prices = vec![(flip.field, value)];
            for other in flip.others {
                let (field, number) = other.split_once('=').unwrap();
                prices.push((field, number.parse().unwrap()));
            }
            let found = winner(flip, &nothing_but(&prices));
            if found != expected {
                wrong += &format!("{} = {value}: {found}, not {expected} ({})\n", flip.field, flip.sum);
            }
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

/// Every number of the weights flips a choice here, or in the tests below.
#[test]
fn no_field_is_without_its_flip() {
    let mut without = Vec::new();
    each_number(&mut improver(), "", &mut |name, _| {
        let flips = FLIPS.iter().any(|flip| flip.field == name && flip.choices[0].1 != flip.choices[2].1);
        let elsewhere = ["breath.awkward_ms", "lungs.catch_ms"].contains(&name)
            || name.contains(".holes.")
            || ["register.blow.", "register.draw.", "bends.overbends."]
                .iter()
                .any(|each| name.starts_with(each))
            || name.starts_with("positions.");
        if !flips && !elsewhere {
            without.push(name.to_owned());
        }
    });
    assert_eq!(without, [""; 0]);
}

/// The price of each hole, blown and drawn: a tune of the hole's one natural note costs that price and nothing else.
#[test]
fn each_hole_has_its_price() {
    let here = [harp("C")];
    for (breath, word) in [(Breath::Blow, "blow"), (Breath::Draw, "draw")] {
        for hole in 1..=10u8 {
            let melody = tune(&here[0].reed(hole, breath).unwrap().to_string(), 120);
            let field = format!("register.{word}.{}", hole - 1);
            // Draw 2 and blow 3 sound the same pitch, so the one that is not tested gets a high price.
            let others = ["register.blow.2", "register.draw.1"].into_iter().filter(|other| *other != field);
            let prices: Vec<(&str, i64)> =
                others.map(|other| (other, 999)).chain([(field.as_str(), 77)]).collect();
            let weights = nothing_but(&prices);
            let ranking = search(&request(&melody, &here, &weights, Technique::None));
            let row = ranking.approaches.iter().find(|row| row.octave == 0).unwrap();
            let action = row.playing.notes[0].action.unwrap();
            assert_eq!((action.hole, action.breath, row.playing.effort[Term::Register]), (hole, breath, 77));
        }
    }
}

/// The extra price of a half-step bend on each hole of a C harp that has one.
#[test]
fn each_hole_has_its_price_for_bends() {
    let here = harp("C");
    for hole in 1..=10u8 {
        let bent =
            here.actions().iter().find(|(_, action)| action.hole == hole && action.bend == Bend::Down(1));
        let Some(&(pitch, action)) = bent else {
            assert!([5, 7].contains(&hole), "hole {hole} has no bend");
            continue;
        };
        let melody = tune(&pitch.to_string(), 120);
        let field = format!("bends.holes.{}", hole - 1);
        let weights = nothing_but(&[(field.as_str(), 77)]);
        let harps = [here.clone()];
        let ranking = search(&request(&melody, &harps, &weights, Technique::All));
        let row = ranking.approaches.iter().find(|row| row.octave == 0).unwrap();
        assert_eq!((row.playing.notes[0].action, row.playing.effort.total()), (Some(action), 77));
    }
}

/// For each position, its harp at a price of 99 to 101 competes with the harp of another position at a price of 100, on
/// a tune of one note.
#[test]
fn each_position_has_its_price() {
    let melody = tune("C5", 120);
    for number in 1..=12u8 {
        let position = Position::new(number).unwrap();
        // The other position is the 1st, or the 2nd when the 1st is tested.
        let other = if number == 1 { 2 } else { 1 };
        let there = Position::new(other).unwrap();
        let harps =
            [position, there].map(|position| harp(&position.harp_key(PitchClass::new(0)).to_string()));
        let efforts = [99, 100, 101].map(|price| {
            let fields = [number, other].map(|number| format!("positions.{}", number - 1));
            let weights = nothing_but(&[(fields[0].as_str(), price), (fields[1].as_str(), 100)]);
            let ranking = search(&request(&melody, &harps, &weights, Technique::Over));
            let effort = |harp: &Harp| {
                let mut rows = ranking.approaches.iter().filter(|row| row.harp == harp && row.octave == 0);
                rows.next().unwrap().playing.effort[Term::Position]
            };
            let best = ranking.best().unwrap();
            (effort(&harps[0]), effort(&harps[1]), best.position == position)
        });
        let ties = number < other;
        assert_eq!(efforts, [(99, 100, true), (100, 100, ties), (101, 100, false)], "position {number}");
    }
}

/// At the end of a phrase the player takes a catch breath, for at most a third of the note.
#[test]
fn a_catch_breath_brings_air_back_where_a_phrase_ends() {
    let melody = tune("C5 C5 C5 C5:5 C5 C5 C5 C5:5", 120);
    assert!(phrase::ends(&melody).iter().any(|end| end.note == 3));
    let air_after_the_fifth_note = [0, 100, 200, 5000].map(|catch| {
        let weights = nothing_but(&[
            ("lungs.capacity_ml", 4000),
            ("lungs.flow_ml", 100),
            ("lungs.recover_ml", 100),
            ("lungs.catch_ms", catch),
        ]);
        let harps = [harp("C")];
        let ranking = search(&request(&melody, &harps, &weights, Technique::None));
        let row = ranking.approaches.iter().find(|row| row.octave == 0).unwrap();
        row.playing.notes[4].air_ml
    });
    // Nine beats blow 50 ml each, of 2000 ml. Each 100 ms of a catch breath bring back 10 ml. The last catch breath is
    // limited to a third of the note's 2500 ms, 833 ms.
    assert_eq!(air_after_the_fifth_note, [1550, 1560, 1570, 1633]);
}

/// An awkward change has no separate price. It is counted, and the count decides between rows of equal effort.
#[test]
fn a_change_is_awkward_below_awkward_ms() {
    let melody = tune("C5:1/2 D5", 120);
    let awkward = [249, 250, 251].map(|limit| {
        let weights = nothing_but(&[("breath.awkward_ms", limit), ("breath.jump_holes", 2)]);
        let harps = [harp("C")];
        search(&request(&melody, &harps, &weights, Technique::All)).best().unwrap().counts.awkward
    });
    assert_eq!(awkward, [0, 0, 1]);
    // For a change of breath together with a jump of two holes, the limit is `fast_ms`.
    let melody = tune("D5:1/2 E4", 120);
    let awkward = [249, 250, 251].map(|limit| {
        let weights = nothing_but(&[("breath.fast_ms", limit), ("breath.jump_holes", 2)]);
        let harps = [harp("C")];
        search(&request(&melody, &harps, &weights, Technique::All)).best().unwrap().counts.awkward
    });
    assert_eq!(awkward, [0, 0, 1]);
}
