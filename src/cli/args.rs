//! The arguments of the command line. This module alone defines them; help and errors follow from it.

mod book;
mod install;
mod words;

use std::path::PathBuf;

use breathline::{
    harp::Position,
    import::{AskedPart, TuneChoice},
    melody::key::Key,
    pins::WrittenPin,
};
use clap::{Args, Parser, Subcommand, builder::ArgPredicate};

pub(crate) use book::{Bag, Book, Set, Sort};
pub(crate) use install::{Completions, Man};
pub(crate) use words::*;
use words::{number, position, song_key, tempo};

/// Finds the harmonica and the position for a tune, and writes the tab.
///
/// Takes a melody as MIDI, MusicXML or ABC and tries diatonic harps of every key in every position. Ranks them by
/// the notes that can be played, and by effort: bends, moves, breath turns, the ends of the harp.
#[derive(Parser, Debug)]
#[command(version, max_term_width = 100, arg_required_else_help = true)]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Subcommand, Debug)]
pub(crate) enum Command {
    /// Rank harps and positions for a tune, and write the tab for the best
    #[command(after_help = SUGGEST_EXAMPLES, override_usage = "breathline suggest [OPTIONS] [FILE]...")]
    Suggest(Suggest),
    /// Write tab for a harp of your choice, with the tune's chords over the notes
    #[command(after_help = TAB_EXAMPLES)]
    Tab(Tab),
    /// Compare a chosen harp, a chosen position or a typed tab with the best
    #[command(after_help = CHECK_EXAMPLES)]
    Check(Check),
    /// Write the tune, as a harp plays it, for other programs: MusicXML or ABC with tab and words, or MIDI
    #[command(after_help = EXPORT_EXAMPLES)]
    Export(Export),
    /// Write a lead sheet for paper, or a page to practise from: staff, tab under the notes, words, the chart of the
    /// harp
    #[cfg(feature = "sheet")]
    #[command(after_help = SHEET_EXAMPLES)]
    Sheet(Sheet),
    /// Compare many tunes: which suit the harps and the player, the easiest, the next to learn
    #[command(after_help = book::EXAMPLES)]
    Book(Book),
    /// Find the harps to own: a few harps that together play most of your tunes well
    #[command(after_help = book::BAG_EXAMPLES)]
    Bag(Bag),
    /// Find the harp for each tune of an evening, with few changes between them
    #[command(after_help = book::SET_EXAMPLES)]
    Set(Set),
    /// Show the tune as read from a file: the part, its key and range, and oddities of the file
    #[command(after_help = NOTES_EXAMPLES, override_usage = "breathline notes [OPTIONS] [FILE]...")]
    Notes(Notes),
    /// Give two of harp, position and key, and look up the third
    #[command(after_help = POSITIONS_EXAMPLES)]
    Positions(Positions),
    /// Show your kit (harps, level and marks), or save it for every command
    #[command(after_help = KIT_EXAMPLES)]
    Kit(Kit),
    /// Show the notes of a harp with its bends, hole by hole
    #[command(after_help = HARP_EXAMPLES)]
    Harp(Harp),
    /// Print the script with which a shell completes commands, options and their values
    #[command(after_help = install::COMPLETIONS_EXAMPLES)]
    Completions(Completions),
    /// Write the manual pages, one for each command
    #[command(after_help = install::MAN_EXAMPLES)]
    Man(Man),
}

const SUGGEST_EXAMPLES: &str = "\
Examples:
  breathline suggest tune.mid
  breathline suggest tune.musicxml --harps C,G,A,low-F --bends draw
  breathline suggest tune.mid --key \"D Dorian\" --any-key --top 10
  breathline suggest tune.mid --why --ranking       every reason, and the numbers
  breathline suggest tune.mid --key Em               when it is not the key that was found
  breathline suggest tune.mid --player beginner --tempo 80 --position 2
  breathline suggest tune.mid --harps C --bends none --adapt
  breathline suggest tune.mid --player beginner --every-note
  breathline suggest tune.mid --style blues          bends belong to the sound
  breathline suggest tune.mid --harps all,low,high
  breathline suggest session.abc --tune banshee      by a part of its title
  breathline suggest tune.musicxml -o tune.html --open
  breathline suggest first.mid second.mid            one after the other
  breathline suggest --notes \"G A B d | e2 d2\"      without a file";

const TAB_EXAMPLES: &str = "\
Examples:
  breathline tab tune.mid --harp C
  breathline tab tune.mid --harp C --position 2 --tab-style arrows
  breathline tab tune.mid --harp low-F --octave -1
  breathline tab tune.mid --harp C --at 3:2=-2 --keep    bar 3, beat 2 is draw 2, here and in every sheet
  breathline tab lesson.txt --harp C
  breathline tab --notes \"G4 A4 Bb4 D5\" --harp C
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
  breathline check tune.mid --harp C --tab lesson.txt -o lesson.html   both, one above the other, in a browser";

#[cfg(feature = "sheet")]
const SHEET_EXAMPLES: &str = "\
Examples:
  breathline sheet tune.musicxml -o tune.pdf                  for the best of your kit, else of the twelve standard harps
  breathline sheet tune.musicxml -o tune.html                 to listen to and to play along with, in a browser
  breathline sheet tune.mid --harp C --position 2 -o tune.svg
  breathline sheet tune.mid --harp low-F --size large --paper letter -o tune.png
  breathline sheet tune.mid --tab-only -o tab.pdf             large tab with the words, without the staff
  breathline sheet tune.mid --levels --harps C,A -o class.pdf for a class: plain, with bends and full, a page for each harp";

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
  breathline positions E --position 2               which harp?
  breathline positions Em                           with the bends that E minor needs
  breathline positions E --style minor-blues        the band plays a slow minor blues in E
  breathline positions --harp C --position 3        which key?
  breathline positions --harp C --key G             which position?";

const KIT_EXAMPLES: &str = "\
Examples:
  breathline kit
  breathline kit --save --harps C,G,A,low-F --player beginner
  breathline kit --save --tab-style arrows --paper letter";

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
    /// More files, answered one after the other
    #[arg(value_name = "FILE")]
    pub(crate) more: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) player: Player,
    #[command(flatten)]
    pub(crate) tries: Tries,
    /// Keep the tune in its own key, even if the harps at hand do not fit that key
    #[arg(long, conflicts_with = "any_key")]
    pub(crate) own_key: bool,
    /// Only this position
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    #[command(flatten)]
    pub(crate) pins: Pins,
    /// Only ways to play the tune that keep most notes in this part of the harp
    #[arg(long, value_enum)]
    pub(crate) register: Option<Region>,
    /// Give every reason, each of the hardest bars, and the effort by its parts
    #[arg(long)]
    pub(crate) why: bool,
    /// Show the ranking: the best ways to play the tune, in numbers
    #[arg(long)]
    pub(crate) ranking: bool,
    /// Show the ranking with each row's fastest comfortable tempo
    #[arg(long)]
    pub(crate) tempo_range: bool,
    /// Leave out no note that you can sound, and put the ways that play every note first
    #[arg(long)]
    pub(crate) every_note: bool,
    /// Change the tune wherever the winner cannot play it or bends it heavily; without this option, only where it lacks
    /// a few notes
    #[arg(long)]
    pub(crate) adapt: bool,
    /// Show the tab with gaps where notes are missing, and never change the tune
    #[arg(long, conflicts_with = "adapt")]
    pub(crate) as_written: bool,
    /// Also write a lead sheet for the winner (.pdf, .svg or .png), or a page to practise from with the first ten rows
    /// (.html)
    #[cfg(feature = "sheet")]
    #[arg(short = 'o', long = "output", visible_alias = "sheet", value_name = "FILE")]
    pub(crate) sheet: Option<PathBuf>,
    /// Let --output replace a file that breathline did not write
    #[cfg(feature = "sheet")]
    #[arg(long, requires = "sheet")]
    pub(crate) force: bool,
    /// Open the file that --output wrote
    #[cfg(feature = "sheet")]
    #[arg(long, requires = "sheet")]
    pub(crate) open: bool,
    /// Show the first N rows of the ranking [default: 5]
    #[arg(long, value_name = "N", value_parser = number::<u16>(1..=65_535))]
    pub(crate) top: Option<u16>,
    #[command(flatten)]
    pub(crate) notation: Notation,
    #[command(flatten)]
    pub(crate) output: Output,
}

impl Suggest {
    /// Returns all files named on the command line.
    pub(crate) fn all_files(&self) -> Vec<PathBuf> {
        std::iter::once(&self.source.file).chain(&self.more).cloned().collect()
    }
}

impl Notes {
    /// Returns all files named on the command line.
    pub(crate) fn all_files(&self) -> Vec<PathBuf> {
        std::iter::once(&self.source.file).chain(&self.more).cloned().collect()
    }
}

/// The harps and keys to try.
#[derive(Args, Debug)]
pub(crate) struct Tries {
    /// The harps to try, as in C,G,low-F,Dm:natural-minor; all, low and high mean twelve harps each [default: your kit,
    /// or all]
    #[arg(long, alias = "harp", value_name = "LIST", value_delimiter = ',')]
    pub(crate) harps: Vec<String>,
    /// The tunings to try in all twelve keys, as in richter,country, or all [default: richter]
    #[arg(long, value_name = "LIST", value_delimiter = ',', conflicts_with = "harps")]
    pub(crate) tunings: Vec<String>,
    /// Let the tune be played in any key, not only in its own
    #[arg(long)]
    pub(crate) any_key: bool,
    /// The style: blues halves the price of most bends, because bends are its expression; folk raises it by half
    #[arg(long, value_enum, value_name = "STYLE", default_value_t = Music::Plain)]
    pub(crate) style: Music,
}

#[derive(Args, Debug)]
pub(crate) struct Tab {
    #[command(flatten)]
    pub(crate) on_harp: OnHarp,
    /// Give every reason, each of the hardest bars, and the effort by its parts
    #[arg(long)]
    pub(crate) why: bool,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// A tune, or a typed tab, on a chosen harp.
#[derive(Args, Debug)]
pub(crate) struct OnHarp {
    #[command(flatten)]
    pub(crate) source: Source,
    /// The harp, as in C, low-F or Dm:natural-minor
    #[arg(long, alias = "harps", value_name = "HARP")]
    pub(crate) harp: String,
    #[command(flatten)]
    pub(crate) choice: Choice,
    #[command(flatten)]
    pub(crate) notation: Notation,
}

/// How the harp plays the tune.
#[derive(Args, Debug)]
pub(crate) struct Choice {
    /// The position; the tune is transposed to it [default: the one for the tune's own key]
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    /// How many octaves to move the tune [default: with one harp, the octave where it has every note; otherwise the easiest]
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number::<i8>(-10..=10))]
    pub(crate) octave: Option<i8>,
    /// Change notes that cannot be played: a phrase to another octave, a note to a neighbour; the answer lists every
    /// change
    #[arg(long)]
    pub(crate) adapt: bool,
    #[command(flatten)]
    pub(crate) pins: Pins,
    #[command(flatten)]
    pub(crate) player: Player,
}

/// Holes that the user has fixed.
#[derive(Args, Debug)]
pub(crate) struct Pins {
    /// Pin a hole, as in 3:2=-2: bar 3, beat 2 is draw 2; the best other holes are chosen around it. Separate several
    /// pins with commas
    #[arg(long, value_name = "BAR:BEAT=HOLE", value_delimiter = ',')]
    pub(crate) at: Vec<WrittenPin>,
    /// Keep the pins in a small file beside the tune (tune.pins), for every later sheet, tab and export
    #[arg(long, requires = "at")]
    pub(crate) keep: bool,
    /// Ignore the pins that are kept beside the tune
    #[arg(long)]
    pub(crate) free: bool,
}

/// A sheet for a tune.
#[cfg(feature = "sheet")]
#[derive(Args, Debug)]
pub(crate) struct Sheet {
    #[command(flatten)]
    pub(crate) source: Source,
    /// The file to write; its ending sets the format: .html for a page to practise from; .pdf, .svg or .png for paper
    /// and for --levels. SVG and PNG files of several pages are numbered
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: PathBuf,
    /// Replace a file that breathline did not write
    #[arg(long)]
    pub(crate) force: bool,
    /// Open the file with this system's program for it; of several pages, the first
    #[arg(long)]
    pub(crate) open: bool,
    /// The harp, as in C, low-F or Dm:natural-minor [default: the best of your kit, or of the twelve standard harps];
    /// with --levels, several harps, as in C,A, give a page each
    #[arg(long, visible_alias = "harps", value_name = "HARP", value_delimiter = ',')]
    pub(crate) harp: Vec<String>,
    /// For a class: the tune without bends (changed where it lacks notes), with bends, and with everything up to
    /// --bends [default: over], one above the other, and what a player learns from each to the next
    #[arg(long, conflicts_with_all = ["adapt", "at"])]
    pub(crate) levels: bool,
    #[command(flatten)]
    pub(crate) choice: Choice,
    #[command(flatten)]
    pub(crate) look: SheetLook,
    /// The mark for each half step of a bend
    #[arg(long, value_enum, value_name = "MARK", default_value_t = BendMark::Quote)]
    pub(crate) bend_mark: BendMark,
    /// Answer with one JSON object: the ways to play the tune on the sheet, and the names of the files
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
    #[arg(long, value_enum, default_value_t = Size::Fill)]
    pub(crate) size: Size,
    /// Large tab with the words, without the staff; on paper, in SVG and PNG
    #[arg(long)]
    pub(crate) tab_only: bool,
}

#[derive(Args, Debug)]
pub(crate) struct Check {
    #[command(flatten)]
    pub(crate) source: Source,
    /// The chosen harp, as in C, low-F or Dm:natural-minor
    #[arg(long, value_name = "HARP")]
    pub(crate) harp: String,
    /// A typed tab of the tune, in any convention, to check note by note
    #[arg(long, value_name = "FILE")]
    pub(crate) tab: Option<PathBuf>,
    /// The position; the tune is transposed to it [default: the one for the tune's own key]
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    /// How many octaves to move the tune [default: the easiest octave, or the octave of the tab]
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number::<i8>(-10..=10))]
    pub(crate) octave: Option<i8>,
    /// The harps to compare with, as in C,G,low-F [default: your kit, or the twelve standard harps]
    #[arg(long, value_name = "LIST", value_delimiter = ',')]
    pub(crate) harps: Vec<String>,
    /// The style: blues halves the price of most bends, because bends are its expression; folk raises it by half
    #[arg(long, value_enum, value_name = "STYLE", default_value_t = Music::Plain)]
    pub(crate) style: Music,
    /// Also write the two ways one above the other: a .html for a browser; a .pdf, .svg or .png for paper
    #[cfg(feature = "sheet")]
    #[arg(short = 'o', long = "output", visible_alias = "sheet", value_name = "OUT")]
    pub(crate) sheet: Option<PathBuf>,
    /// Let --output replace a file that breathline did not write
    #[cfg(feature = "sheet")]
    #[arg(long, requires = "sheet")]
    pub(crate) force: bool,
    /// Open the file that --output wrote
    #[cfg(feature = "sheet")]
    #[arg(long, requires = "sheet")]
    pub(crate) open: bool,
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
    /// Replace a file that breathline did not write
    #[arg(long)]
    pub(crate) force: bool,
    /// How MusicXML shows the tab [default: lyrics]
    #[arg(long, value_enum, value_name = "WAY")]
    pub(crate) tab_as: Option<TabAs>,
    /// Answer with one JSON object, for other programs; for several files, with one object a line
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Args, Debug)]
pub(crate) struct Notes {
    #[command(flatten)]
    pub(crate) source: Source,
    /// More files, shown one after the other
    #[arg(value_name = "FILE")]
    pub(crate) more: Vec<PathBuf>,
    /// Show the points for and against each part
    #[arg(long)]
    pub(crate) all_parts: bool,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Args, Debug)]
pub(crate) struct Positions {
    /// The harp, as in C or Gm:natural-minor
    #[arg(long, alias = "harps", value_name = "HARP")]
    pub(crate) harp: Option<String>,
    /// The position, as in 2
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    /// The key of the song, as in E or "E minor"
    #[arg(value_name = "KEY", value_parser = song_key)]
    pub(crate) song: Option<SongKey>,
    /// The key of the song
    #[arg(long, alias = "song-key", value_name = "KEY", value_parser = song_key, conflicts_with = "song")]
    pub(crate) key: Option<SongKey>,
    /// The style of the band; the positions that suit its scale best come first
    #[arg(long, alias = "feel", value_enum, value_name = "STYLE")]
    pub(crate) style: Option<Feel>,
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
    /// Show the chords, intervals and splits of the harp instead of its layout
    #[arg(long)]
    pub(crate) chords: bool,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// What is remembered.
#[derive(Args, Debug)]
pub(crate) struct Kit {
    /// Save the settings given on this line; other settings stay
    #[arg(long)]
    pub(crate) save: bool,
    /// Your harps, as in C,G,low-F,Dm:natural-minor
    #[arg(long, alias = "harp", value_name = "LIST", value_delimiter = ',')]
    pub(crate) harps: Vec<String>,
    /// Your level: beginner, improver, advanced, or a file of your own (TOML)
    #[arg(long, value_name = "PLAYER")]
    pub(crate) player: Option<String>,
    /// The bends that you can play
    #[arg(long, value_enum)]
    pub(crate) bends: Option<Technique>,
    /// How to tell blow from draw
    #[arg(long, value_enum, value_name = "STYLE")]
    pub(crate) tab_style: Option<Style>,
    /// The mark for each half step of a bend
    #[arg(long, value_enum, value_name = "MARK")]
    pub(crate) bend_mark: Option<BendMark>,
    /// The mark of an overblow or overdraw
    #[arg(long, value_enum, value_name = "MARK")]
    pub(crate) over_mark: Option<OverMark>,
    /// The paper of your sheets
    #[cfg(feature = "sheet")]
    #[arg(long, value_enum)]
    pub(crate) paper: Option<Paper>,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// The source of the tune.
#[derive(Args, Debug)]
pub(crate) struct Source {
    /// A MIDI, MusicXML or ABC file (.mid, .musicxml, .xml, .mxl, .abc), or - for typed or piped input
    #[arg(
        required = false,
        required_unless_present = "notes",
        default_value_if("notes", ArgPredicate::IsPresent, "-")
    )]
    #[arg(conflicts_with = "notes", hide_default_value = true)]
    pub(crate) file: PathBuf,
    /// The tune as note names instead of a file, as in "G A B d | e2 d2" (ABC) or "G4 A4 Bb4 C#5"
    #[arg(long, value_name = "NOTES", allow_hyphen_values = true)]
    pub(crate) notes: Option<String>,
    /// The tune to take from a file of several: its number, as in 12, or a part of its title [default: the only tune;
    /// of several, a list]
    #[arg(long, value_name = "TUNE")]
    pub(crate) tune: Option<TuneChoice>,
    /// The part that holds the melody: its number, counted from 1, or a part of its name [default: the most likely
    /// part]
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<AskedPart>,
    /// The voice of that part, counted from 1 in order of appearance [default: the most likely voice]
    #[arg(long, value_name = "N", value_parser = number::<usize>(1..=1000))]
    pub(crate) voice: Option<usize>,
    /// Write out repeats, endings and jumps in the order of performance
    #[arg(long)]
    pub(crate) unfold: bool,
    /// The key of the tune, as in "G", "E minor" or "D Dorian" [default: found from the tune]
    #[arg(long, value_name = "KEY")]
    pub(crate) key: Option<Key>,
    /// The tempo at the beginning, in quarters a minute [default: the file's tempo, or one that fits the tune]
    #[arg(long, value_name = "N", value_parser = tempo)]
    pub(crate) tempo: Option<u16>,
}

/// The player's abilities.
#[derive(Args, Debug)]
pub(crate) struct Player {
    /// The player: beginner, improver, advanced, or a file of your own (TOML)
    #[arg(long, value_name = "PLAYER", default_value = "improver")]
    pub(crate) player: String,
    /// The bends that you can play [default: the player's; an improver plays all]
    #[arg(long, value_enum)]
    pub(crate) bends: Option<Technique>,
    /// A file with a tuning of your own (TOML); may be given several times
    #[arg(long, value_name = "FILE")]
    pub(crate) tuning_file: Vec<PathBuf>,
}

/// A tuning by name, or from a file.
#[derive(Args, Debug)]
pub(crate) struct TuningChoice {
    /// The tuning, as in natural-minor [default: richter]
    #[arg(long, value_name = "NAME")]
    pub(crate) tuning: Option<String>,
    /// A file with a tuning of your own (TOML); of several tunings in it, --tuning chooses one [default: the first]
    #[arg(long, value_name = "FILE")]
    pub(crate) tuning_file: Vec<PathBuf>,
}

/// How the tab is written.
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
    /// Answer with one JSON object, for other programs; for several files, with one object a line
    #[arg(long, conflicts_with = "format")]
    pub(crate) json: bool,
    /// The format of the page
    #[arg(long, value_enum, value_name = "FORMAT", default_value_t = Format::Text)]
    pub(crate) format: Format,
    /// When to use colours
    #[arg(long, alias = "colour", value_enum, value_name = "WHEN", default_value_t = Colour::Auto)]
    pub(crate) color: Colour,
    /// The width of a line in characters, 40 or more
    #[arg(long, value_name = "N", default_value_t = 80, value_parser = number::<u16>(40..=65_535))]
    pub(crate) width: u16,
}
