//! The commands: the only place that reads files, asks about the terminal and prints.

mod args;
mod bag;
mod book;
mod check;
mod export;
mod files;
mod kit;
pub(crate) mod message;
mod pins;
mod save;
#[cfg(feature = "sheet")]
mod sheet;
mod tunes;

use std::{
    ffi::OsString,
    io::Read,
    path::{Path, PathBuf},
    sync::Arc,
};

use anyhow::{Context, bail};
use breathline::{
    harp::{self, Harp, Tuning},
    import::{self, ImportError, ImportOptions, TuneChoice, TuneEntry},
    json,
    pages::{self, Page, Tune},
    question::{Changes, ReadTune, Said},
    render::{markdown, text},
    search::{self, Player, Ranking, Request, Style, Wanted},
    tab,
};
use clap::{CommandFactory, FromArgMatches};
use itertools::Itertools;

use args::{Cli, Command};
use message::Exit;
#[cfg(feature = "sheet")]
use save::Guard;

/// Runs the command that the arguments name.
pub(crate) fn run(arguments: impl Iterator<Item = OsString>) -> anyhow::Result<Exit> {
    // Without a handler, this signal ends the program where a file grows over the system's limit; with one, writing fails.
    #[cfg(unix)]
    signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::default())?;
    let kit = kit::read();
    let defaults = kit.as_ref().cloned().unwrap_or_default();
    let matches = defaults.defaults(Cli::command()).try_get_matches_from(arguments);
    let Cli { command } = match matches.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        // Help and version are answers, and an argument that clap rejects is a failure; clap words all three.
        Err(asked) if !asked.use_stderr() => {
            return message::answer(&asked.render().to_string()).map(|()| Exit::Answered);
        }
        Err(error) => {
            message::explain(&error.render().to_string());
            return Ok(Exit::Failed);
        }
    };
    kit?.tell();
    let (form, lists) = (Form::of(&command), matches!(command, Command::Notes(_)));
    match answer(command) {
        Err(error) => match error.downcast_ref() {
            Some(ImportError::SeveralTunes { asked, tunes }) => {
                list_tunes(&error.to_string(), asked.as_ref(), tunes, &form)?;
                // The list is what `notes` was asked for; the other commands have no answer yet.
                if lists { Ok(Exit::Answered) } else { Err(error) }
            }
            _ => Err(error),
        },
        answered => answered,
    }
}

fn answer(command: Command) -> anyhow::Result<Exit> {
    match command {
        Command::Suggest(args) => suggest(&args),
        Command::Tab(args) => tab(&args),
        Command::Check(args) => check::check(&args),
        Command::Export(args) => export::export(args),
        #[cfg(feature = "sheet")]
        Command::Sheet(args) => sheet::run(&args),
        Command::Bag(args) => bag::bag(&args),
        Command::Set(args) => bag::set(&args),
        Command::Book(args) => book::book(&args),
        Command::Notes(args) => notes(&args),
        Command::Positions(args) => positions(&args),
        Command::Harp(args) => draw_harp(&args),
        Command::Kit(args) => kit::run(&args),
    }
}

/// The form of an answer.
enum Form {
    Json,
    Page(args::Output),
    /// Plain lines, from a command whose answer is a file.
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
        };
        match output {
            _ if json => Form::Json,
            Some(output) => Form::Page(output.clone()),
            None => Form::Lines,
        }
    }
}

/// Lists the tunes of a file of several.
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

fn suggest(args: &args::Suggest) -> anyhow::Result<Exit> {
    let (player, harps) = tries(&args.player, &args.tries)?;
    let style: Style = args.tries.style.into();
    let read = pinned(open(&args.source, &player)?, &args.pins, &args.source)?;
    let request = read.request(&player, &harps, args.tries.any_key);
    let top = args.top.map_or(5, usize::from);
    let region = args.register.map(Into::into);
    let wanted =
        Wanted { position: args.position, region, every_note: args.every_note, ..Wanted::first(top) };
    #[cfg(feature = "sheet")]
    let rows = if args.sheet.is_some() { top.max(pages::practice::ROWS) } else { top };
    #[cfg(not(feature = "sheet"))]
    let rows = top;
    // A row of the text stands for a tab and names every harp that has it.
    let twins = !args.output.json && request.may_share_tabs();
    let changes = match (args.adapt, args.as_written) {
        (true, _) => Changes::AsNeeded,
        (false, false) => Changes::AFew,
        (false, true) => Changes::None,
    };
    let rows = Wanted { top: rows, twins, ..wanted };
    let (request, ranking) = read.rank(&request, &rows, top, (changes, &player));
    if ranking.best().is_none()
        && !args.output.json
        && let Some(why) = pins::nowhere(&request, &wanted)
    {
        message::complain(&why);
        return Ok(Exit::NothingPlayable);
    }
    if ranking.best().is_none()
        && !args.output.json
        && search::search_for(&request, &Wanted::first(1)).best().is_some()
    {
        let asked = [("--position", args.position.is_some()), ("--register", args.register.is_some())];
        let asked: Vec<&str> = asked.into_iter().filter(|asked| asked.1).map(|asked| asked.0).collect();
        let asked = asked.join(" and ");
        message::complain(&format!(
            "nothing of the tune lies there on these harps; change {asked}, or --harps"
        ));
        return Ok(Exit::NothingPlayable);
    }
    #[cfg(feature = "sheet")]
    if let Some(path) = &args.sheet {
        let notation = (&args.notation).into();
        let found = sheet::Found { tune: &read.tune(), request: &request, ranking: &ranking, notation };
        sheet::of_ranking(path, found, &Guard::new(&args.source, &args.player, args.force))?;
    }
    if args.output.json {
        message::answer(&json::suggest(&read.tune(), &player.name, &request, &ranking, top, style))?;
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
    let bytes = read_bytes(&args.on_harp.source.file)?;
    if is_tab(&bytes) {
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

/// Finds the chosen approach and answers with it. If the tune does not meet the harp there, complains, unless JSON is asked
/// for.
fn with_choice(
    args: &args::OnHarp,
    json: bool,
    bytes: &[u8],
    answer: impl FnOnce(&Tune, &Player, &Request, &Ranking) -> anyhow::Result<()>,
) -> anyhow::Result<Exit> {
    let player = player(&args.choice.player)?;
    let read = pinned(read_tune(&args.source, bytes, &player)?, &args.choice.pins, &args.source)?;
    let tunings = tunings(&args.choice.player.tuning_file)?;
    let harps = [Harp::parse(&args.harp, &tunings)?];
    let request = read.request(&player, &harps, args.choice.position.is_some());
    let ranking = choose(&request, &args.choice, &player, 1);
    if json || ranking.best().is_some() {
        answer(&read.tune(), &player, &request, &ranking)?;
    } else {
        nothing_there(&request, &args.choice);
    }
    Ok(exit_code(&ranking))
}

/// Returns the best approaches that fit the user's choice.
fn choose<'a>(request: &Request<'a>, choice: &args::Choice, player: &Player, top: usize) -> Ranking<'a> {
    // On a chosen harp, every note that can be played is played.
    let every_note = request.harps.len() == 1;
    let wanted =
        Wanted { position: choice.position, octave: choice.octave, every_note, ..Wanted::first(top) };
    let mut ranking = search::search_for(request, &wanted);
    ranking.compare_with_free(request, &wanted);
    if choice.adapt {
        ranking.adapt(request, &player.edits);
    }
    ranking
}

/// Says why there is no answer.
fn nothing_there(request: &Request, choice: &args::Choice) {
    let Some(harp) = request.harps.first() else { return };
    let wanted = Wanted { position: choice.position, octave: choice.octave, ..Wanted::ALL };
    if let Some(why) = pins::nowhere(request, &wanted) {
        return message::complain(&why);
    }
    let in_any_octave = search::search_for(request, &Wanted { position: choice.position, ..Wanted::ALL });
    let octaves = in_any_octave.approaches.iter().map(|approach| approach.octave);
    message::complain(&match octaves.minmax().into_option() {
        Some((first, last)) => {
            format!("the tune does not meet the {harp} harp there; --octave goes from {first} to {last}")
        }
        None => format!("the {harp} harp does not reach a single note of the tune; try another one"),
    });
}

fn notes(args: &args::Notes) -> anyhow::Result<Exit> {
    // Without a player, the usual tempo is shown as it is.
    let read = open(&args.source, &Player { tempo_percent: 100, ..Player::default() })?;
    if args.output.json {
        message::answer(&json::notes(&read.tune()))?;
    } else {
        show(&pages::notes::page(&read.tune(), args.all_parts), &args.output)?;
    }
    Ok(Exit::Answered)
}

fn positions(args: &args::Positions) -> anyhow::Result<Exit> {
    // Without a harp, a harp of any key identifies the tuning.
    let harp = named_harp(args.harp.as_deref().unwrap_or("C"), &args.tuning)?;
    let tuning = harp.tuning();
    let key = args.harp.is_some().then(|| harp.key());
    let (song_key, song_mode) =
        (args.song_key.map(|song| song.tonic), args.song_key.and_then(|song| song.mode));
    let query = pages::positions::Query {
        harp: key,
        position: args.position,
        song_key,
        song_mode,
        feel: args.feel.map(Into::into),
    };
    if args.feel.is_some() && key.is_none() && song_key.is_none() {
        bail!("--feel needs --song-key E to find the harp, or --harp C to find the position");
    }
    let matches = pages::positions::matches(query, tuning);
    if matches.is_empty() {
        bail!("these three do not go together; leave out the one that breathline should find");
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
    read_tune(source, &read_bytes(&source.file)?, player)
}

fn read_tune(source: &args::Source, bytes: &[u8], player: &Player) -> anyhow::Result<ReadTune> {
    let &args::Source { part, voice, unfold, key, tempo, .. } = source;
    let options = ImportOptions { tune: source.tune.clone(), part, voice, unfold };
    let imported = import::import(bytes, &options)
        .map_err(|error| match remedy(&error) {
            "" => anyhow::Error::new(error),
            remedy => anyhow::Error::msg(format!("{error}{remedy}")),
        })
        .with_context(|| source.file.display().to_string())?;
    Ok(ReadTune::new(name_of(&source.file), imported, player, Said { key, tempo }))
}

/// Adds the pinned holes.
fn pinned(mut read: ReadTune, args: &args::Pins, source: &args::Source) -> anyhow::Result<ReadTune> {
    read.pins = pins::read(args, source, &read.imported.melody)?;
    Ok(read)
}

/// Returns the command's remedy for an error; the library does not know the command's options.
fn remedy(error: &ImportError) -> &'static str {
    match error {
        ImportError::NoSuchPart { .. } => "; `breathline notes FILE` lists the parts",
        ImportError::NoSuchTune { tunes: 2.., .. } => "; `breathline notes FILE` lists them",
        ImportError::NoSuchVoice { voices: 1, .. } => "; leave out --voice",
        ImportError::NoSuchVoice { .. } => "; name one of them or leave out --voice",
        _ => "",
    }
}

/// Returns the name of a file's tune: the file name without its ending, or a stopgap for standard input.
fn name_of(path: &Path) -> String {
    match path.file_stem() {
        _ if path.as_os_str() == "-" => "Untitled".to_owned(),
        stem => stem.map_or_else(String::new, |stem| stem.to_string_lossy().into_owned()),
    }
}

/// Returns the bytes of a file, or of standard input for `-`; never more than the import reads.
fn read_bytes(path: &Path) -> anyhow::Result<Vec<u8>> {
    let limit = import::MAX_BYTES as u64 + 1;
    if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        std::io::stdin().lock().take(limit).read_to_end(&mut bytes).context("standard input")?;
        return Ok(bytes);
    }
    if path.is_dir() {
        bail!("{}: this is a folder; name a MIDI, MusicXML or ABC file in it", path.display());
    }
    files::read(path, limit)
}

/// Whether the bytes are a typed tab rather than a tune.
fn is_tab(bytes: &[u8]) -> bool {
    !import::is_known(bytes) && tab::read::is_text(bytes)
}

/// Returns the player that was named or described in a file, with the technique that was asked for.
fn player(args: &args::Player) -> anyhow::Result<Player> {
    let mut player = match Player::find(&args.player) {
        Some(known) => known.clone(),
        None => {
            let text = files::read_text(Path::new(&args.player)).with_context(|| {
                let known = Player::built_in().iter().map(|player| player.name.as_str()).join(", ");
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

/// Returns the user's tunings and the built-in ones; a user's tuning comes before a built-in one of the same name.
fn tunings(files: &[PathBuf]) -> anyhow::Result<Vec<Arc<Tuning>>> {
    let mut tunings = Vec::new();
    for path in files {
        let text = files::read_text(path)?;
        tunings.push(Arc::new(Tuning::parse(&text).with_context(|| path.display().to_string())?));
    }
    tunings.extend(Tuning::built_in().iter().cloned());
    Ok(tunings)
}

/// Returns a harp by its name and the tuning chosen beside it. A tuning file on its own chooses its first tuning.
fn named_harp(name: &str, choice: &args::TuningChoice) -> anyhow::Result<Harp> {
    let tunings = tunings(&choice.tuning_file)?;
    let tuning = match (&choice.tuning, choice.tuning_file.as_slice()) {
        (Some(_), _) if name.contains(':') => bail!("`{name}` names a tuning already; leave out --tuning"),
        (Some(tuning), _) => tuning,
        // The user's own tunings come first in the list.
        (None, [_, ..]) if !name.contains(':') => tunings[0].name(),
        (None, _) => return Ok(Harp::parse(name, &tunings)?),
    };
    Ok(Harp::parse(&format!("{name}:{tuning}"), &tunings)?)
}
