//! The terms of the effort, in one list that sums, tables, words and JSON share.

use std::ops::{Add, AddAssign, Index, IndexMut};

/// A term of the effort.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[non_exhaustive]
pub enum Term {
    /// Bends and overbends.
    Bends,
    /// Jumps from hole to hole.
    Moves,
    /// Changes of breath.
    Breath,
    /// The ends of the harp.
    Register,
    /// Too little or too much air.
    Lungs,
    /// Notes that are not sounded.
    Missing,
    /// An unfamiliar position.
    Position,
    /// Changes made when the tune was adapted.
    Changes,
}

impl Term {
    /// All terms, in the order of tables and JSON.
    pub const ALL: [Term; 8] = [
        Term::Bends,
        Term::Moves,
        Term::Breath,
        Term::Register,
        Term::Lungs,
        Term::Missing,
        Term::Position,
        Term::Changes,
    ];

    /// Returns the name of the term, as in tables and JSON.
    pub fn name(self) -> &'static str {
        match self {
            Term::Bends => "bends",
            Term::Moves => "moves",
            Term::Breath => "breath",
            Term::Register => "register",
            Term::Lungs => "lungs",
            Term::Missing => "missing",
            Term::Position => "position",
            Term::Changes => "changes",
        }
    }
}

/// Effort by its terms, in points: `effort[Term::Bends]`.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Effort {
    points: [u64; Term::ALL.len()],
}

impl Effort {
    /// Makes an effort of `points` points in one term.
    pub fn of(term: Term, points: u64) -> Effort {
        Effort::default().with(term, points)
    }

    /// Replaces one term by `points` points.
    pub fn with(mut self, term: Term, points: u64) -> Effort {
        self[term] = points;
        self
    }

    /// Returns the sum of the terms, which the search minimises.
    pub fn total(&self) -> u64 {
        self.points.into_iter().fold(0, u64::saturating_add)
    }

    /// Returns each term with its points, in the order of [`Term::ALL`].
    pub fn terms(&self) -> impl Iterator<Item = (Term, u64)> {
        Term::ALL.into_iter().zip(self.points)
    }
}

impl Index<Term> for Effort {
    type Output = u64;

    fn index(&self, term: Term) -> &u64 {
        &self.points[term as usize]
    }
}

impl IndexMut<Term> for Effort {
    fn index_mut(&mut self, term: Term) -> &mut u64 {
        &mut self.points[term as usize]
    }
}

impl Add for Effort {
    type Output = Effort;

    fn add(mut self, other: Effort) -> Effort {
        self += other;
        self
    }
}

impl AddAssign for Effort {
    fn add_assign(&mut self, other: Effort) {
        for (points, more) in self.points.iter_mut().zip(other.points) {
            *points = points.saturating_add(more);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_term_has_a_place_of_its_own_and_all_are_summed() {
        let effort = (1..).zip(Term::ALL).fold(Effort::default(), |sum, (points, term)| {
            assert_eq!(sum[term], 0);
            sum.with(term, points)
        });
        assert_eq!(effort.total(), 36);
        assert_eq!((effort + effort).total(), 72);
        assert!(effort.terms().map(|(_, points)| points).eq(1..=8));
    }
}
