//! The arguments of the commands for many tunes: `book`, `bag` and `set`.

use std::path::PathBuf;

use breathline::harp::Position;
use clap::{Args, ValueEnum};

use super::{Notation, Output, Player, SongKey, Tries, number, position, song_key};

pub(super) const EXAMPLES: &str = "\
Examples:
  breathline book tunes/ --harps C,D,G --easiest 20
  breathline book tunes/ --playable --no-bends -o book.html
  breathline book tunes/ --player beginner --next 10
  breathline book a.mid b.musicxml --csv > book.csv
  breathline book tunes/a --json > a.jsonl           answer a long list in parts, on one machine or several
  breathline book a.jsonl b.jsonl --merge            and join the answers";

pub(super) const BAG_EXAMPLES: &str = "\
Examples:
  breathline bag tunes/
  breathline bag tunes/ --harps all,low,high --most 7
  breathline bag tunes/ --have C,A --price 40        which ones next?
  breathline bag tunes/ --price prices.toml          the most tunes for the money
  breathline bag tunes/ --player beginner --bends none --any-key

A file of prices, such as prices.toml. The price of a harp is in its own line, or else in the line of its register, of
its tuning, or `every`:
  every = 40
  low = 55
  natural-minor = 48
  C = 38
  low-F = 60";

pub(super) const SET_EXAMPLES: &str = "\
Examples:
  breathline set first.mid second.musicxml third.mid
  breathline set first.mid second.mid --harps C,D,G --change 0
  breathline set first.mid second.mid -o evening.html --open     large, for the music stand
  breathline set first.mid second.mid --format markdown > set.md";

/// The harps to own.
#[derive(Args, Debug)]
pub(crate) struct Bag {
    /// Files of tunes, and folders; every tune in a folder is read
    #[arg(required = true, value_name = "FILE|FOLDER")]
    pub(crate) files: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) player: Player,
    #[command(flatten)]
    pub(crate) tries: Tries,
    /// The harps that you own already, as in C,G,low-F
    #[arg(long, value_name = "LIST", value_delimiter = ',')]
    pub(crate) have: Vec<String>,
    /// The most harps to add
    #[arg(long, value_name = "N", default_value_t = 7, value_parser = number::<usize>(0..=100))]
    pub(crate) most: usize,
    /// The highest effort per note at which a tune still counts as played well
    #[arg(long, value_name = "POINTS", default_value_t = 60, value_parser = number::<u64>(0..=1_000_000))]
    pub(crate) effort: u64,
    /// The price of a harp, as in 40, or a TOML file of prices: shows the best bags for their money, the cheapest first
    #[arg(long, value_name = "PRICE|FILE")]
    pub(crate) price: Option<String>,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// The harps for an evening.
#[derive(Args, Debug)]
pub(crate) struct Set {
    /// The tunes in order
    #[arg(required = true, value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) player: Player,
    #[command(flatten)]
    pub(crate) tries: Tries,
    /// The price of a change of harp between two tunes, in points of effort
    #[arg(long, value_name = "POINTS", default_value_t = 300, value_parser = number::<u64>(0..=1_000_000))]
    pub(crate) change: u64,
    /// Also write a page for the music stand; it prints on one sheet
    #[arg(short = 'o', long = "output", value_name = "OUT.html")]
    pub(crate) to: Option<PathBuf>,
    /// Let --output replace a file that breathline did not write
    #[arg(long, requires = "to")]
    pub(crate) force: bool,
    /// Open the file that --output wrote
    #[arg(long, requires = "to")]
    pub(crate) open: bool,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// Many tunes.
#[derive(Args, Debug)]
pub(crate) struct Book {
    /// Files of tunes, and folders; every tune in a folder is read
    #[arg(required = true, value_name = "FILE|FOLDER")]
    pub(crate) files: Vec<PathBuf>,
    /// Join answers of `book --json`: the files hold answers instead of tunes
    #[arg(long, conflicts_with_all = ["harps", "tunings", "any_key", "own_key", "style", "player", "bends", "tuning_file"])]
    pub(crate) merge: bool,
    #[command(flatten)]
    pub(crate) player: Player,
    #[command(flatten)]
    pub(crate) tries: Tries,
    /// Keep the tune in its own key, even if the harps at hand do not fit that key
    #[arg(long, conflicts_with = "any_key")]
    pub(crate) own_key: bool,
    /// Only tunes without missing notes, except grace notes
    #[arg(long)]
    pub(crate) playable: bool,
    /// Only tunes that need no bend
    #[arg(long)]
    pub(crate) no_bends: bool,
    /// Only tunes whose best way is in this position
    #[arg(long, value_name = "1-12", value_parser = position)]
    pub(crate) position: Option<Position>,
    /// Only tunes in this key, as in G or "E Dorian"; without a mode, in any mode
    #[arg(long, value_name = "KEY", value_parser = song_key)]
    pub(crate) key: Option<SongKey>,
    /// The order of the tunes [default: as in the files]
    #[arg(long, value_enum, value_name = "BY")]
    pub(crate) sort: Option<Sort>,
    /// Only the N easiest tunes, by effort a note
    #[arg(long, value_name = "N", conflicts_with = "sort", value_parser = number::<usize>(1..=1_000_000))]
    pub(crate) easiest: Option<usize>,
    /// The next N tunes to learn: each demands the least beyond the tunes before it
    #[arg(long, value_name = "N", conflicts_with_all = ["sort", "easiest"], value_parser = number::<usize>(1..=1_000_000))]
    pub(crate) next: Option<usize>,
    /// Also write a page with search and sorting, on which each row opens the tab
    #[arg(short = 'o', long = "output", visible_alias = "page", value_name = "OUT.html")]
    pub(crate) page: Option<PathBuf>,
    /// Let --output replace a file that breathline did not write
    #[arg(long, requires = "page")]
    pub(crate) force: bool,
    /// Open the file that --output wrote
    #[arg(long, requires = "page")]
    pub(crate) open: bool,
    /// Answer in comma-separated values
    #[arg(long, conflicts_with_all = ["json", "format", "next"])]
    pub(crate) csv: bool,
    #[command(flatten)]
    pub(crate) notation: Notation,
    #[command(flatten)]
    pub(crate) output: Output,
}

/// The order of a book's tunes.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Sort {
    /// By title
    Title,
    /// By key, then title
    Key,
    /// By harp, then title
    Harp,
    /// By effort a note
    Effort,
}
