//! `breathline sheet`, and the sheet of `suggest`: writes the files.

use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use breathline::{
    harp::{Harp, Tuning},
    report::Tune,
    search::{Approach, Ranking, Request},
    sheet::{self, Options, Sheet, pdf, png, svg},
};

use super::{ReadTune, args, message, message::Exit};

/// Runs the command.
pub(super) fn run(args: &args::Sheet) -> anyhow::Result<Exit> {
    let form = Form::of(&args.output)?;
    let read = ReadTune::new(&args.source)?;
    let tunings = super::tunings(&args.choice.player.tuning_file)?;
    let harps = match &args.harp {
        Some(name) => vec![Harp::parse(name, &tunings)?],
        None => Harp::standard_set(&Tuning::richter()),
    };
    let player = super::player(&args.choice.player)?;
    let mut request = super::request(&read, &harps, &player, &args.choice);
    // Without a harp, the position chooses one; with one, the tune moves.
    request.any_key &= args.harp.is_some();
    let ranking = super::choose(&request, &args.choice, &player);
    match ranking.adapted.as_ref().or(ranking.best()) {
        Some(approach) => {
            let options = Options {
                paper: args.look.paper.into(),
                size: args.look.size.into(),
                bend_mark: args.bend_mark.into(),
            };
            write(&args.output, form, &read.tune(), &request, approach, options)?;
        }
        None => super::nothing_there(&request, &args.choice),
    }
    Ok(super::exit_code(&ranking))
}

/// Writes the sheet of a ranking's winner, if there is one.
pub(super) fn of_winner(
    path: &Path,
    tune: &Tune,
    request: &Request,
    ranking: &Ranking,
    args: &args::Suggest,
) -> anyhow::Result<()> {
    let form = Form::of(path)?;
    let Some(approach) = ranking.adapted.as_ref().or(ranking.best()) else { return Ok(()) };
    let options = Options { bend_mark: args.notation.bend_mark.into(), ..Options::default() };
    let files = draw(path, form, tune, request, approach, options)?;
    save(&files)
}

fn write(
    path: &Path,
    form: Form,
    tune: &Tune,
    request: &Request,
    approach: &Approach,
    options: Options,
) -> anyhow::Result<()> {
    let files = draw(path, form, tune, request, approach, options)?;
    save(&files)?;
    let names: Vec<String> = files.iter().map(|(path, _)| format!("{}\n", path.display())).collect();
    message::answer(&names.concat())
}

/// What a file holds.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Pdf,
    Png,
    Svg,
}

impl Form {
    /// By the ending of its name.
    fn of(path: &Path) -> anyhow::Result<Form> {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
        Ok(match ending.as_deref() {
            Some("pdf") => Form::Pdf,
            Some("png") => Form::Png,
            Some("svg") => Form::Svg,
            _ => bail!("{}: a sheet's name ends in .pdf, .svg or .png", path.display()),
        })
    }
}

/// The files of a sheet with their contents.
fn draw(
    path: &Path,
    form: Form,
    tune: &Tune,
    request: &Request,
    approach: &Approach,
    options: Options,
) -> anyhow::Result<Vec<(PathBuf, Vec<u8>)>> {
    let sheet = Sheet::new(tune, request, approach, options);
    let pages = sheet.pages.len();
    let named = |page: usize| match pages {
        1 => path.to_owned(),
        _ => numbered(path, page + 1),
    };
    Ok(match form {
        Form::Pdf => vec![(path.to_owned(), pdf::write(&sheet)?)],
        Form::Svg => (0..pages).map(|page| (named(page), svg::document(&sheet, page).into_bytes())).collect(),
        Form::Png => (0..pages)
            .map(|page| Ok((named(page), png::write(&sheet, page)?)))
            .collect::<anyhow::Result<_>>()?,
    })
}

/// `tune-2.svg`.
fn numbered(path: &Path, number: usize) -> PathBuf {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!("{stem}-{number}.{ending}"))
}

fn save(files: &[(PathBuf, Vec<u8>)]) -> anyhow::Result<()> {
    for (path, bytes) in files {
        std::fs::write(path, bytes).with_context(|| path.display().to_string())?;
    }
    Ok(())
}

impl From<args::Paper> for sheet::Paper {
    fn from(paper: args::Paper) -> sheet::Paper {
        match paper {
            args::Paper::A4 => sheet::Paper::A4,
            args::Paper::Letter => sheet::Paper::Letter,
        }
    }
}

impl From<args::Size> for sheet::Size {
    fn from(size: args::Size) -> sheet::Size {
        match size {
            args::Size::Normal => sheet::Size::Normal,
            args::Size::Large => sheet::Size::Large,
        }
    }
}
