//! The closed sets of words on the command line, and the readers of numbers, tempos, keys and positions.

use std::ops::RangeInclusive;

use breathline::{
    export::musicxml,
    harp::{self, Position},
    melody::key::{Key, Mode},
    near,
    pitch::PitchClass,
    search, tab,
};
use clap::ValueEnum;

use super::Notation;

/// Defines an enum of command-line words, and its conversion into an enum of the library.
macro_rules! words {
    ($($(#[$about:meta])* $name:ident for $meant:ty { $($(#[$word_about:meta])* $word:ident),+ $(,)? })+) => {$(
        $(#[$about])*
        #[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
        pub(crate) enum $name {
            $($(#[$word_about])* $word,)+
        }

        impl From<$name> for $meant {
            fn from(word: $name) -> $meant {
                match word {
                    $($name::$word => <$meant>::$word,)+
                }
            }
        }
    )+};
}

words! {
    /// The bends that a player can play.
    Technique for harp::Technique {
        /// Natural notes only
        None,
        /// Draw bends
        Draw,
        /// Draw and blow bends
        All,
        /// Bends, overblows and overdraws
        Over,
    }

    /// A part of the harp.
    Region for search::Region {
        /// Holes 1 to 3
        Low,
        /// Holes 4 to 6
        Middle,
        /// Holes 7 to 10
        High,
    }

    /// How tab tells blow from draw.
    Style for tab::Style {
        /// 4 and -4
        Signed,
        /// +4 and -4
        Plus,
        /// 4↑ and 4↓
        Arrows,
        /// 4B and 4D
        Letters,
        /// 4 and (4)
        Parentheses,
        /// 4 and ④
        Circled,
        /// 4 with B or D in a row under it
        Rows,
    }

    /// The style of a tune.
    Music for search::Style {
        /// Every bend costs its usual price
        Plain,
        /// Half, full and unsteady bends cost half as much, and so do the moves to and from them
        Blues,
        /// The same bends cost one and a half times as much, because folk wants clear notes
        Folk,
    }

    /// The style of a band.
    Feel for harp::Feel {
        /// Major chords with flat sevenths: 1 2 b3 3 4 b5 5 6 b7
        Blues,
        /// Minor chords: 1 b3 4 b5 5 b7
        MinorBlues,
        /// The major pentatonic: 1 2 3 5 6
        Country,
        /// The major scale
        Folk,
    }

    /// The mark of a bend.
    BendMark for tab::BendMark {
        /// -3'
        #[value(name = "'")]
        Quote,
        /// -3/
        #[value(name = "/")]
        Slash,
        /// -3b
        #[value(name = "b")]
        Flat,
        /// -3½, and -3¹ for a whole step
        Steps,
    }

    /// The mark of an overbend.
    OverMark for tab::OverMark {
        /// 6o and -7o
        #[value(name = "o")]
        Letter,
        /// 6° and -7°
        Degree,
        /// 6OB and -7OD
        Names,
    }

    /// How a score shows the tab.
    TabAs for musicxml::TabAs {
        /// A line of words under the notes, which every program shows
        Lyrics,
        /// The hole as fingering, with an arrow: up to blow, down to draw
        Fingering,
    }
}

impl From<&Notation> for tab::Notation {
    fn from(notation: &Notation) -> tab::Notation {
        tab::Notation {
            style: notation.tab_style.map(tab::Style::from).unwrap_or_default(),
            bend_mark: notation.bend_mark.into(),
            over_mark: notation.over_mark.into(),
        }
    }
}

#[cfg(feature = "sheet")]
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Paper {
    /// 210 by 297 mm
    A4,
    /// 8.5 by 11 inches
    Letter,
}

#[cfg(feature = "sheet")]
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Size {
    /// A staff of 7 mm
    Normal,
    /// A staff of 10 mm, for a music stand or weak eyes
    Large,
    /// The largest staff that needs no more pages than one of 7 mm
    Fill,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(crate) enum Format {
    /// For a terminal
    Text,
    /// For documents that another program renders
    Markdown,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(crate) enum Colour {
    /// On a terminal, unless `NO_COLOR` is set
    Auto,
    /// Also in files and pipes
    Always,
    /// Not at all
    Never,
}

/// Returns a reader for whole numbers within bounds.
pub(super) fn number<T: TryFrom<i64>>(
    bounds: RangeInclusive<i64>,
) -> impl Fn(&str) -> Result<T, String> + Clone + Send + Sync {
    move |text| {
        let number = text.trim().parse().ok().filter(|number| bounds.contains(number));
        number
            .and_then(|number| T::try_from(number).ok())
            .ok_or_else(|| format!("write a whole number from {} to {}", bounds.start(), bounds.end()))
    }
}

/// Reads a tempo, as in `90`, `90bpm` or `90 bpm`.
pub(super) fn tempo(text: &str) -> Result<u16, String> {
    number(20..=500)(text.trim().to_lowercase().trim_end_matches("bpm"))
        .map_err(|_| "write the tempo in quarters a minute, a number from 20 to 500, as in 90".to_owned())
}

/// Reads a position in the forms that players use: `2`, `2nd`, `two`, `second position`, `cross`, `cross harp`.
pub(super) fn position(text: &str) -> Result<Position, String> {
    const ORDINALS: [&str; 12] = [
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
        "eleventh", "twelfth",
    ];
    const CARDINALS: [&str; 12] =
        ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    let whole = text.trim().to_lowercase().replace('-', " ");
    let said = ["position", "pos", "harp"]
        .iter()
        .fold(whole.as_str(), |text, word| text.trim_end_matches(word).trim_end());
    let names = |position: Position| {
        let index = usize::from(position.number()) - 1;
        let nickname = position.nickname().map(|name| name.trim_end_matches(" harp"));
        [Some(ORDINALS[index]), Some(CARDINALS[index]), nickname].into_iter().flatten()
    };
    let all = || (1..=12).filter_map(Position::new);
    if let Some(position) = all().find(|&position| names(position).any(|name| name == said)) {
        return Ok(position);
    }
    let digits = said.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let is_ordinal = ["", "st", "nd", "rd", "th"].contains(&&said[digits.len()..]);
    let number = digits.parse().ok().filter(|_| is_ordinal);
    number.and_then(Position::new).ok_or_else(|| match near::nearest(said, all().flat_map(names)) {
        Some(meant) => format!("write {meant}"),
        None => "write a number from 1 to 12, as in 2, 2nd or second".to_owned(),
    })
}

/// The key of a song, with its mode if the user gave one.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SongKey {
    pub(crate) tonic: PitchClass,
    pub(crate) mode: Option<Mode>,
}

/// Reads a song's key, with or without its mode: the position needs only the tonic, but the bends need the mode.
pub(super) fn song_key(text: &str) -> Result<SongKey, String> {
    let Key { tonic, mode } = text.parse::<Key>().map_err(|error| error.to_string())?;
    // If a mode can be appended to the text, the user gave none.
    let is_said = format!("{} major", text.trim()).parse::<Key>().is_err();
    Ok(SongKey { tonic, mode: is_said.then_some(mode) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_has_many_names() {
        let number = |text| position(text).map(Position::number);
        for (text, meant) in [
            ("2", 2),
            ("2nd", 2),
            ("Second", 2),
            ("cross", 2),
            ("Cross Harp", 2),
            ("straight", 1),
            ("twelfth", 12),
            ("two", 2),
            ("cross-harp", 2),
            ("2nd position", 2),
        ] {
            assert_eq!(number(text), Ok(meant), "{text}");
        }
        assert!(number("13").is_err() && number("2x").is_err() && number("").is_err());
        assert_eq!(number("secnd"), Err("write second".to_owned()));
    }
}
