//! `breathline sheet`, and the sheets of `suggest` and `check`: draws and writes the files.

use std::{
    ffi::OsString,
    path::{Path, PathBuf},
};

use anyhow::bail;
use breathline::{
    json,
    pages::{Tune, comparison::Comparison, practice, suggest},
    question::Changes,
    render::html,
    search::{Ranking, Request, Wanted},
    sheet::{self, Options, Sheet, screen, svg},
    tab::{BendMark, Notation},
};

#[cfg(feature = "paper")]
use {
    breathline::sheet::{pdf, png},
    rayon::prelude::*,
};

use super::{
    args, kit, message,
    message::Exit,
    pins, progress,
    save::{self, Guard},
    viewer,
};

/// The number of pictures that are painted at once; each takes 20 MB while it is painted.
#[cfg(feature = "paper")]
const AT_ONCE: usize = 4;

/// Runs the command.
pub(super) fn run(args: &args::Sheet) -> anyhow::Result<Exit> {
    let form = Form::of(&args.output)?;
    if args.look.tab_only && form == Form::Html {
        bail!(
            "a page to practise from always has the staff: leave out --tab-only, or write a .pdf, .svg or .png"
        );
    }
    let player = super::player(&args.choice.player)?;
    let read = super::pinned(super::open(&args.source, &player)?, &args.choice.pins, &args.source)?;
    let tunings = super::tunings(&args.choice.player.tuning_file)?;
    let harps = match args.harp.as_slice() {
        [] => kit::harps(&[], &[], &tunings)?,
        [name] => vec![kit::harp(name, &tunings)?],
        [first, ..] => {
            bail!("a sheet is for one harp: write --harp {first}, or add --levels for a page for each harp")
        }
    };
    let mut request = read.request(&player, &harps, args.choice.position.is_some());
    // Without a harp, the position chooses a harp. With a harp, the tune is transposed to the position.
    request.any_key &= !args.harp.is_empty();
    // The page to practise from shows the next approaches beside the best.
    let rows = if form == Form::Html { practice::ROWS } else { 1 };
    let (request, ranking) = match (args.harp.as_slice(), &args.choice) {
        // The sheet shows the same best approach as `suggest`.
        ([], args::Choice { position: None, octave: None, adapt: false, .. }) => {
            read.rank(&request, &Wanted::first(rows), rows, (Changes::AFew, &player))
        }
        _ => {
            let ranking = super::choose(&request, &args.choice, &player, rows);
            (request, ranking)
        }
    };
    let tune = read.tune();
    let mut names = Vec::new();
    if ranking.best().is_some() {
        pins::keep(&args.choice.pins, &args.source, &tune)?;
        let options = options(args);
        let notation = Notation { bend_mark: args.bend_mark.into(), ..Notation::default() };
        let found = Found { tune: &tune, request: &request, ranking: &ranking, notation };
        let files = draw(&args.output, form, found, options)?;
        let guard = Guard::new(&args.source, &args.choice.player, args.force);
        save(&args.output, form, &files, &guard)?;
        files.iter().take(1).filter(|_| args.open).for_each(|(path, _)| viewer::open(path));
        names.extend(files.iter().map(|(path, _)| path.display().to_string()));
        if !args.json
            && let Some(easier) = suggest::easier_octave(&request, &ranking)
        {
            message::complain(&easier);
        }
    } else if !args.json {
        super::nothing_there(&request, &args.choice);
    }
    if args.json {
        message::answer(&json::sheet(&tune, &player.name, &request, &ranking, &names))?;
    } else {
        names.iter().try_for_each(|name| message::say(name))?;
    }
    Ok(super::exit_code(&ranking))
}

/// Returns the options of the requested sheet.
pub(super) fn options(args: &args::Sheet) -> Options {
    let args::SheetLook { paper, size, tab_only } = args.look;
    Options { paper: paper.into(), size: size.into(), tab_only, bend_mark: args.bend_mark.into() }
}

/// The search result for the sheet.
#[derive(Clone, Copy)]
pub(super) struct Found<'a> {
    pub(super) tune: &'a Tune<'a>,
    pub(super) request: &'a Request<'a>,
    pub(super) ranking: &'a Ranking<'a>,
    pub(super) notation: Notation,
}

/// Writes the sheet of a ranking's winner, or the page of its first rows. Returns the first file; for a ranking without
/// rows, writes and returns nothing.
pub(super) fn of_ranking(path: &Path, found: Found, guard: &Guard) -> anyhow::Result<Option<PathBuf>> {
    let form = Form::of(path)?;
    save_and_name(path, form, &draw(path, form, found, Options::default())?, guard)
}

/// Writes the sheet or the page of a check. Returns the first file; for the tab of another tune, writes and returns
/// nothing.
pub(super) fn of_check(
    path: &Path,
    tune: &Tune,
    request: &Request,
    comparison: &Comparison,
    bend_mark: BendMark,
    guard: &Guard,
) -> anyhow::Result<Option<PathBuf>> {
    let form = Form::of(path)?;
    let Some(sheet) = Sheet::compared(tune, request, comparison, Options { bend_mark, ..Options::default() })
    else {
        message::complain(&format!("{} is not written, because the tab is of another tune", path.display()));
        return Ok(None);
    };
    let page = || html::check(comparison, &screen::compared(tune, request, comparison, bend_mark));
    save_and_name(path, form, &contents(path, form, &sheet, page)?, guard)
}

/// The format of a file.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Html,
    #[cfg(feature = "paper")]
    Pdf,
    #[cfg(feature = "paper")]
    Png,
    Svg,
}

impl Form {
    /// Chooses the format by the ending of the file's name.
    pub(super) fn of(path: &Path) -> anyhow::Result<Form> {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
        Ok(match ending.as_deref() {
            Some("html" | "htm") => Form::Html,
            #[cfg(feature = "paper")]
            Some("pdf") => Form::Pdf,
            #[cfg(feature = "paper")]
            Some("png") => Form::Png,
            #[cfg(not(feature = "paper"))]
            Some("pdf" | "png") => bail!(
                "{}: this breathline is built without PDF and PNG; name a .html or .svg, and print it from a browser",
                path.display()
            ),
            Some("svg") => Form::Svg,
            Some("musicxml" | "xml" | "mxl" | "mid" | "midi" | "abc") => {
                bail!(
                    "{}: `breathline export` writes these formats; a sheet's name ends in .html, .pdf, .svg or .png",
                    path.display()
                )
            }
            _ => bail!("{}: a sheet's name ends in .html, .pdf, .svg or .png", path.display()),
        })
    }

    fn is_one_page_a_file(self) -> bool {
        match self {
            Form::Html => false,
            #[cfg(feature = "paper")]
            Form::Pdf => false,
            #[cfg(feature = "paper")]
            Form::Png => true,
            Form::Svg => true,
        }
    }
}

/// Returns the files of a sheet with their contents.
fn draw(path: &Path, form: Form, found: Found, options: Options) -> anyhow::Result<Vec<(PathBuf, Vec<u8>)>> {
    let Found { tune, request, ranking, notation } = found;
    let Some(approach) = ranking.adapted.as_ref().or(ranking.best()) else { return Ok(Vec::new()) };
    let options = Options { bend_mark: notation.bend_mark, ..options };
    progress::shown("drawing the sheet", || {
        let sheet = Sheet::new(tune, request, approach, options);
        contents(path, form, &sheet, || page(found))
    })
}

/// Returns the files of a drawn sheet, or the single file of the page.
pub(super) fn contents(
    path: &Path,
    form: Form,
    sheet: &Sheet,
    page: impl FnOnce() -> String,
) -> anyhow::Result<Vec<(PathBuf, Vec<u8>)>> {
    let pages = sheet.pages.len();
    let named = |page: usize| match pages {
        1 => path.to_owned(),
        _ => numbered(path, page + 1),
    };
    Ok(match form {
        Form::Html => vec![(path.to_owned(), page().into_bytes())],
        #[cfg(feature = "paper")]
        Form::Pdf => vec![(path.to_owned(), pdf::write(sheet)?)],
        Form::Svg => (0..pages).map(|page| (named(page), svg::document(sheet, page).into_bytes())).collect(),
        #[cfg(feature = "paper")]
        Form::Png => {
            let mut pictures = Vec::with_capacity(pages);
            for first in (0..pages).step_by(AT_ONCE) {
                let some = (first..pages.min(first + AT_ONCE)).into_par_iter();
                let drawn = some.map(|page| Ok((named(page), png::write(sheet, page)?)));
                pictures.append(&mut drawn.collect::<anyhow::Result<_>>()?);
            }
            pictures
        }
    })
}

/// Draws the page to practise from: the first rows of the ranking, each with its sheet.
fn page(Found { tune, request, ranking, notation }: Found) -> String {
    let page = practice::practice(tune, request, ranking, notation);
    let sheets = screen::sheets(tune, request, &practice::shown(ranking), notation.bend_mark);
    html::render(&page, &sheets)
}

/// Saves the files that accompany an answer on stdout. If the sheet has several pages, their names differ from the
/// requested name, so a line on stderr gives them. Returns the first path.
fn save_and_name(
    path: &Path,
    form: Form,
    files: &[(PathBuf, Vec<u8>)],
    guard: &Guard,
) -> anyhow::Result<Option<PathBuf>> {
    save(path, form, files, guard)?;
    if let [(first, _), .., (last, _)] = files {
        let (first, last) = (first.display(), last.display());
        message::complain(&format!("the sheet has {} pages, {first} to {last}", files.len()));
    }
    Ok(files.first().map(|(path, _)| path.clone()))
}

pub(super) fn save(
    path: &Path,
    form: Form,
    files: &[(PathBuf, Vec<u8>)],
    guard: &Guard,
) -> anyhow::Result<()> {
    save::save(files, guard)?;
    if form.is_one_page_a_file() && !files.is_empty() {
        name_leftovers(path, files.len());
    }
    Ok(())
}

/// Names the files of an earlier sheet that this sheet did not replace.
fn name_leftovers(path: &Path, pages: usize) {
    let beyond = (if pages == 1 { 1 } else { pages + 1 }..).map(|page| numbered(path, page));
    let whole = Some(path.to_owned()).filter(|path| pages > 1 && path.is_file());
    let left = beyond.take_while(|page| page.is_file()).chain(whole);
    let names: Vec<String> = left
        .filter(|page| save::is_ours(page).unwrap_or(false))
        .map(|page| page.display().to_string())
        .collect();
    match names.as_slice() {
        [] => {}
        [only] => message::complain(&format!("{only} is left from an earlier sheet; delete it")),
        [first, .., last] => {
            message::complain(&format!(
                "{} files are left from an earlier sheet; delete {first} to {last}",
                names.len()
            ));
        }
    }
}

/// Returns a numbered name: `tune-2.svg`.
fn numbered(path: &Path, number: usize) -> PathBuf {
    let mut name = path.file_stem().map(OsString::from).unwrap_or_default();
    name.push(format!("-{number}."));
    name.push(path.extension().unwrap_or_default());
    path.with_file_name(name)
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
            args::Size::Fill => sheet::Size::Fill,
        }
    }
}
