//! The prices of harps: a small file that the player writes.
//!
//! ```toml
//! every = 40            # every harp that no other line prices
//! low = 55              # every low harp; `high` prices every high harp
//! natural-minor = 48    # every harp of this tuning
//! C = 38                # one harp, as in --harps
//! low-F = 60
//! "Dm:natural-minor" = 50
//! ```

use std::{collections::BTreeMap, num::NonZeroU32, sync::Arc};

use itertools::Itertools;
use toml::Spanned;

use crate::{
    data::{self, DataError},
    harp::{Harp, HarpError, Register, Tuning},
};

/// Prices of harps.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Prices {
    named: Vec<(Named, NonZeroU32)>,
}

/// The harps that a price applies to.
#[derive(Clone, PartialEq, Eq, Debug)]
enum Named {
    Harp(Box<Harp>),
    Register(Register),
    Tuning(Arc<Tuning>),
    Every,
}

impl Prices {
    /// Makes prices that are the same for all harps.
    pub fn every(price: NonZeroU32) -> Prices {
        Prices { named: vec![(Named::Every, price)] }
    }

    /// Reads a price file. The file names harps and tunings as the command line does.
    ///
    /// # Errors
    ///
    /// The error gives the line, what is wrong there, and what is expected instead.
    pub fn parse(text: &str, tunings: &[Arc<Tuning>]) -> Result<Prices, DataError> {
        let lines: BTreeMap<Spanned<String>, NonZeroU32> = data::read(text)?;
        let lines = lines.into_iter().sorted_by_key(|(name, _)| name.span().start);
        let mut named: Vec<(Named, NonZeroU32)> = Vec::new();
        for (name, price) in lines {
            let fault =
                |what: String| Err(DataError { line: Some(data::line_of(text, name.span().start)), what });
            let what = match Named::parse(name.get_ref(), tunings) {
                Ok(what) => what,
                Err(error) => return fault(error),
            };
            if named.iter().any(|(known, _)| *known == what) {
                return fault(format!(
                    "`{}` has a price on another line; delete one of the two",
                    name.get_ref()
                ));
            }
            named.push((what, price));
        }
        Ok(Prices { named })
    }

    /// Returns the price of a harp: its own price, otherwise the price of its register, of its tuning, or of every
    /// harp, in this order; `None` if the file has none of these.
    pub fn of(&self, harp: &Harp) -> Option<NonZeroU32> {
        let is_it = [
            |named: &Named, harp: &Harp| matches!(named, Named::Harp(one) if **one == *harp),
            |named: &Named, harp: &Harp| *named == Named::Register(harp.register()),
            |named: &Named, harp: &Harp| matches!(named, Named::Tuning(tuning) if tuning == harp.tuning()),
            |named: &Named, _: &Harp| *named == Named::Every,
        ];
        let price =
            |is_it: fn(&Named, &Harp) -> bool| self.named.iter().find(|(named, _)| is_it(named, harp));
        is_it.into_iter().find_map(price).map(|&(_, price)| price)
    }
}

impl Named {
    fn parse(name: &str, tunings: &[Arc<Tuning>]) -> Result<Named, String> {
        Ok(match name {
            "every" => Named::Every,
            "low" => Named::Register(Register::Low),
            "high" => Named::Register(Register::High),
            _ => match (Tuning::find(name, tunings), Harp::parse(name, tunings)) {
                (Ok(tuning), _) => Named::Tuning(tuning),
                (_, Ok(harp)) => Named::Harp(Box::new(harp)),
                (_, Err(HarpError::UnknownKey { .. })) => {
                    return Err(format!(
                        "`{name}` is not a harp; write a harp, as in C, low-F or \"Am:natural-minor\", a tuning, low, high or \
                         every"
                    ));
                }
                (_, Err(error)) => return Err(error.to_string()),
            },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn prices(text: &str) -> Result<Prices, String> {
        Prices::parse(text, Tuning::built_in()).map_err(|error| error.to_string())
    }

    #[test]
    fn the_nearest_price_counts() {
        let prices = prices(
            "every = 40\nlow = 55\nnatural-minor = 48\nC = 38\nlow-F = 60\n\"Dm:natural-minor\" = 50\n\"F#\" = 41\n",
        );
        let prices = prices.unwrap();
        for (harp, price) in [
            ("C", 38),
            ("G", 40),
            ("F#", 41),
            ("Gb", 41),
            ("low-F", 60),
            ("low-C", 55),
            ("high-C", 40),
            ("Dm:natural-minor", 50),
            ("Am:natural-minor", 48),
            ("low-Am:natural-minor", 55),
        ] {
            let harp = Harp::parse(harp, Tuning::built_in()).unwrap();
            assert_eq!(prices.of(&harp).map(NonZeroU32::get), Some(price), "{harp}");
        }
    }

    #[test]
    fn a_harp_may_have_no_price() {
        let harp = |name| Harp::parse(name, Tuning::built_in()).unwrap();
        let prices = prices("C = 38\nhigh = 45").unwrap();
        assert_eq!(prices.of(&harp("D")), None);
        assert_eq!(prices.of(&harp("high-D")), NonZeroU32::new(45));
    }

    #[test]
    fn errors_name_the_line_and_what_to_write() {
        for (text, expected) in [
            ("C = 38\nH = 40", "line 2: `H` is not a harp; write a harp, as in C"),
            ("C = 38\n\nlow-F = 39.5", "line 3: found the number 39.5; write a whole number from 1 up"),
            ("C = 0", "line 1: found the number 0; write a whole number from 1 up"),
            ("C = -5", "line 1: found the number -5; write a whole number from 1 up"),
            ("every = \"cheap\"", "line 1: found the text \"cheap\"; write a whole number from 1 up"),
            ("every = 40\nlow-F = 50\n\"low F\" = 60", "line 3: `low F` has a price on another line"),
            ("C = 40\nC = 41", "line 2: this name occurs twice"),
            ("\"C:blues\" = 40", "line 1: there is no tuning `blues`"),
            ("low F = 55", "line 1: cannot read this"),
            ("[low]\nF = 55", "line 1: found a table; write a whole number from 1 up"),
            ("", "the file is empty"),
        ] {
            let error = prices(text).unwrap_err();
            assert!(error.starts_with(expected), "{text}: {error}");
        }
    }
}
