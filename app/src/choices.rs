//! The player's choices on the page, and their conversion to the library's types. The words are the same as on the
//! command line, except the words of `changes`.

use breathline::{
    harp::{Harp, Position, Technique, Tuning},
    import::ImportOptions,
    pins::{self, PinError, WrittenPin},
    question::{Changes, Said},
    search::{Player, Region, Style, Wanted},
    tab::{self, BendMark, Notation, OverMark},
};
use serde::Deserialize;

/// The choices; a missing choice has the library's default.
#[derive(Deserialize, Default, Debug)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Choices {
    /// The name of the file, shown if the tune has no title.
    pub(crate) name: String,
    tune: Option<String>,
    part: Option<usize>,
    voice: Option<usize>,
    unfold: bool,
    key: Option<String>,
    tempo: Option<u16>,
    player: Option<String>,
    bends: Option<String>,
    harps: Vec<String>,
    style: Option<String>,
    pub(crate) any_key: bool,
    position: Option<u8>,
    pub(crate) octave: Option<i8>,
    /// The pinned holes, each written as in `3:2=-2`.
    pins: Vec<String>,
    register: Option<String>,
    every_note: bool,
    changes: Option<String>,
    tab_style: Option<String>,
    bend_mark: Option<String>,
    over_mark: Option<String>,
    /// The index of the row to show, from 0.
    pub(crate) row: usize,
    /// The place of the row to show, as the previous answer named it. It takes precedence over `row` if the ranking has
    /// this place.
    pub(crate) place: Option<String>,
    /// Whether the answer to show also contains the answer of `suggest --json`.
    pub(crate) suggest: bool,
    /// The kind of answer that is wanted.
    pub(crate) want: Want,
}

/// The kinds of answers. The page asks for pieces to show; other programs ask for the answers of the contract.
#[derive(Deserialize, Default, Debug)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Want {
    /// The answer as pieces to show.
    #[default]
    Answer,
    /// A file to download.
    File(Form),
    /// A check of this tab, typed for the harp of the row.
    Check(String),
    /// The answer of `suggest --json`.
    Suggest,
    /// The answer of `notes --json`.
    Notes,
    /// The answer of `check --json` for a tab that was typed for a harp.
    Lesson {
        /// The harp, named as on the command line.
        harp: String,
        /// The tab.
        tab: String,
    },
    /// The holes on which the row could play the note with this index.
    Holes(usize),
}

/// The format of a file to download.
#[derive(Deserialize, Clone, Copy, PartialEq, Eq, Debug)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Form {
    /// MusicXML.
    MusicXml,
    /// ABC.
    Abc,
    /// A Standard MIDI File.
    Midi,
    /// The sheet, as one file per page.
    Svg,
    /// The tab as text.
    Text,
    /// The page to practise from.
    Page,
    /// The pinned holes, in the file that the command keeps beside a tune.
    Pins,
}

/// Finds the value that a word stands for; returns the default if there is no word.
fn meant<T: Copy + Default>(what: &str, word: Option<&str>, known: &[(&str, T)]) -> Result<T, String> {
    let Some(word) = word else { return Ok(T::default()) };
    let found = known.iter().find(|(name, _)| *name == word);
    let names = || known.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ");
    found.map(|(_, value)| *value).ok_or_else(|| format!("{what} is `{word}`; choose one of {}", names()))
}

impl Choices {
    pub(crate) fn import_options(&self) -> ImportOptions {
        // Reading this choice cannot fail: any text that is not a number is a title.
        let tune = self.tune.as_deref().and_then(|tune| tune.parse().ok());
        ImportOptions { tune, part: self.part.map(usize::into), voice: self.voice, unfold: self.unfold }
    }

    pub(crate) fn said(&self) -> Result<Said, String> {
        let key = self.key.as_deref().map(str::parse).transpose().map_err(|error| format!("{error}"))?;
        if let Some(tempo) = self.tempo.filter(|tempo| !(20..=500).contains(tempo)) {
            return Err(format!("the tempo is {tempo}; write 20 to 500 quarters a minute"));
        }
        Ok(Said { key, tempo: self.tempo })
    }

    pub(crate) fn pins(&self) -> Result<Vec<WrittenPin>, String> {
        let pins: Result<Vec<_>, PinError> = self.pins.iter().map(|pin| pin.parse()).collect();
        Ok(pins::latest(&pins.map_err(|error| error.to_string())?))
    }

    pub(crate) fn style(&self) -> Result<Style, String> {
        meant("the style", self.style.as_deref(), &Style::ALL.map(|style| (style.word(), style)))
    }

    /// Returns the player, with prices adjusted to the style.
    pub(crate) fn player(&self) -> Result<Player, String> {
        let known =
            || Player::built_in().iter().map(|player| player.name.as_str()).collect::<Vec<_>>().join(", ");
        let mut player = match self.player.as_deref() {
            None => Player::default(),
            Some(name) => Player::find(name)
                .cloned()
                .ok_or_else(|| format!("the level is `{name}`; choose one of {}", known()))?,
        };
        let words = Technique::ALL.map(|technique| (technique.word(), technique));
        if self.bends.is_some() {
            player.technique = meant("bends", self.bends.as_deref(), &words)?;
        }
        player.weights = self.style()?.weights(&player.weights);
        Ok(player)
    }

    pub(crate) fn harps(&self) -> Result<Vec<Harp>, String> {
        match self.harps.as_slice() {
            [] => Ok(Harp::standard_set(&Tuning::richter())),
            named => Harp::parse_list(named, Tuning::built_in()).map_err(|error| error.to_string()),
        }
    }

    /// Returns the chosen harps, to which the named harp is added if it is not among them, and the named harp itself.
    pub(crate) fn harps_with(&self, name: &str) -> Result<(Vec<Harp>, Harp), String> {
        let named =
            Harp::parse_list(&[name.to_owned()], Tuning::built_in()).map_err(|error| error.to_string())?;
        let [harp] = named.as_slice() else {
            return Err(format!("`{name}` is not one harp; name one, as in C"));
        };
        let mut harps = self.harps()?;
        if !harps.contains(harp) {
            harps.push(harp.clone());
        }
        Ok((harps, harp.clone()))
    }

    pub(crate) fn position(&self) -> Result<Option<Position>, String> {
        let position = |number| Position::new(number).ok_or("a position is a number from 1 to 12");
        Ok(self.position.map(position).transpose()?)
    }

    pub(crate) fn wanted(&self, top: usize) -> Result<Wanted, String> {
        let position = self.position()?;
        let regions = [Region::Low, Region::Middle, Region::High].map(|region| (region.word(), Some(region)));
        let region = meant("the register", self.register.as_deref(), &regions)?;
        let (octave, every_note) = (self.octave, self.every_note);
        Ok(Wanted { position, octave, region, every_note, ..Wanted::first(top) })
    }

    pub(crate) fn changes(&self) -> Result<Changes, String> {
        let known = [("none", Changes::None), ("few", Changes::AFew), ("needed", Changes::AsNeeded)];
        meant("changes", self.changes.as_deref(), &known)
    }

    pub(crate) fn notation(&self) -> Result<Notation, String> {
        use tab::Style::{Arrows, Circled, Letters, Parentheses, Plus, Rows, Signed};
        let styles = [
            ("signed", Signed),
            ("plus", Plus),
            ("arrows", Arrows),
            ("letters", Letters),
            ("parentheses", Parentheses),
            ("circled", Circled),
            ("rows", Rows),
        ];
        let bends = [
            ("'", BendMark::Quote),
            ("/", BendMark::Slash),
            ("b", BendMark::Flat),
            ("steps", BendMark::Steps),
        ];
        let overs = [("o", OverMark::Letter), ("degree", OverMark::Degree), ("names", OverMark::Names)];
        Ok(Notation {
            style: meant("the tab style", self.tab_style.as_deref(), &styles)?,
            bend_mark: meant("the mark of a bend", self.bend_mark.as_deref(), &bends)?,
            over_mark: meant("the mark of an overbend", self.over_mark.as_deref(), &overs)?,
        })
    }
}
