//! The commands: the only place that reads files, asks about the terminal and prints.

mod args;
mod check;
mod export;
mod files;
mod kit;
pub(crate) mod message;
#[cfg(feature = "sheet")]
mod sheet;

use std::{
    ffi::OsString,
    io::Read,
    path::{Path, PathBuf},
    sync::Arc,
};

use anyhow::{Context, bail};
use breathline::{
    harp::{self, Harp, Tuning},
    import::{self, ImportError, ImportOptions, Imported},
    json,
    melody::{
        key::{self, KeyFinding},
        tempo,
    },
    pages::{self, Page, Tune},
    render::{markdown, text},
    search::{self, Player, Ranking, Request, Style, Wanted},
    tab,
};
use clap::Parser;
use itertools::Itertools;

use args::{Cli, Command};
use message::Exit;

/// Runs the command that the arguments name.
pub(crate) fn run(arguments: impl Iterator<Item = OsString>) -> anyhow::Result<Exit> {
    match Cli::try_parse_from(arguments) {
        Ok(Cli { command: Command::Suggest(args) }) => suggest(&args),
        Ok(Cli { command: Command::Tab(args) }) => tab(&args),
        Ok(Cli { command: Command::Check(args) }) => check::check(&args),
        Ok(Cli { command: Command::Export(args) }) => export::export(args),
        #[cfg(feature = "sheet")]
        Ok(Cli { command: Command::Sheet(args) }) => sheet::run(&args),
        Ok(Cli { command: Command::Notes(args) }) => notes(&args),
        Ok(Cli { command: Command::Positions(args) }) => positions(&args),
        Ok(Cli { command: Command::Harp(args) }) => draw_harp(&args),
        // Help and version are answers, and an argument that clap rejects is a failure; clap words all three.
        Err(asked) if !asked.use_stderr() => {
            message::answer(&asked.render().to_string()).map(|()| Exit::Answered)
        }
        Err(error) => {
            error.print()?;
            Ok(Exit::Failed)
        }
    }
}

fn suggest(args: &args::Suggest) -> anyhow::Result<Exit> {
    let mut player = player(&args.player)?;
    let style: Style = args.style.into();
    player.weights = style.weights(&player.weights);
    let read = ReadTune::new(&args.source, &player)?;
    let tunings = tunings(&args.player.tuning_file)?;
    let harps = kit::harps(&args.harps, &args.tunings, &tunings)?;
    let request = Request {
        melody: &read.imported.melody,
        key: read.key.key,
        harps: &harps,
        technique: player.technique,
        weights: &player.weights,
        any_key: args.any_key,
    };
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
    let (request, mut ranking) = search::ways::answer(&request, &Wanted { top: rows, twins, ..wanted });
    if let Some(rival) = pages::key::rival(&read.key) {
        ranking.rank_rival(&request, &wanted, rival.key);
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
    if args.adapt {
        ranking.adapt(&request, &player.edits);
    } else if !args.as_written {
        ranking.adapt_if_little(&request, &player.edits);
    }
    #[cfg(feature = "sheet")]
    if let Some(path) = &args.sheet {
        let notation = (&args.notation).into();
        let found = sheet::Found { tune: &read.tune(), request: &request, ranking: &ranking, notation };
        sheet::of_ranking(path, found)?;
    }
    if args.output.json {
        message::answer(&json::suggest(&read.tune(), &player.name, &request, &ranking, top, style))?;
    } else {
        let options = pages::suggest::Options {
            top,
            tempo_range: args.tempo_range,
            style,
            notation: (&args.notation).into(),
        };
        show(&pages::suggest::page(&read.tune(), &request, &ranking, options), &args.output)?;
    }
    Ok(exit_code(&ranking))
}

fn tab(args: &args::Tab) -> anyhow::Result<Exit> {
    let bytes = read_bytes(&args.on_harp.source.file)?;
    if tab::read::is_text(&bytes) {
        return check::typed(args, &bytes);
    }
    with_choice(&args.on_harp, args.output.json, &bytes, |tune, player, request, ranking| {
        if args.output.json {
            message::answer(&json::tab(tune, &player.name, request, ranking))
        } else {
            let notation = (&args.on_harp.notation).into();
            show(&pages::suggest::tab_page(tune, request, ranking, notation), &args.output)
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
    let read = ReadTune::from_bytes(&args.source, bytes, &player)?;
    let tunings = tunings(&args.choice.player.tuning_file)?;
    let harps = [Harp::parse(&args.harp, &tunings)?];
    let request = request(&read, &harps, &player, &args.choice);
    let ranking = choose(&request, &args.choice, &player, 1);
    if json || ranking.best().is_some() {
        answer(&read.tune(), &player, &request, &ranking)?;
    } else {
        nothing_there(&request, &args.choice);
    }
    Ok(exit_code(&ranking))
}

/// Returns the search for a harp, or at least a way to play it, that the user chose.
fn request<'a>(
    read: &'a ReadTune,
    harps: &'a [Harp],
    player: &'a Player,
    choice: &args::Choice,
) -> Request<'a> {
    Request {
        melody: &read.imported.melody,
        key: read.key.key,
        harps,
        technique: player.technique,
        weights: &player.weights,
        any_key: choice.position.is_some(),
    }
}

/// Returns the best approaches that fit the user's choice.
fn choose<'a>(request: &Request<'a>, choice: &args::Choice, player: &Player, top: usize) -> Ranking<'a> {
    // On a chosen harp, every note that can be played is played.
    let every_note = request.harps.len() == 1;
    let wanted =
        Wanted { position: choice.position, octave: choice.octave, every_note, ..Wanted::first(top) };
    let mut ranking = search::search_for(request, &wanted);
    if choice.adapt {
        ranking.adapt(request, &player.edits);
    }
    ranking
}

/// Says why there is no answer.
fn nothing_there(request: &Request, choice: &args::Choice) {
    let Some(harp) = request.harps.first() else { return };
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
    let read = ReadTune::new(&args.source, &Player { tempo_percent: 100, ..Player::default() })?;
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
        bail!("name what --feel is for: --song-key E to find the harp, or --harp C to find the position");
    }
    let matches = pages::positions::matches(query, tuning);
    if matches.is_empty() {
        bail!("these three do not go together; leave --harp, --position or --song-key away to have it found");
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

/// A tune read from a file, with its key.
struct ReadTune {
    name: String,
    imported: Imported,
    key: KeyFinding,
}

impl ReadTune {
    fn new(source: &args::Source, player: &Player) -> anyhow::Result<ReadTune> {
        ReadTune::from_bytes(source, &read_bytes(&source.file)?, player)
    }

    fn from_bytes(source: &args::Source, bytes: &[u8], player: &Player) -> anyhow::Result<ReadTune> {
        let options = ImportOptions { part: source.part, voice: source.voice, unfold: source.unfold };
        let mut imported = import::import(bytes, &options)
            .map_err(|error| anyhow::Error::msg(format!("{error}{}", remedy(&error))))
            .with_context(|| source.file.display().to_string())?;
        if let Some(tempo) = source.tempo {
            imported.melody.tempo = imported.melody.tempo.starting_at(tempo);
        }
        tempo::assume(&mut imported.melody, player.tempo_percent);
        let key = source.key.map_or_else(|| key::find(&imported.melody), KeyFinding::given);
        // Where the file does not say how to spell, the key decides.
        if imported.melody.signatures.is_empty() {
            imported.melody = imported.melody.signed(key.key).into_owned();
        }
        Ok(ReadTune { name: name_of(&source.file), imported, key })
    }

    fn tune(&self) -> Tune<'_> {
        Tune { name: &self.name, imported: &self.imported, key: &self.key }
    }
}

/// Returns the command's remedy for an error; the library does not know the command's options.
fn remedy(error: &ImportError) -> &'static str {
    match error {
        ImportError::NoSuchPart { .. } => "; `breathline notes FILE` lists the parts",
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
        bail!("{}: this is a folder; name a MIDI or MusicXML file in it", path.display());
    }
    files::read(path, limit)
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
        (Some(_), _) if name.contains(':') => bail!("`{name}` names a tuning already; leave --tuning away"),
        (Some(tuning), _) => tuning,
        // The user's own tunings come first in the list.
        (None, [_, ..]) if !name.contains(':') => tunings[0].name(),
        (None, _) => return Ok(Harp::parse(name, &tunings)?),
    };
    Ok(Harp::parse(&format!("{name}:{tuning}"), &tunings)?)
}
