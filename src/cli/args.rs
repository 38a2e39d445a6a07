//! The arguments of the command line. This is their one definition; help and errors follow it.

use std::path::PathBuf;

use breathline::{
    export::musicxml,
    harp::{self, Position},
    import::TuneChoice,
    melody::key::{Key, Mode},
    pitch::PitchClass,
    search, tab,
};
use clap::{Args, Parser, Subcommand, ValueEnum};

/// Finds the harmonica and the position for a tune, and writes the tab.
///
/// Takes a melody as MIDI, MusicXML or ABC and tries every diatonic harp and position on it. Ranks them by the notes that can be
/// played, and by how hard they are: bends, moves, turns of the breath, the ends of the harp.
#[derive(Parser, Debug)]
#[command(version, max_term_width = 100, arg_required_else_help = true)]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Subcommand, Debug)]
pub(crate) enum Command {
    /// Rank harps and positions for a tune and write tab for the best
    #[command(after_help = SUGGEST_EXAMPLES)]
    Suggest(Suggest),
    /// Write tab for a harp of your choice, with the tune's chords over the notes
    #[command(after_help = TAB_EXAMPLES)]
    Tab(Tab),
    /// Compare a harp, a position or a typed tab that somebody chose with the best
    #[command(after_help = CHECK_EXAMPLES)]
    Check(Check),
    /// Write the tune as it lies on a harp for other programs: MusicXML or ABC with tab and words, or MIDI
    #[command(after_help = EXPORT_EXAMPLES)]
    Export(Export),
    /// Write a lead sheet for paper, or a page to practise from: staff, tab under the notes, words, the chart of the harp
    #[cfg(feature = "sheet")]
    #[command(after_help = SHEET_EXAMPLES)]
    Sheet(Sheet),
    /// Show what was read from a file: the part, its key and range, and what to look out for
    #[command(after_help = NOTES_EXAMPLES)]
    Notes(Notes),
    /// Look up a harp, a position or a key from the other two
    #[command(after_help = POSITIONS_EXAMPLES)]
    Positions(Positions),
    /// Show the notes of a harp, hole by hole, with its bends
    #[command(after_help = HARP_EXAMPLES)]
    Harp(Harp),
}

const SUGGEST_EXAMPLES: &str = "\
Examples:
  breathline suggest tune.mid
  breathline suggest tune.musicxml --harps C,G,A,low-F --bends draw
  breathline suggest tune.mid --key \"D Dorian\" --any-key --top 10
  breathline suggest tune.mid --key Em               when it is not the key that was found
  breathline suggest tune.mid --player beginner --tempo 80 --position 2
  breathline suggest tune.mid --harps C --bends none --adapt
  breathline suggest tune.mid --player beginner --every-note
  breathline suggest tune.mid --style blues          bends belong to the sound
  breathline suggest tune.mid --harps all,low,high
  breathline suggest session.abc --tune banshee      by a part of its title
  breathline suggest tune.musicxml --sheet tune.html";

const TAB_EXAMPLES: &str = "\
Examples:
  breathline tab tune.mid --harp C
  breathline tab tune.mid --harp C --position 2 --tab-style arrows
  breathline tab tune.mid --harp low-F --octave -1
  breathline tab lesson.txt --harp C
  breathline tab tune.mid --harp Am:natural-minor --bend-mark /
  breathline tab tune.musicxml --harp G --format markdown > tune.md";

const EXPORT_EXAMPLES: &str = "\
Examples:
  breathline export tune.mid --harp C -o tune.musicxml
  breathline export tune.musicxml --harp A --position 2 -o tune.mxl
  breathline export tune.musicxml --harp low-F --octave -1 --tempo 80 -o practice.mid
  breathline export tune.mid --harp C --tab-as fingering -o tune.musicxml
  breathline export session.abc --tune 12 --harp C -o tune.abc

MusicXML and ABC keep repeats as signs. MIDI has none, so there they are written out.";

const CHECK_EXAMPLES: &str = "\
Examples:
  breathline check tune.mid --harp C
  breathline check tune.mid --harp C --position 2 --style blues
  breathline check tune.mid --harp C --tab lesson.txt
  breathline check tune.mid --harp C --tab lesson.txt --unfold --bends draw
  breathline check tune.mid --harp C --tab lesson.txt --sheet lesson.html   both, one above the other, in a browser";

#[cfg(feature = "sheet")]
const SHEET_EXAMPLES: &str = "\
Examples:
  breathline sheet tune.musicxml -o tune.pdf                  for the best of the twelve standard harps
  breathline sheet tune.musicxml -o tune.html                 to listen to and to play along with, in a browser
  breathline sheet tune.mid --harp C --position 2 -o tune.svg
  breathline sheet tune.mid --harp low-F --size large --paper letter -o tune.png";

const NOTES_EXAMPLES: &str = "\
Examples:
  breathline notes band.mid
  breathline notes band.mid --part 3 --json
  breathline notes band.mid --all-parts
  breathline notes choir.musicxml --part 1 --voice 2 --unfold
  breathline notes session.abc                       the list of the tunes in a book
  breathline notes session.abc --tune 12";

const POSITIONS_EXAMPLES: &str = "\
Examples:
  breathline positions                              the whole table
  breathline positions --song-key E --position 2    which harp?
  breathline positions --song-key Em                with the bends that E minor needs
  breathline positions --song-key E --feel minor-blues   the band plays a slow minor blues in E
  breathline positions --harp C --position 3        which key?
  breathline positions --harp C --song-key G        which position?";

const HARP_EXAMPLES: &str = "\
Examples:
  breathline harp C
  breathline harp low-F --bends draw
  breathline harp C --chords
  breathline harp Gm --tuning natural-minor";

#[derive(Args, Debug)]
pub(crate) struct Suggest {
    #[command(flatten)]
    pub(crate) source: Source,
    #[command(flatten)]
    pub(crate) player: Player,
    /// The harps to try, as in C,G,low-F,Dm:natural-minor; all, low and high are twelve each [default: your kit, or all]
    #[arg(long, value_name = "LIST", value_delimiter = ',')]
    pub(crate) harps: Vec<String>,
    /// The tunings to try in all twelve keys, as in richter,country, or all [default: richter]
    #[arg(long, value_name = "LIST", value_delimiter = ',', conflicts_with = "harps")]
    pub(crate) tunings: Vec<String>,
    /// Let the tune be played in any key, not only its own
    #[arg(long)]
    pub(crate) any_key: bool,
    /// Only this position
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    /// Only approaches with most of their notes in this part of the harp
    #[arg(long, value_enum)]
    pub(crate) register: Option<Region>,
    /// The style to play it in: in blues a bend is expression and costs half, in folk half as much again
    #[arg(long, value_enum, value_name = "STYLE", default_value_t = Music::Plain)]
    pub(crate) style: Music,
    /// Show each row's fastest comfortable tempo
    #[arg(long)]
    pub(crate) tempo_range: bool,
    /// Leave out no note that you can sound, and put the ways that play every note first
    #[arg(long)]
    pub(crate) every_note: bool,
    /// Change the tune wherever the winner cannot play it, or bends it heavily; without this, only where it lacks a few notes
    #[arg(long)]
    pub(crate) adapt: bool,
    /// Show the tab with gaps where notes are missing, and change nothing
    #[arg(long, conflicts_with = "adapt")]
    pub(crate) as_written: bool,
    /// Also write a lead sheet for the winner: a .pdf, .svg or .png; or a page to practise from, with the first ten: .html
    #[cfg(feature = "sheet")]
    #[arg(long, value_name = "FILE")]
    pub(crate) sheet: Option<PathBuf>,
    /// How many rows of the ranking to show [default: 5]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub(crate) top: Option<u16>,
    #[command(flatten)]
    pub(crate) notation: Notation,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Args, Debug)]
pub(crate) struct Tab {
    #[command(flatten)]
    pub(crate) on_harp: OnHarp,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// A tune, or a tab, on a harp.
#[derive(Args, Debug)]
pub(crate) struct OnHarp {
    #[command(flatten)]
    pub(crate) source: Source,
    /// The harp, as in C, low-F or Dm:natural-minor
    #[arg(long, value_name = "HARP")]
    pub(crate) harp: String,
    #[command(flatten)]
    pub(crate) choice: Choice,
    #[command(flatten)]
    pub(crate) notation: Notation,
}

/// How to play a tune on a harp.
#[derive(Args, Debug)]
pub(crate) struct Choice {
    /// The position; the tune is transposed to it [default: the one for the tune's own key]
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    /// How many octaves to move the tune [default: where it is easiest]
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub(crate) octave: Option<i8>,
    /// Change notes that cannot be played: another octave for a phrase, a neighbouring note; lists every change
    #[arg(long)]
    pub(crate) adapt: bool,
    #[command(flatten)]
    pub(crate) player: Player,
}

/// A sheet for a tune.
#[cfg(feature = "sheet")]
#[derive(Args, Debug)]
pub(crate) struct Sheet {
    #[command(flatten)]
    pub(crate) source: Source,
    /// The file to write; its ending sets the format: .html for a page to practise from, .pdf, .svg or .png for paper. Several
    /// pages of SVG or PNG get numbers
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: PathBuf,
    /// The harp, as in C, low-F or Dm:natural-minor [default: the best of the twelve standard ones]
    #[arg(long, value_name = "HARP")]
    pub(crate) harp: Option<String>,
    #[command(flatten)]
    pub(crate) choice: Choice,
    #[command(flatten)]
    pub(crate) look: SheetLook,
    /// The mark for each half step of a bend
    #[arg(long, value_enum, value_name = "MARK", default_value_t = BendMark::Quote)]
    pub(crate) bend_mark: BendMark,
    /// Answer with one JSON object: the drawn approaches, and the names of the files
    #[arg(long)]
    pub(crate) json: bool,
}

/// The look of a printed sheet.
#[cfg(feature = "sheet")]
#[derive(Args, Debug)]
pub(crate) struct SheetLook {
    /// The paper
    #[arg(long, value_enum, default_value_t = Paper::A4)]
    pub(crate) paper: Paper,
    /// The size of the print
    #[arg(long, value_enum, default_value_t = Size::Normal)]
    pub(crate) size: Size,
}

#[derive(Args, Debug)]
pub(crate) struct Check {
    #[command(flatten)]
    pub(crate) source: Source,
    /// The chosen harp, as in C, low-F or Dm:natural-minor
    #[arg(long, value_name = "HARP")]
    pub(crate) harp: String,
    /// A tab of the tune, typed in any convention, to be checked note by note
    #[arg(long, value_name = "FILE")]
    pub(crate) tab: Option<PathBuf>,
    /// The position; the tune is transposed to it [default: the one for the tune's own key]
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    /// How many octaves to move the tune [default: where it is easiest, or as in the tab]
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub(crate) octave: Option<i8>,
    /// The harps to compare with, as in C,G,low-F [default: your own, else the twelve standard ones]
    #[arg(long, value_name = "LIST", value_delimiter = ',')]
    pub(crate) harps: Vec<String>,
    /// The style to play it in: in blues a bend is expression and costs half, in folk half as much again
    #[arg(long, value_enum, value_name = "STYLE", default_value_t = Music::Plain)]
    pub(crate) style: Music,
    /// Also write both ways one above the other: a .html for a browser; a .pdf, .svg or .png for paper
    #[cfg(feature = "sheet")]
    #[arg(long, value_name = "OUT")]
    pub(crate) sheet: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) player: Player,
    #[command(flatten)]
    pub(crate) notation: Notation,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Args, Debug)]
pub(crate) struct Export {
    #[command(flatten)]
    pub(crate) on_harp: OnHarp,
    /// The file to write; its ending sets the format: .musicxml, .mxl, .abc or .mid
    #[arg(short = 'o', long = "output", value_name = "OUT")]
    pub(crate) to: PathBuf,
    /// How MusicXML shows the tab [default: lyrics]
    #[arg(long, value_enum, value_name = "WAY")]
    pub(crate) tab_as: Option<TabAs>,
    /// Answer with one JSON object
    #[arg(long)]
    pub(crate) json: bool,
}

/// How a score shows the tab.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum TabAs {
    /// A line of words under the notes, which every program shows
    Lyrics,
    /// The hole as fingering, with an arrow: up to blow, down to draw
    Fingering,
}

impl From<TabAs> for musicxml::TabAs {
    fn from(tab_as: TabAs) -> musicxml::TabAs {
        match tab_as {
            TabAs::Lyrics => musicxml::TabAs::Lyrics,
            TabAs::Fingering => musicxml::TabAs::Fingering,
        }
    }
}

#[derive(Args, Debug)]
pub(crate) struct Notes {
    #[command(flatten)]
    pub(crate) source: Source,
    /// Show what speaks for and against each part
    #[arg(long)]
    pub(crate) all_parts: bool,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Args, Debug)]
pub(crate) struct Positions {
    /// The harp, as in C or Gm:natural-minor
    #[arg(long, value_name = "HARP")]
    pub(crate) harp: Option<String>,
    /// The position, as in 2
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    /// The key of the song, as in E or "E minor"
    #[arg(long, value_name = "KEY", value_parser = song_key)]
    pub(crate) song_key: Option<SongKey>,
    /// What the band plays; positions where its scale lies best come first
    #[arg(long, value_enum, value_name = "FEEL")]
    pub(crate) feel: Option<Feel>,
    #[command(flatten)]
    pub(crate) tuning: TuningChoice,
    #[command(flatten)]
    pub(crate) notation: Notation,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Args, Debug)]
pub(crate) struct Harp {
    /// The harp, as in C, low-F or Gm:natural-minor
    pub(crate) harp: String,
    #[command(flatten)]
    pub(crate) tuning: TuningChoice,
    /// Which bends to show
    #[arg(long, value_enum, default_value_t = Technique::Over)]
    pub(crate) bends: Technique,
    /// Show the chords, intervals and splits of the harp instead
    #[arg(long)]
    pub(crate) chords: bool,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// The source of the tune.
#[derive(Args, Debug)]
pub(crate) struct Source {
    /// A MIDI, MusicXML or ABC file (.mid, .musicxml, .xml, .mxl, .abc), or - for standard input
    pub(crate) file: PathBuf,
    /// The tune in a file of several: its number, as in 12, or a part of its title [default: the only one, else their list]
    #[arg(long, value_name = "TUNE")]
    pub(crate) tune: Option<TuneChoice>,
    /// The part that holds the melody, counted from 1 [default: the likeliest]
    #[arg(long, value_name = "N")]
    pub(crate) part: Option<usize>,
    /// The voice of that part, counted from 1 in order of appearance [default: the likeliest]
    #[arg(long, value_name = "N")]
    pub(crate) voice: Option<usize>,
    /// Write out repeats, endings and jumps in the order of performance
    #[arg(long)]
    pub(crate) unfold: bool,
    /// The key of the tune, as in "G", "E minor" or "D Dorian" [default: found from the tune]
    #[arg(long, value_name = "KEY")]
    pub(crate) key: Option<Key>,
    /// The tempo at the beginning, in quarters a minute [default: the file's, else one that fits the tune]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(20..=500))]
    pub(crate) tempo: Option<u16>,
}

/// The player's abilities.
#[derive(Args, Debug)]
pub(crate) struct Player {
    /// The player: beginner, improver, advanced, or a TOML file of your own
    #[arg(long, value_name = "PLAYER", default_value = "improver")]
    pub(crate) player: String,
    /// The bends that you can play [default: the player's, all for an improver]
    #[arg(long, value_enum)]
    pub(crate) bends: Option<Technique>,
    /// A tuning of your own, from a TOML file; may be given several times
    #[arg(long, value_name = "FILE")]
    pub(crate) tuning_file: Vec<PathBuf>,
}

/// A tuning by name, or from a file.
#[derive(Args, Debug)]
pub(crate) struct TuningChoice {
    /// The tuning, as in natural-minor [default: richter]
    #[arg(long, value_name = "NAME")]
    pub(crate) tuning: Option<String>,
    /// A tuning of your own, from a TOML file; --tuning chooses one if there are several, otherwise the first is used
    #[arg(long, value_name = "FILE")]
    pub(crate) tuning_file: Vec<PathBuf>,
}

/// How tab is written.
#[derive(Args, Debug)]
pub(crate) struct Notation {
    /// How to tell blow from draw [default: signed; for a typed tab, its own style]
    #[arg(long, value_enum, value_name = "STYLE")]
    pub(crate) tab_style: Option<Style>,
    /// The mark for each half step of a bend
    #[arg(long, value_enum, value_name = "MARK", default_value_t = BendMark::Quote)]
    pub(crate) bend_mark: BendMark,
    /// The mark of an overblow or overdraw
    #[arg(long, value_enum, value_name = "MARK", default_value_t = OverMark::Letter)]
    pub(crate) over_mark: OverMark,
}

/// The form of the answer.
#[derive(Args, Clone, Debug)]
pub(crate) struct Output {
    /// Answer with one JSON object
    #[arg(long, conflicts_with = "format")]
    pub(crate) json: bool,
    /// The format of the page
    #[arg(long, value_enum, value_name = "FORMAT", default_value_t = Format::Text)]
    pub(crate) format: Format,
    /// When to use colours
    #[arg(long, value_enum, value_name = "WHEN", default_value_t = Colour::Auto)]
    pub(crate) color: Colour,
    /// The width of a line in characters, 40 or more
    #[arg(long, value_name = "N", default_value_t = 80, value_parser = clap::value_parser!(u16).range(40..))]
    pub(crate) width: u16,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Technique {
    /// Natural notes only
    None,
    /// Draw bends
    Draw,
    /// Draw and blow bends
    All,
    /// Bends, overblows and overdraws
    Over,
}

impl From<Technique> for harp::Technique {
    fn from(technique: Technique) -> harp::Technique {
        match technique {
            Technique::None => harp::Technique::None,
            Technique::Draw => harp::Technique::Draw,
            Technique::All => harp::Technique::All,
            Technique::Over => harp::Technique::Over,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(crate) enum Region {
    /// Holes 1 to 3
    Low,
    /// Holes 4 to 6
    Middle,
    /// Holes 7 to 10
    High,
}

impl From<Region> for search::Region {
    fn from(region: Region) -> search::Region {
        match region {
            Region::Low => search::Region::Low,
            Region::Middle => search::Region::Middle,
            Region::High => search::Region::High,
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Style {
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

impl From<Style> for tab::Style {
    fn from(style: Style) -> tab::Style {
        match style {
            Style::Signed => tab::Style::Signed,
            Style::Plus => tab::Style::Plus,
            Style::Arrows => tab::Style::Arrows,
            Style::Letters => tab::Style::Letters,
            Style::Parentheses => tab::Style::Parentheses,
            Style::Circled => tab::Style::Circled,
            Style::Rows => tab::Style::Rows,
        }
    }
}

/// The style of a tune.
#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(crate) enum Music {
    /// Every bend costs its usual price
    Plain,
    /// Half, full and unsteady bends cost half, and so do the moves to and from them
    Blues,
    /// The same bends cost half as much again, because folk wants clear notes
    Folk,
}

impl From<Music> for search::Style {
    fn from(music: Music) -> search::Style {
        match music {
            Music::Plain => search::Style::Plain,
            Music::Blues => search::Style::Blues,
            Music::Folk => search::Style::Folk,
        }
    }
}

/// The style of a band.
#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(crate) enum Feel {
    /// Major chords with flat sevenths: 1 2 b3 3 4 b5 5 6 b7
    Blues,
    /// Minor chords: 1 b3 4 b5 5 b7
    MinorBlues,
    /// The major pentatonic: 1 2 3 5 6
    Country,
    /// The major scale
    Folk,
}

impl From<Feel> for harp::Feel {
    fn from(feel: Feel) -> harp::Feel {
        match feel {
            Feel::Blues => harp::Feel::Blues,
            Feel::MinorBlues => harp::Feel::MinorBlues,
            Feel::Country => harp::Feel::Country,
            Feel::Folk => harp::Feel::Folk,
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum BendMark {
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

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum OverMark {
    /// 6o and -7o
    #[value(name = "o")]
    Letter,
    /// 6° and -7°
    Degree,
    /// 6OB and -7OD
    Names,
}

impl From<BendMark> for tab::BendMark {
    fn from(mark: BendMark) -> tab::BendMark {
        match mark {
            BendMark::Quote => tab::BendMark::Quote,
            BendMark::Slash => tab::BendMark::Slash,
            BendMark::Flat => tab::BendMark::Flat,
            BendMark::Steps => tab::BendMark::Steps,
        }
    }
}

impl From<&Notation> for tab::Notation {
    fn from(notation: &Notation) -> tab::Notation {
        tab::Notation {
            style: notation.tab_style.map(tab::Style::from).unwrap_or_default(),
            bend_mark: notation.bend_mark.into(),
            over_mark: match notation.over_mark {
                OverMark::Letter => tab::OverMark::Letter,
                OverMark::Degree => tab::OverMark::Degree,
                OverMark::Names => tab::OverMark::Names,
            },
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
}

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(crate) enum Format {
    /// For a terminal
    Text,
    /// For a document that will be rendered
    Markdown,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug, ValueEnum)]
pub(crate) enum Colour {
    /// On a terminal, unless `NO_COLOR` is set
    Auto,
    /// Also into files and pipes
    Always,
    /// Not at all
    Never,
}

fn position(text: &str) -> Result<Position, String> {
    let digits = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let is_ordinal = ["", "st", "nd", "rd", "th"].contains(&&text[digits.len()..]);
    let number = digits.parse().ok().filter(|_| is_ordinal);
    number.and_then(Position::new).ok_or_else(|| "write a number from 1 to 12, as in 2 or 2nd".to_owned())
}

/// The key of a song; the mode only if it was given.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SongKey {
    pub(crate) tonic: PitchClass,
    pub(crate) mode: Option<Mode>,
}

/// Reads a song's key, with or without its mode: the position needs only the tonic, but the bends need the mode.
fn song_key(text: &str) -> Result<SongKey, String> {
    let Key { tonic, mode } = text.parse::<Key>().map_err(|error| error.to_string())?;
    // If a mode can be added to the text, none was given.
    let is_said = format!("{} major", text.trim()).parse::<Key>().is_err();
    Ok(SongKey { tonic, mode: is_said.then_some(mode) })
}
