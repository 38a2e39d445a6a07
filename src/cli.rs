//! The commands. Only this module reads files, examines the terminal and prints.

mod args;
mod bag;
mod book;
mod check;
#[cfg(unix)]
mod closed;
mod export;
mod files;
mod install;
mod kit;
#[cfg(feature = "sheet")]
mod levels;
pub(crate) mod message;
mod mistake;
mod pins;
mod progress;
mod save;
#[cfg(feature = "sheet")]
mod sheet;
mod tunes;
mod viewer;

use std::{
    ffi::OsString,
    io::Read,
    iter,
    path::{Path, PathBuf},
    sync::Arc,
};

use anyhow::{Context, bail};
use breathline::{
    harp::{self, Harp, Tuning},
    import::{self, ImportError, ImportOptions, TuneChoice, TuneEntry},
    json, near,
    pages::{self, Page, Tune},
    question::{Changes, ReadTune, Said},
    render::{markdown, text},
    search::{self, Player, Ranking, Request, Style, Wanted, ways},
    tab,
};
use clap::{CommandFactory, FromArgMatches, error::ErrorKind};
use itertools::Itertools;

use args::{Cli, Command};
use message::Exit;
use mistake::Typed;
#[cfg(feature = "sheet")]
use save::Guard;

/// Runs the command that the arguments name.
pub(crate) fn run(arguments: impl Iterator<Item = OsString>) -> anyhow::Result<Exit> {
    // Without a handler, `SIGXFSZ` would end the program when a file grows beyond the system's limit. With a handler,
    // the write fails with an error instead.
    #[cfg(unix)]
    signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::default())?;
    let kit = kit::read();
    let defaults = kit.as_ref().cloned().unwrap_or_default();
    let command_line = defaults.defaults(Cli::command());
    let arguments: Vec<OsString> = arguments.collect();
    let typed = Typed::new(&command_line, &arguments);
    let matches = command_line.clone().try_get_matches_from(typed.mended(arguments));
    let Cli { command } = match matches.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        // Help and version are answers, not errors.
        Err(asked) if !asked.use_stderr() => {
            return message::answer(&asked.render().to_string()).map(|()| Exit::Answered);
        }
        Err(error) if error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            message::explain(&error.render().to_string());
            return Ok(Exit::Failed);
        }
        Err(error) => bail!(typed.explain(&error)),
    };
    typed.renamed().for_each(|hint| message::complain(&hint));
    // `completions` and `man` do not use the kit, so a faulty kit must not stop them.
    if !matches!(command, Command::Completions(_) | Command::Man(_)) {
        kit?.tell();
    }
    let (form, lists) = (Form::of(&command), matches!(command, Command::Notes(_)));
    // A word that names no file may be a part of a file's name, or the value of an option.
    if let files @ [_, _, ..] = files(&command).as_slice()
        && let Some(words) =
            files.iter().filter(|file| !file.exists()).find_map(|file| typed.stray(file.to_str()?))
    {
        bail!(words);
    }
    or_list(answer(command), &form, lists)
}

/// Returns the files of a command that takes several; an empty list for other commands.
fn files(command: &Command) -> Vec<&PathBuf> {
    match command {
        Command::Suggest(args) => iter::once(&args.source.file).chain(&args.more).collect(),
        Command::Notes(args) => iter::once(&args.source.file).chain(&args.more).collect(),
        Command::Book(args::Book { files, .. })
        | Command::Bag(args::Bag { files, .. })
        | Command::Set(args::Set { files, .. }) => files.iter().collect(),
        _ => Vec::new(),
    }
}

/// Lists the tunes of a file if the user must choose one: the tunes that match the user's choice, or else all tunes.
fn or_list(answered: anyhow::Result<Exit>, form: &Form, lists: bool) -> anyhow::Result<Exit> {
    let Err(error) = answered else { return answered };
    let Some(ImportError::SeveralTunes { asked, tunes }) = error.downcast_ref() else { return Err(error) };
    list_tunes(&error.to_string(), asked.as_ref(), tunes, form)?;
    // For `notes`, the list is the answer; the other commands still lack an answer.
    if lists { Ok(Exit::Answered) } else { Err(error) }
}

/// Answers for each file in turn, under the file's name; in JSON, each answer is one line without this heading. If one
/// file fails, breathline still answers for the files after it, but the exit code changes.
fn one_by_one(
    files: &[PathBuf],
    form: &Form,
    lists: bool,
    mut answer: impl FnMut(&Path) -> anyhow::Result<Exit>,
) -> anyhow::Result<Exit> {
    let mut exit = Exit::Answered;
    for (place, path) in files.iter().enumerate() {
        if let Form::Page(output) = form {
            show(&pages::file(&path.display().to_string(), place > 0), output)?;
        }
        match (or_list(answer(path), form, lists), form) {
            (Ok(Exit::Answered), _) => {}
            (Ok(other), _) => exit = if exit == Exit::Failed { exit } else { other },
            (Err(error), Form::Json) => {
                exit = message::failure(&error);
                let reason = error.root_cause().to_string();
                message::answer(&json::book::failure(&path.display().to_string(), &reason))?;
            }
            (Err(error), _) => exit = message::failure(&error),
        }
    }
    Ok(exit)
}

fn answer(command: Command) -> anyhow::Result<Exit> {
    match command {
        Command::Suggest(args) => suggest(args),
        Command::Tab(args) => tab(&args),
        Command::Check(args) => check::check(&args),
        Command::Export(args) => export::export(args),
        #[cfg(feature = "sheet")]
        Command::Sheet(args) if args.levels => levels::run(&args),
        #[cfg(feature = "sheet")]
        Command::Sheet(args) => sheet::run(&args),
        Command::Bag(args) => bag::bag(&args),
        Command::Set(args) => bag::set(&args),
        Command::Book(args) => book::book(&args),
        Command::Notes(args) => notes(args),
        Command::Positions(args) => positions(&args),
        Command::Harp(args) => draw_harp(&args),
        Command::Kit(args) => kit::run(&args),
        Command::Completions(args) => install::completions(&args),
        Command::Man(args) => install::man(&args),
    }
}

/// The format of the answer.
enum Form {
    Json,
    Page(args::Output),
    /// Plain lines, for a command that writes its answer to a file.
    Lines,
}

impl Form {
    fn of(command: &Command) -> Form {
        let (json, output) = match command {
            Command::Suggest(args::Suggest { output, .. })
            | Command::Tab(args::Tab { output, .. })
            | Command::Check(args::Check { output, .. })
            | Command::Bag(args::Bag { output, .. })
            | Command::Set(args::Set { output, .. })
            | Command::Book(args::Book { output, .. })
            | Command::Notes(args::Notes { output, .. })
            | Command::Positions(args::Positions { output, .. })
            | Command::Kit(args::Kit { output, .. })
            | Command::Harp(args::Harp { output, .. }) => (output.json, Some(output)),
            Command::Export(export) => (export.json, None),
            #[cfg(feature = "sheet")]
            Command::Sheet(sheet) => (sheet.json, None),
            Command::Completions(_) | Command::Man(_) => (false, None),
        };
        Form::with(json, output)
    }

    fn with(json: bool, output: Option<&args::Output>) -> Form {
        match output {
            _ if json => Form::Json,
            Some(output) => Form::Page(output.clone()),
            None => Form::Lines,
        }
    }
}

/// Lists the tunes of a file that has several.
fn list_tunes(
    name: &str,
    asked: Option<&TuneChoice>,
    tunes: &[TuneEntry],
    form: &Form,
) -> anyhow::Result<()> {
    let page = || pages::tunes::page(name, asked, tunes);
    match form {
        Form::Json => message::answer(&json::tunes(tunes)),
        Form::Page(output) => show(&page(), output),
        Form::Lines => message::answer(&text::render(&page(), text::Look { width: 80, colour: false })),
    }
}

fn suggest(mut args: args::Suggest) -> anyhow::Result<Exit> {
    if args.more.is_empty() {
        return suggest_one(&args, message::answer);
    }
    #[cfg(feature = "sheet")]
    if args.sheet.is_some() {
        bail!("--output takes one tune; leave out the others");
    }
    let (files, form) = (args.all_files(), Form::with(args.output.json, Some(&args.output)));
    one_by_one(&files, &form, false, |path| {
        args.source.file = path.to_owned();
        suggest_one(&args, |json| message::answer(&json::in_a_line(json)))
    })
}

/// Answers for one file; `print` writes an answer in JSON.
fn suggest_one(args: &args::Suggest, print: impl Fn(&str) -> anyhow::Result<()>) -> anyhow::Result<Exit> {
    let (player, harps) = tries(&args.player, &args.tries)?;
    let style: Style = args.tries.style.into();
    let read = pinned(open(&args.source, &player)?, &args.pins, &args.source)?;
    let request = read.request(&player, &harps, args.tries.any_key);
    let top = args.top.map_or(5, usize::from);
    let region = args.register.map(Into::into);
    let wanted = Wanted {
        position: args.position,
        region,
        every_note: args.every_note,
        own_key: args.own_key,
        ..Wanted::first(top)
    };
    #[cfg(feature = "sheet")]
    let rows = if args.sheet.is_some() { top.max(pages::practice::ROWS) } else { top };
    #[cfg(not(feature = "sheet"))]
    let rows = top;
    // On a page, one row covers all harps with the same tab, and names these harps.
    let twins = !args.output.json && request.may_share_tabs();
    let changes = match (args.adapt, args.as_written) {
        (true, _) => Changes::AsNeeded,
        (false, false) => Changes::AFew,
        (false, true) => Changes::None,
    };
    let rows = Wanted { top: rows, twins, ..wanted };
    let (request, ranking) =
        progress::shown("trying the harps", || read.rank(&request, &rows, top, (changes, &player)));
    if ranking.best().is_none()
        && !args.output.json
        && let Some(why) = pages::pins::nowhere(&request, &wanted)
    {
        message::complain(&why);
        return Ok(Exit::NothingPlayable);
    }
    if ranking.best().is_some() {
        pins::keep(&args.pins, &args.source, &read.tune())?;
    }
    if ranking.best().is_none()
        && !args.output.json
        && search::search_for(&request, &Wanted::first(1)).best().is_some()
    {
        let asked = [("--position", args.position.is_some()), ("--register", args.register.is_some())];
        let asked: Vec<&str> = asked.into_iter().filter(|asked| asked.1).map(|asked| asked.0).collect();
        let asked = asked.join(" and ");
        message::complain(&format!(
            "with these options, no harp plays a note of the tune; change {asked}, or --harps"
        ));
        return Ok(Exit::NothingPlayable);
    }
    #[cfg(feature = "sheet")]
    if let Some(path) = &args.sheet {
        let notation = (&args.notation).into();
        let found = sheet::Found { tune: &read.tune(), request: &request, ranking: &ranking, notation };
        let guard = Guard::new(&args.source, &args.player, args.force);
        sheet::of_ranking(path, found, &guard)?.filter(|_| args.open).inspect(|path| viewer::open(path));
    }
    if args.output.json {
        print(&json::suggest(&read.tune(), &player.name, &request, &ranking, top, style))?;
    } else {
        let options = pages::suggest::Options {
            ranking: (args.ranking || args.top.is_some() || args.tempo_range).then_some(top),
            tempo_range: args.tempo_range,
            why: args.why,
            style,
            notation: (&args.notation).into(),
        };
        show(&pages::suggest::page(&read.tune(), &request, &ranking, options), &args.output)?;
    }
    Ok(exit_code(&ranking))
}

/// Returns the player, with the prices of the style, and the harps to try.
fn tries(player: &args::Player, tries: &args::Tries) -> anyhow::Result<(Player, Vec<Harp>)> {
    let tunings = tunings(&player.tuning_file)?;
    let mut player = self::player(player)?;
    player.weights = Style::from(tries.style).weights(&player.weights);
    Ok((player, kit::harps(&tries.harps, &tries.tunings, &tunings)?))
}

fn tab(args: &args::Tab) -> anyhow::Result<Exit> {
    let bytes = source_bytes(&args.on_harp.source)?;
    if is_tab(&bytes) && args.on_harp.source.notes.is_none() {
        return check::typed(args, &bytes);
    }
    with_choice(&args.on_harp, args.output.json, &bytes, |tune, player, request, ranking| {
        if args.output.json {
            message::answer(&json::tab(tune, &player.name, request, ranking))
        } else {
            let notation = (&args.on_harp.notation).into();
            show(&pages::suggest::tab_page(tune, request, ranking, notation, args.why), &args.output)
        }
    })
}

/// Finds the best approach on the chosen harp and passes it to `answer`. If this harp plays no note of the tune there,
/// explains why, except in JSON.
fn with_choice(
    args: &args::OnHarp,
    json: bool,
    bytes: &[u8],
    answer: impl FnOnce(&Tune, &Player, &Request, &Ranking) -> anyhow::Result<()>,
) -> anyhow::Result<Exit> {
    let player = player(&args.choice.player)?;
    let read = pinned(read_tune(&args.source, bytes, &player)?, &args.choice.pins, &args.source)?;
    let tunings = tunings(&args.choice.player.tuning_file)?;
    let harps = [kit::harp(&args.harp, &tunings)?];
    let request = read.request(&player, &harps, args.choice.position.is_some());
    let ranking = choose(&request, &args.choice, &player, 1);
    if ranking.best().is_some() {
        pins::keep(&args.choice.pins, &args.source, &read.tune())?;
    }
    if json || ranking.best().is_some() {
        answer(&read.tune(), &player, &request, &ranking)?;
    } else {
        nothing_there(&request, &args.choice);
    }
    Ok(exit_code(&ranking))
}

/// Returns the best approaches that fit the user's choice.
fn choose<'a>(request: &Request<'a>, choice: &args::Choice, player: &Player, top: usize) -> Ranking<'a> {
    // If there is only one harp to try, no note that can be played is left out.
    let every_note = request.harps.len() == 1;
    let wanted =
        Wanted { position: choice.position, octave: choice.octave, every_note, ..Wanted::first(top) };
    progress::shown("trying the harps", || {
        let mut ranking = search::search_for(request, &wanted);
        ranking.compare_with_free(request, &wanted);
        if every_note && choice.octave.is_none() && !choice.adapt {
            let easier = ranking.best().and_then(|best| ways::easier_octave(request, &wanted, best));
            ranking.easier = easier;
        }
        if choice.adapt {
            ranking.adapt(request, &player.edits);
        }
        ranking
    })
}

/// Explains to the user why there is no answer.
fn nothing_there(request: &Request, choice: &args::Choice) {
    let Some(harp) = request.harps.first() else { return };
    let wanted = Wanted { position: choice.position, octave: choice.octave, ..Wanted::ALL };
    if let Some(why) = pages::pins::nowhere(request, &wanted) {
        return message::complain(&why);
    }
    let in_any_octave = search::search_for(request, &Wanted { position: choice.position, ..Wanted::ALL });
    let octaves = in_any_octave.approaches.iter().map(|approach| approach.octave);
    message::complain(&match octaves.minmax().into_option() {
        Some((first, last)) => {
            format!(
                "the {harp} harp has no note of the tune in this octave; write --octave with a number from \
                 {first} to {last}"
            )
        }
        None => format!("the {harp} harp does not have a single note of the tune; try another harp"),
    });
}

fn notes(mut args: args::Notes) -> anyhow::Result<Exit> {
    if args.more.is_empty() {
        return notes_of_one(&args, message::answer);
    }
    let (files, form) = (args.all_files(), Form::with(args.output.json, Some(&args.output)));
    one_by_one(&files, &form, true, |path| {
        args.source.file = path.to_owned();
        notes_of_one(&args, |json| message::answer(&json::in_a_line(json)))
    })
}

/// Shows the tune as read from one file; `print` writes an answer in JSON.
fn notes_of_one(args: &args::Notes, print: impl Fn(&str) -> anyhow::Result<()>) -> anyhow::Result<Exit> {
    // `notes` has no player, so no player slows an estimated tempo down.
    let read = open(&args.source, &Player { tempo_percent: 100, ..Player::default() })?;
    if args.output.json {
        print(&json::notes(&read.tune()))?;
    } else {
        show(&pages::notes::page(&read.tune(), args.all_parts), &args.output)?;
    }
    Ok(Exit::Answered)
}

fn positions(args: &args::Positions) -> anyhow::Result<Exit> {
    // Without a harp, only the tuning is used, so a harp of any key will do.
    let harp = named_harp(args.harp.as_deref().unwrap_or("C"), &args.tuning)?;
    let tuning = harp.tuning();
    let key = args.harp.is_some().then(|| harp.key());
    let song = args.song.or(args.key);
    let (song_key, song_mode) = (song.map(|song| song.tonic), song.and_then(|song| song.mode));
    let query = pages::positions::Query {
        harp: key,
        position: args.position,
        song_key,
        song_mode,
        feel: args.style.map(Into::into),
    };
    if args.style.is_some() && key.is_none() && song_key.is_none() {
        bail!(
            "--style needs a key or a harp: write --key E to find the harp, or --harp C to find the position"
        );
    }
    let matches = pages::positions::matches(query, tuning);
    if let (true, Some(position)) = (matches.is_empty(), args.position) {
        let tonic = position.tonic(harp.first_position_key());
        bail!(
            "the {harp} harp in {position} position plays in {tonic}; leave out the harp, the position or the key"
        );
    }
    let notation = (&args.notation).into();
    if args.output.json {
        message::answer(&json::positions(query, &matches, notation))?;
    } else {
        show(&pages::positions::page(query, tuning, notation), &args.output)?;
    }
    Ok(Exit::Answered)
}

fn draw_harp(args: &args::Harp) -> anyhow::Result<Exit> {
    let harp = named_harp(&args.harp, &args.tuning)?;
    let technique: harp::Technique = args.bends.into();
    if args.chords && args.output.json {
        message::answer(&json::chords(&harp))?;
    } else if args.chords {
        show(&pages::chords::page(&harp), &args.output)?;
    } else if args.output.json {
        message::answer(&json::harp(&harp, technique))?;
    } else {
        show(&pages::harp::page(&harp, technique), &args.output)?;
    }
    Ok(Exit::Answered)
}

fn exit_code(ranking: &Ranking) -> Exit {
    if ranking.best().is_some() { Exit::Answered } else { Exit::NothingPlayable }
}

fn show(page: &Page, output: &args::Output) -> anyhow::Result<()> {
    let width = usize::from(output.width);
    message::answer(&match output.format {
        args::Format::Text => {
            text::render(page, text::Look { width, colour: message::is_colourful(output.color) })
        }
        args::Format::Markdown => markdown::render(page, width),
    })
}

/// Reads the tune that the user names.
fn open(source: &args::Source, player: &Player) -> anyhow::Result<ReadTune> {
    read_tune(source, &source_bytes(source)?, player)
}

fn read_tune(source: &args::Source, bytes: &[u8], player: &Player) -> anyhow::Result<ReadTune> {
    let args::Source { tune, part, voice, unfold, .. } = source;
    let options = ImportOptions { tune: tune.clone(), part: part.clone(), voice: *voice, unfold: *unfold };
    let imported = match &source.notes {
        Some(notes) => import::import_notes(notes, &options),
        None => import::import(bytes, &options),
    };
    let imported = imported
        .map_err(|error| match remedy(&error, bytes) {
            _ if source.notes.is_none() && is_tab(bytes) && has_tab(bytes) => anyhow::Error::msg(format!(
                "this is not a tune; if it is typed tab, `breathline tab {} --harp C` reads it",
                source.file.display()
            )),
            remedy if remedy.is_empty() => anyhow::Error::new(error),
            remedy => anyhow::Error::msg(format!("{error}{remedy}")),
        })
        .with_context(|| match source.notes {
            Some(_) => "--notes".to_owned(),
            None => source.file.display().to_string(),
        })?;
    let name = match imported.format {
        import::Format::Typed if source.file.as_os_str() == "-" => "Typed notes".to_owned(),
        _ => name_of(&source.file),
    };
    Ok(ReadTune::new(name, imported, player, Said { key: source.key, tempo: source.tempo }))
}

/// Adds the pinned holes.
fn pinned(mut read: ReadTune, args: &args::Pins, source: &args::Source) -> anyhow::Result<ReadTune> {
    read.pins = pins::read(args, source, &read.imported.melody)?;
    Ok(read)
}

/// Returns the command's advice for an error. The library cannot give this advice, because it does not know the
/// command's options.
fn remedy(error: &ImportError, bytes: &[u8]) -> String {
    if let ImportError::NoSuchTune { asked: TuneChoice::Title(asked), .. } = error
        && let Some(meant) = near_title(asked, bytes)
    {
        return format!("; write --tune {meant}");
    }
    let remedy = match error {
        ImportError::NoSuchPart { .. } => "; `breathline notes FILE` lists the parts",
        ImportError::NoSuchTune { tunes: 2.., .. } => "; `breathline notes FILE` lists them",
        ImportError::NoSuchVoice { voices: 1, .. } => "; leave out --voice",
        ImportError::NoSuchVoice { .. } => "; name one of them or leave out --voice",
        _ => "",
    };
    remedy.to_owned()
}

/// Returns the number of the tune whose title, or a word of that title, is nearest to the requested title.
fn near_title(asked: &str, bytes: &[u8]) -> Option<TuneChoice> {
    let book = import::Book::open(bytes).ok()?;
    let titles = book.tunes().iter().filter_map(|tune| Some((tune, tune.title.as_deref()?)));
    let words: Vec<(&TuneEntry, &str)> = titles
        .flat_map(|(tune, title)| title.split(' ').chain([title]).map(move |word| (tune, word)))
        .collect();
    let nearest = near::nearest(asked, words.iter().map(|(_, word)| *word).filter(|word| word.len() > 2))?;
    words.iter().find(|(_, word)| *word == nearest).map(|(tune, _)| tune.choice())
}

/// Returns the name for a tune: its file's name without the ending, or a general name for standard input.
fn name_of(path: &Path) -> String {
    match path.file_stem() {
        _ if path.as_os_str() == "-" => "Untitled".to_owned(),
        stem => stem.map_or_else(String::new, |stem| stem.to_string_lossy().into_owned()),
    }
}

/// Returns the bytes of a tune, from its file or from its typed notes.
fn source_bytes(source: &args::Source) -> anyhow::Result<Vec<u8>> {
    match &source.notes {
        Some(notes) => Ok(notes.clone().into_bytes()),
        None => read_bytes(&source.file),
    }
}

/// Returns the bytes of a file, or of standard input for `-`. Reads at most one byte more than the import accepts, so
/// that the import refuses a larger file.
fn read_bytes(path: &Path) -> anyhow::Result<Vec<u8>> {
    let limit = import::MAX_BYTES as u64 + 1;
    if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        std::io::stdin().lock().take(limit).read_to_end(&mut bytes).context("standard input")?;
        return Ok(bytes);
    }
    if path.is_dir() {
        let folder = path.display();
        bail!(
            "{folder}: this is a folder; name a file in it, or look at all of them: `breathline book {folder}`"
        );
    }
    files::read(path, limit)
}

/// Whether the bytes are a typed tab rather than a tune.
fn is_tab(bytes: &[u8]) -> bool {
    !import::is_known(bytes) && tab::read::is_text(bytes)
}

/// Whether a text contains notes of tab.
fn has_tab(text: &[u8]) -> bool {
    tab::read::read(&tab::read::decode(text), None).is_ok_and(|text| !text.notes.is_empty())
}

/// Returns the player that the user named or described in a file, with the technique of `--bends` if it is given.
fn player(args: &args::Player) -> anyhow::Result<Player> {
    let mut player = match Player::find(&args.player) {
        Some(known) => known.clone(),
        None => {
            let names = || Player::built_in().iter().map(|player| player.name.as_str());
            if let Some(meant) = near::nearest(&args.player, names())
                && !Path::new(&args.player).exists()
            {
                bail!("there is no player `{}`; write --player {meant}", args.player);
            }
            let text = files::read_text(Path::new(&args.player)).with_context(|| {
                let known = names().join(", ");
                format!("`{}` is neither a player ({known}) nor a file that can be read", args.player)
            })?;
            Player::parse(&text).with_context(|| args.player.clone())?
        }
    };
    if let Some(technique) = args.bends {
        player.technique = technique.into();
    }
    Ok(player)
}

/// Returns the user's tunings and the built-in tunings. A user's tuning replaces a built-in tuning of the same name.
fn tunings(files: &[PathBuf]) -> anyhow::Result<Vec<Arc<Tuning>>> {
    let mut tunings = Vec::new();
    for path in files {
        let text = files::read_text(path)?;
        tunings.push(Arc::new(Tuning::parse(&text).with_context(|| path.display().to_string())?));
    }
    tunings.extend(Tuning::built_in().iter().cloned());
    Ok(tunings)
}

/// Returns the harp with a name. Its tuning is the one in the name or the one of `--tuning`; without both, the first of
/// the user's files, and without such files, the tuning that the name implies.
fn named_harp(name: &str, choice: &args::TuningChoice) -> anyhow::Result<Harp> {
    let tunings = tunings(&choice.tuning_file)?;
    let tuning = match (&choice.tuning, choice.tuning_file.as_slice()) {
        (Some(_), _) if name.contains(':') => bail!("`{name}` already names a tuning; leave out --tuning"),
        (Some(tuning), _) => tuning,
        // The user's own tunings come first in the list.
        (None, [_, ..]) if !name.contains(':') => tunings[0].name(),
        (None, _) => return kit::harp(name, &tunings),
    };
    kit::harp(&format!("{name}:{tuning}"), &tunings)
}
