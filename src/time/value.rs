//! Note values: the signs for lengths, from the double whole note to the 128th.

use super::Beats;

/// A written note value, with its dots.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Value {
    /// The number of times that the whole note is halved: 0 is a whole note, 2 a quarter, 3 an eighth; -1 is a double
    /// whole note.
    pub halvings: i8,
    /// The number of dots, at most two.
    pub dots: u8,
}

impl Value {
    /// The whole note; its rest also stands for a whole bar.
    pub const WHOLE: Value = Value { halvings: 0, dots: 0 };
    /// The shortest written value: a 128th. Shorter notes are drawn as 128ths.
    const SHORTEST: i8 = 7;
    const LONGEST: i8 = -1;
    /// The names in MusicXML (4.0, `note-type-value`), from the longest value on.
    const NAMES: [&str; 9] = ["breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th"];

    /// Returns the value that lasts exactly `duration`.
    pub(crate) fn of(duration: Beats) -> Option<Value> {
        (Value::LONGEST..=Value::SHORTEST).find_map(|halvings| {
            let dots = (0..=2).find(|&dots| Value { halvings, dots }.duration() == duration)?;
            Some(Value { halvings, dots })
        })
    }

    /// Returns the longest undotted value within `duration`, for lengths that no value expresses exactly; a 128th if
    /// none fits.
    pub(crate) fn near(duration: Beats) -> Value {
        let fits = |halvings: &i8| Value { halvings: *halvings, dots: 0 }.duration() <= duration;
        let halvings = (Value::LONGEST..=Value::SHORTEST).find(fits).unwrap_or(Value::SHORTEST);
        Value { halvings, dots: 0 }
    }

    /// Returns the value with a MusicXML name and a number of dots; `None` for an unknown name or more than two dots.
    pub(crate) fn named(name: &str, dots: usize) -> Option<Value> {
        let place = Value::NAMES.iter().position(|known| *known == name)?;
        let dots = u8::try_from(dots).ok().filter(|&dots| dots <= 2)?;
        Some(Value { halvings: place as i8 + Value::LONGEST, dots })
    }

    /// Returns the length, in quarters.
    pub fn duration(self) -> Beats {
        let plain = if self.halvings < 0 { Beats::quarters(8) } else { Beats::new(4, 1 << self.halvings) };
        // With n dots a value lasts (2^(n+1) - 1) / 2^n of its plain length.
        let parts = 1 << self.dots;
        plain.times(2 * parts - 1, parts)
    }

    /// Returns the name in MusicXML (4.0, `note-type-value`).
    pub fn name(self) -> &'static str {
        Value::NAMES[(self.halvings.clamp(Value::LONGEST, Value::SHORTEST) - Value::LONGEST) as usize]
    }

    /// Returns the number of flags or beams.
    pub fn flags(self) -> u8 {
        (self.halvings - 2).max(0) as u8
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_has_the_length_of_its_name_and_dots() {
        for halvings in Value::LONGEST..=Value::SHORTEST {
            for dots in 0..=2 {
                let value = Value { halvings, dots };
                assert_eq!(Value::of(value.duration()), Some(value));
                assert_eq!(Value::named(value.name(), dots.into()), Some(value));
            }
        }
        assert_eq!(Value::named("quarter", 2).map(Value::duration), Some(Beats::new(7, 4)));
        assert_eq!((Value::named("quarter", 3), Value::named("maxima", 0)), (None, None));
    }
}
