//! `breathline completions` and `breathline man`: the files for shells and for `man`, from the one definition of the
//! command line.

use clap::{Command, CommandFactory};
use clap_mangen::{
    Man,
    roff::{Roff, roman},
};

use super::{
    args::{self, Cli},
    message::{self, Exit},
    save::{self, Guard},
};

/// Prints the completion script for a shell.
pub(super) fn completions(args: &args::Completions) -> anyhow::Result<Exit> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "breathline", &mut script);
    message::answer(&String::from_utf8(script)?)?;
    Ok(Exit::Answered)
}

/// Writes a manual page for breathline and one for each command, and prints the paths of these files.
pub(super) fn man(args: &args::Man) -> anyhow::Result<Exit> {
    let mut main = Cli::command().disable_help_subcommand(true);
    main.build();
    let mut pages = vec![(args.folder.join("breathline.1"), page(&main)?)];
    for command in main.get_subcommands() {
        let name = format!("breathline-{}.1", command.get_name());
        pages.push((args.folder.join(name), page(command)?));
    }
    save::save(&pages, &Guard::nothing(args.force))?;
    pages.iter().try_for_each(|(path, _)| message::say(&path.display().to_string()))?;
    Ok(Exit::Answered)
}

/// Returns the page of a command. The examples keep their line breaks.
fn page(command: &Command) -> anyhow::Result<Vec<u8>> {
    let version = env!("CARGO_PKG_VERSION");
    let man = Man::new(command.clone()).source(format!("breathline {version}"));
    let mut page = format!(".\\\" Written by breathline {version}\n").into_bytes();
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    man.render_options_section(&mut page)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut page)?;
    }
    let mut rest = Roff::new();
    if let Some(help) = command.get_after_help() {
        let help = help.to_string();
        rest.control("SH", ["EXAMPLES"]).control("nf", []);
        for line in help.lines().filter(|line| *line != "Examples:") {
            rest.text([roman(line)]);
        }
        rest.control("fi", []);
    }
    if !command.has_subcommands() {
        rest.control("SH", ["SEE ALSO"]).text([roman("breathline(1)")]);
    }
    rest.to_writer(&mut page)?;
    Ok(ascii(&String::from_utf8(page)?).into_bytes())
}

/// Returns a page with its non-ASCII characters as escapes, which every `troff` reads.
fn ascii(page: &str) -> String {
    let escape = |c: char| if c.is_ascii() { c.to_string() } else { format!("\\[u{:04X}]", u32::from(c)) };
    page.chars().map(escape).collect()
}
