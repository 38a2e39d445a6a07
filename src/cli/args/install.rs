//! The arguments of the commands for the installation of breathline: `completions` and `man`.

use std::path::PathBuf;

use clap::Args;
use clap_complete::Shell;

pub(super) const COMPLETIONS_EXAMPLES: &str = "\
Examples:
  source <(breathline completions bash)              in ~/.bashrc
  breathline completions zsh > ~/.zfunc/_breathline  a folder of your fpath
  breathline completions fish > ~/.config/fish/completions/breathline.fish
  breathline completions powershell >> $PROFILE";

pub(super) const MAN_EXAMPLES: &str = "\
Examples:
  breathline man ~/.local/share/man/man1
  breathline man debian/man --force";

/// The completions of a shell.
#[derive(Args, Debug)]
pub(crate) struct Completions {
    /// The shell
    #[arg(value_enum)]
    pub(crate) shell: Shell,
}

/// The manual pages.
#[derive(Args, Debug)]
pub(crate) struct Man {
    /// The folder for the pages
    pub(crate) folder: PathBuf,
    /// Replace files that breathline did not write
    #[arg(long)]
    pub(crate) force: bool,
}
