//! `breathline check`, and `breathline tab` for a typed tab.

use anyhow::{Context, bail};
use breathline::{
    compare::{
        choice::{self, Question},
        lesson::Stated,
    },
    harp::Harp,
    json,
    pages::{self, Tune, comparison::Comparison},
    pitch::Interval,
    question,
    search::{Request, Style},
    tab::{
        Notation,
        read::{self, TabText},
    },
};

#[cfg(feature = "sheet")]
use super::save::Guard;
use super::{args, kit, message, message::Exit, name_of, open, player, progress, read_bytes, show, tunings};

/// Compares a choice or a tab with the best approach.
pub(super) fn check(args: &args::Check) -> anyhow::Result<Exit> {
    #[cfg(feature = "sheet")]
    args.sheet.as_deref().map(super::sheet::Form::of).transpose()?;
    let mut player = player(&args.player)?;
    let tune = open(&args.source, &player)?;
    let tunings = tunings(&args.player.tuning_file)?;
    let harp = kit::harp(&args.harp, &tunings)?;
    let style: Style = args.style.into();
    player.weights = style.weights(&player.weights);
    let melody = &tune.imported.melody;
    // The chosen harp may itself be the best harp.
    let mut harps = kit::harps(&args.harps, &[], &tunings)?;
    if !harps.contains(&harp) {
        harps.push(harp.clone());
    }
    // Together, a harp and a position name a key. If the tune may be in that key, the check assumes it, even if another
    // key was found first.
    let named = args.position.map(|position| position.tonic(harp.first_position_key()));
    let request = Request {
        melody,
        key: named.and_then(|tonic| choice::key_on(&tune.key, tonic)).unwrap_or(tune.key.key),
        harps: &harps,
        technique: player.technique,
        weights: &player.weights,
        any_key: false,
        pins: &[],
    };
    let transposed =
        args.position.map_or(Interval(0), |position| question::to_position(&request, &harp, position));
    let Some(path) = &args.tab else {
        let best = question::best(&request, transposed, None);
        let on_harp = Request { harps: std::slice::from_ref(&harp), ..request.clone() };
        let given = question::best(&on_harp, transposed, args.octave);
        let Some((given, best)) = given.zip(best.clone()) else {
            if args.output.json {
                let best = best.as_ref();
                message::answer(&json::unreached(&tune.tune(), &player.name, &request, best, style.word()))?;
                return Ok(Exit::NothingPlayable);
            }
            let what = if args.octave.is_some() { "--octave" } else { "harp" };
            message::complain(&format!(
                "the {harp} harp does not have a single note of the tune at this pitch; try another {what}"
            ));
            return Ok(Exit::NothingPlayable);
        };
        let question =
            Question { melody, key: request.key, weights: request.weights, blues: style == Style::Blues };
        let choice = choice::compare(question, given, best);
        let notation = (&args.notation).into();
        let comparison = pages::choice::comparison(&tune.tune(), &request, &choice, style, notation);
        write_sheet(args, &tune.tune(), &request, &comparison, notation)?;
        if args.output.json {
            message::answer(&json::choice(&tune.tune(), &player.name, &request, &choice, style.word()))?;
        } else {
            show(&comparison.page(), &args.output)?;
        }
        return Ok(Exit::Answered);
    };
    let bytes = read_bytes(path)?;
    if bytes.is_empty() {
        bail!("{}: the file is empty; --tab takes a typed tab", path.display());
    }
    if !read::is_text(&bytes) {
        bail!("{}: this is not text; --tab takes a typed tab, and the tune comes before it", path.display());
    }
    let text = read::read(&read::decode(&bytes), args.notation.tab_style.map(Into::into));
    let text = text.with_context(|| path.display().to_string())?;
    let stated = Stated { harp: &harp, transposed, octave: args.octave };
    let compared = progress::shown("comparing the tab", || question::check_tab(&request, stated, &text));
    let Some((lesson, best)) = compared else {
        bail!(
            "{}: the tab and the tune together are too long to be compared; check one part of them at a time",
            path.display()
        );
    };
    let best = best.as_ref();
    let notation = Notation { style: text.style, ..(&args.notation).into() };
    let tune = tune.tune();
    let checked = pages::lesson::Checked {
        tune,
        request: &request,
        stated,
        text: &text,
        lesson: &lesson,
        best,
        notation,
    };
    let comparison = pages::lesson::comparison(&checked);
    write_sheet(args, &tune, &request, &comparison, notation)?;
    if args.output.json {
        message::answer(&json::lesson(&checked, &player.name, style.word()))?;
    } else {
        show(&comparison.page(), &args.output)?;
    }
    Ok(Exit::Answered)
}

/// Writes the sheet, if the user asked for it.
#[cfg(feature = "sheet")]
fn write_sheet(
    args: &args::Check,
    tune: &Tune,
    request: &Request,
    comparison: &Comparison,
    notation: Notation,
) -> anyhow::Result<()> {
    let Some(path) = &args.sheet else { return Ok(()) };
    let guard = Guard::new(&args.source, &args.player, args.force).and(args.tab.as_deref());
    let written = super::sheet::of_check(path, tune, request, comparison, notation.bend_mark, &guard)?;
    written.filter(|_| args.open).inspect(|path| super::viewer::open(path));
    Ok(())
}

/// Does nothing: without the feature `sheet`, the user cannot ask for a sheet.
#[cfg(not(feature = "sheet"))]
fn write_sheet(_: &args::Check, _: &Tune, _: &Request, _: &Comparison, _: Notation) -> anyhow::Result<()> {
    Ok(())
}

/// Shows a typed tab with the names of its notes.
pub(super) fn typed(args: &args::Tab, bytes: &[u8]) -> anyhow::Result<Exit> {
    let (name, harp, text) = read_typed(&args.on_harp, bytes)?;
    let notation = Notation { style: text.style, ..(&args.on_harp.notation).into() };
    if args.output.json {
        message::answer(&json::typed(&name, &harp, &text))?;
    } else {
        show(&pages::typed::page(&name, &harp, &text, notation), &args.output)?;
    }
    let sounding = text.notes.iter().filter(|note| harp.pitch(note.action).is_some()).count();
    Ok(if sounding > 0 { Exit::Answered } else { Exit::NothingPlayable })
}

/// Returns the name, the harp and the notes of a typed tab. Refuses options such as `--position`, which apply only to
/// tunes.
pub(super) fn read_typed(args: &args::OnHarp, bytes: &[u8]) -> anyhow::Result<(String, Harp, TabText)> {
    let tunings = tunings(&args.choice.player.tuning_file)?;
    let harp = kit::harp(&args.harp, &tunings)?;
    let source = &args.source;
    let file = source.file.display();
    let name = name_of(&source.file);
    let text = read::read(&read::decode(bytes), args.notation.tab_style.map(Into::into));
    let text = text.with_context(|| file.to_string())?;
    for (given, option) in [
        (args.choice.position.is_some(), "--position"),
        (args.choice.octave.is_some(), "--octave"),
        (args.choice.adapt, "--adapt"),
        (source.part.is_some(), "--part"),
        (source.voice.is_some(), "--voice"),
        (source.unfold, "--unfold"),
        (source.key.is_some(), "--key"),
        (source.tempo.is_some(), "--tempo"),
    ] {
        if given {
            bail!("{option} is for a tune, but {file} is already tab; leave out {option}");
        }
    }
    Ok((name, harp, text))
}
