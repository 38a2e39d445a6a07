//! The conditions under which a teacher refuses the first row of a ranking. The definition is our own judgement,
//! without a source; the limits are those of a beginner, an improver and an advanced player.
//!
//! | code | the first row has | and another row has |
//! |---|---|---|
//! | bends | more than 0 / 15 / 30 % bent | no bends, full or minor missing, low |
//! | many | more than 10 / 25 / 40 % bent | at most half the bends, at most 5 % of the weight lost |
//! | blow/over | blow bends or overbends (advanced: overbends) | none, full or minor (advanced: full), low, at most 3 / 10 / 20 % bent |
//! | high | more than 50 / 50 / 75 % on holes 8 to 10 | low, full or minor, no more bends (or at most 5 %) |
//! | lacks | missing notes | full, low, no bends; or, if not only minor notes are missing, at most 0 / 3 / 15 % bends |
//! | much | more than 5 % of the weight lost | at most half of that loss, no more bends |
//! | odd | 6th to 12th (beginner 5th and up, advanced 7th to 10th) | 1st to 4th, full or minor, no more bends |
//!
//! *Minor* missing: the missing notes are only grace notes, passing notes or short off-beat notes, and they are at most
//! 1.5 % of all notes, or a single note.
//! *Low*: at most 25 % of the sounded notes on holes 8 to 10. The weight of a note is how much it is heard
//! ([`crate::heard`]). Percentages of bends are percentages of the sounded notes.

use breathline::{
    harp::Bend,
    search::{Approach, Counts},
};

use crate::heard::Heard;

/// The level of the player who asks.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Level {
    Beginner,
    Improver,
    Advanced,
}

impl Level {
    pub(crate) const ALL: [Level; 3] = [Level::Beginner, Level::Improver, Level::Advanced];

    /// The name of the built-in player.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Level::Beginner => "beginner",
            Level::Improver => "improver",
            Level::Advanced => "advanced",
        }
    }

    fn limit<T: Copy>(self, limits: [T; 3]) -> T {
        limits[self as usize]
    }
}

/// The facts about a row that a teacher sees.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Row {
    /// The position, from 1 to 12.
    pub(crate) position: u8,
    /// The number of notes that sound.
    pub(crate) sounded: u32,
    /// The number of bends and overbends.
    pub(crate) bent: u32,
    pub(crate) blow_bends: u32,
    pub(crate) overbends: u32,
    /// The number of notes on holes 8 to 10.
    pub(crate) high: u32,
    /// The number of missing notes, grace notes included.
    pub(crate) missing: u32,
    /// Whether the missing notes are minor; true if no note is missing.
    pub(crate) minor: bool,
    /// The weight of the missing notes, in ten thousandths of the tune's weight.
    pub(crate) lost: u64,
}

impl Row {
    pub(crate) fn of(approach: &Approach, heard: &Heard) -> Row {
        let Counts { notes, playable, draw_bends, blow_bends, overblows, overdraws, .. } = approach.counts;
        let played = || approach.playing.notes.iter();
        let missing: Vec<usize> =
            played().enumerate().filter(|(_, note)| note.action.is_none()).map(|it| it.0).collect();
        // The bends are counted in the tab, and the counts of the row must agree.
        let bent =
            played().filter_map(|note| note.action).filter(|action| action.bend != Bend::None).count() as u32;
        assert_eq!(bent, draw_bends + blow_bends + overblows + overdraws);
        let few = missing.len() <= (notes as usize * 15 / 1000).max(1);
        Row {
            position: approach.position.number(),
            sounded: playable,
            bent,
            blow_bends,
            overbends: overblows + overdraws,
            high: played().filter_map(|note| note.action).filter(|action| action.hole >= 8).count() as u32,
            missing: missing.len() as u32,
            minor: few && missing.iter().all(|&note| heard.is_minor(note)),
            lost: heard.share(&missing),
        }
    }

    fn is_full(&self) -> bool {
        self.missing == 0
    }

    fn is_nearly_full(&self) -> bool {
        self.is_full() || self.minor
    }

    fn is_low(&self) -> bool {
        !self.has_more_than(self.high, 25)
    }

    fn bent_over(&self, percent: u32) -> bool {
        self.has_more_than(self.bent, percent)
    }

    /// Whether `notes` is more than `percent` per cent of the sounded notes.
    fn has_more_than(&self, notes: u32, percent: u32) -> bool {
        100 * notes > percent * self.sounded
    }
}

/// A reason to refuse the first row, given another row.
struct Code {
    name: &'static str,
    /// The condition on the first row.
    first: fn(&Row, Level) -> bool,
    /// The condition on the other row, compared with the first row.
    other: fn(&Row, &Row, Level) -> bool,
}

const CODES: [Code; 7] = [
    Code {
        name: "bends",
        first: |first, level| first.bent_over(level.limit([0, 15, 30])),
        other: |_, other, _| other.bent == 0 && other.is_nearly_full() && other.is_low(),
    },
    Code {
        name: "many",
        first: |first, level| first.bent_over(level.limit([10, 25, 40])),
        other: |first, other, _| 2 * other.bent <= first.bent && other.lost <= 500,
    },
    Code {
        name: "blow/over",
        first: |first, level| first.overbends > 0 || level != Level::Advanced && first.blow_bends > 0,
        other: |_, other, level| {
            let (spared, enough) = match level {
                Level::Advanced => (other.overbends == 0, other.is_full()),
                _ => (other.overbends + other.blow_bends == 0, other.is_nearly_full()),
            };
            spared && enough && other.is_low() && !other.bent_over(level.limit([3, 10, 20]))
        },
    },
    Code {
        name: "high",
        first: |first, level| first.has_more_than(first.high, level.limit([50, 50, 75])),
        other: |first, other, _| {
            other.is_low() && other.is_nearly_full() && (other.bent <= first.bent || !other.bent_over(5))
        },
    },
    Code {
        name: "lacks",
        first: |first, _| first.missing > 0,
        other: |first, other, level| {
            let bent = if first.minor { 0 } else { level.limit([0, 3, 15]) };
            other.is_full() && other.is_low() && !other.bent_over(bent)
        },
    },
    Code {
        name: "much",
        first: |first, _| first.lost > 500,
        other: |first, other, _| 2 * other.lost <= first.lost && other.bent <= first.bent,
    },
    Code {
        name: "odd",
        first: |first, level| match level {
            Level::Beginner => first.position >= 5,
            Level::Improver => first.position >= 6,
            Level::Advanced => (7..=10).contains(&first.position),
        },
        other: |first, other, _| other.position <= 4 && other.is_nearly_full() && other.bent <= first.bent,
    },
];

/// Returns the codes by which the first row is refused, each with the index of the other row that the teacher would
/// take. Of several rows, the teacher prefers a low one, then the one that loses least, then the one with the fewest
/// bends, then the first.
pub(crate) fn refusals(first: &Row, others: &[Row], level: Level) -> Vec<(&'static str, usize)> {
    let codes = CODES.iter().filter(|code| (code.first)(first, level));
    codes
        .filter_map(|code| {
            let rather = others.iter().enumerate().filter(|(_, other)| (code.other)(first, other, level));
            rather
                .min_by_key(|(_, other)| (!other.is_low(), other.lost, other.bent))
                .map(|(index, _)| (code.name, index))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A hundred notes in 1st position, without any difficulty.
    const EASY: Row = Row {
        position: 1,
        sounded: 100,
        bent: 0,
        blow_bends: 0,
        overbends: 0,
        high: 0,
        missing: 0,
        minor: true,
        lost: 0,
    };

    fn codes(first: &Row, other: &Row) -> Vec<Vec<&'static str>> {
        let of =
            |level| refusals(first, std::slice::from_ref(other), level).into_iter().map(|it| it.0).collect();
        Level::ALL.map(of).to_vec()
    }

    #[test]
    fn bends_are_refused_by_level_where_none_are_needed() {
        let bent = |bent| Row { bent, ..EASY };
        assert_eq!(codes(&bent(0), &EASY), [[""; 0]; 3]);
        assert_eq!(codes(&bent(15), &EASY), [vec!["bends", "many"], vec![], vec![]]);
        assert_eq!(codes(&bent(16), &EASY), [vec!["bends", "many"], vec!["bends"], vec![]]);
        assert_eq!(codes(&bent(41), &EASY), [["bends", "many"]; 3]);
        // A high row without bends does not give the code `bends`, but it gives `many`, which needs only a row with at
        // most half the bends.
        let high = Row { high: 26, ..EASY };
        assert_eq!(codes(&bent(41), &high), [["many"]; 3]);
        assert_eq!(codes(&bent(41), &Row { lost: 501, minor: false, ..high }), [[""; 0]; 3]);
    }

    #[test]
    fn blow_bends_and_overbends_are_refused_where_they_can_be_spared() {
        let blow = Row { bent: 2, blow_bends: 2, ..EASY };
        let draw = |bent| Row { bent, ..EASY };
        assert_eq!(codes(&blow, &draw(3)), [vec!["blow/over"], vec!["blow/over"], vec![]]);
        assert_eq!(codes(&blow, &draw(10)), [vec![], vec!["blow/over"], vec![]]);
        let over = Row { bent: 2, overbends: 2, ..EASY };
        assert_eq!(codes(&over, &draw(20)), [vec![], vec![], vec!["blow/over"]]);
        let lacks_little = Row { missing: 1, lost: 10, ..draw(3) };
        assert_eq!(codes(&over, &lacks_little), [vec!["blow/over"], vec!["blow/over"], vec![]]);
    }

    #[test]
    fn high_rows_rows_with_gaps_and_odd_positions_are_refused() {
        assert_eq!(codes(&Row { high: 51, ..EASY }, &EASY), [vec!["high"], vec!["high"], vec![]]);
        assert_eq!(codes(&Row { high: 76, ..EASY }, &Row { bent: 5, ..EASY })[2], ["high"]);
        let gaps = Row { missing: 5, minor: false, lost: 501, ..EASY };
        assert_eq!(codes(&gaps, &EASY), [["lacks", "much"]; 3]);
        assert_eq!(codes(&gaps, &Row { bent: 3, ..EASY }), [vec![], vec!["lacks"], vec!["lacks"]]);
        let one = Row { missing: 1, lost: 50, ..EASY };
        assert_eq!(codes(&one, &EASY), [["lacks"]; 3]);
        assert_eq!(codes(&one, &Row { bent: 1, ..EASY }), [[""; 0]; 3]);
        let odd = |position| levels_odd(codes(&Row { position, ..EASY }, &EASY));
        assert_eq!([4, 5, 6, 7, 10, 11, 12].map(odd), [0, 1, 2, 3, 3, 2, 2]);
    }

    /// Counts the levels at which the position is odd.
    fn levels_odd(codes: Vec<Vec<&'static str>>) -> usize {
        codes.iter().filter(|codes| codes.contains(&"odd")).count()
    }
}
