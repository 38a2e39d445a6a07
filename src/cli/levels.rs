//! `breathline sheet --levels`: the tune at several levels, a page for each harp of a class.

use anyhow::bail;
use breathline::{
    harp::{Harp, Technique},
    json,
    question::{Changes, ReadTune},
    search::{self, Level, Player, Request, Wanted},
    sheet::Sheet,
};

use super::{
    args, kit, message,
    message::Exit,
    progress,
    save::Guard,
    sheet::{self, Form},
    viewer,
};

/// Runs the command.
pub(super) fn run(args: &args::Sheet) -> anyhow::Result<Exit> {
    let form = Form::of(&args.output)?;
    if form == Form::Html {
        bail!("{}: a sheet with --levels is for paper; name a .pdf, .svg or .png", args.output.display());
    }
    let mut player = super::player(&args.choice.player)?;
    let read = super::pinned(super::open(&args.source, &player)?, &args.choice.pins, &args.source)?;
    if !read.pins.is_empty() {
        bail!("a sheet with --levels cannot keep pinned holes; add --free to leave them out");
    }
    let harps = harps(args, &read, &player)?;
    player.technique = args.choice.player.bends.map_or(Technique::Over, Into::into);
    let all = read.request(&player, &harps, args.choice.position.is_some());
    let wanted = Wanted { position: args.choice.position, octave: args.choice.octave, ..Wanted::first(1) };
    let found: Vec<(Request, Vec<Level>)> = progress::shown("trying the levels", || {
        let each = harps.iter().map(|harp| Request { harps: std::slice::from_ref(harp), ..all.clone() });
        each.map(|request| (request.clone(), search::levels(&request, &wanted, &player.edits))).collect()
    });
    for (request, _) in found.iter().filter(|(_, levels)| levels.is_empty()) {
        super::nothing_there(request, &args.choice);
    }
    let (tune, names) = (read.tune(), draw(args, form, &read, &found)?);
    if args.json {
        let levels: Vec<Vec<Level>> = found.into_iter().map(|(_, levels)| levels).collect();
        message::answer(&json::levels(&tune, &player.name, &all, &levels, &names))?;
    } else {
        names.iter().try_for_each(|name| message::say(name))?;
    }
    Ok(if names.is_empty() { Exit::NothingPlayable } else { Exit::Answered })
}

/// Returns the harps that the user named, or else the harp of the best approach.
fn harps(args: &args::Sheet, read: &ReadTune, player: &Player) -> anyhow::Result<Vec<Harp>> {
    let tunings = super::tunings(&args.choice.player.tuning_file)?;
    if !args.harp.is_empty() {
        return kit::harps(&args.harp, &[], &tunings);
    }
    let own = kit::harps(&[], &[], &tunings)?;
    let request = read.request(player, &own, false);
    let best = match args.choice {
        args::Choice { position: None, octave: None, .. } => {
            let (_, ranking) = read.rank(&request, &Wanted::first(1), 1, (Changes::None, player));
            ranking.best().map(|best| best.harp.clone())
        }
        _ => super::choose(&request, &args.choice, player, 1).best().map(|best| best.harp.clone()),
    };
    // If there is no best approach, this returns the first harp, and the caller explains why that harp gives no answer.
    Ok(best.or(own.into_iter().next()).into_iter().collect())
}

/// Writes the sheet and returns the names of its files.
fn draw(
    args: &args::Sheet,
    form: Form,
    read: &ReadTune,
    found: &[(Request, Vec<Level>)],
) -> anyhow::Result<Vec<String>> {
    let drawn = || Sheet::levels(&read.tune(), found, sheet::options(args));
    let sheet = progress::shown("drawing the sheet", drawn);
    let Some(sheet) = sheet else { return Ok(Vec::new()) };
    let files = sheet::contents(&args.output, form, &sheet, String::new)?;
    sheet::save(&args.output, form, &files, &Guard::new(&args.source, &args.choice.player, args.force))?;
    files.iter().take(1).filter(|_| args.open).for_each(|(path, _)| viewer::open(path));
    Ok(files.iter().map(|(path, _)| path.display().to_string()).collect())
}
