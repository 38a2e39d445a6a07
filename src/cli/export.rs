//! `breathline export`: writes a file for other programs.

use std::path::Path;

use anyhow::{Context, bail};
use breathline::{
    export::{
        self, Arrangement, abc, arrange, midi,
        musicxml::{self, TabAs},
    },
    json,
};

use super::{
    args, check, is_tab,
    message::{self, Exit},
    save::{self, Guard},
    source_bytes, with_choice,
};

/// The format, chosen by the ending of the file's name.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Format {
    MusicXml,
    Compressed,
    Midi,
    Abc,
}

impl Format {
    fn of(path: &Path) -> anyhow::Result<Format> {
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        Ok(match ending.to_ascii_lowercase().as_str() {
            "musicxml" | "xml" => Format::MusicXml,
            "mxl" => Format::Compressed,
            "mid" | "midi" => Format::Midi,
            "abc" => Format::Abc,
            "pdf" | "svg" | "png" | "html" => bail!(
                "{}: `breathline sheet` writes this format; export writes .musicxml, .mxl, .abc or .mid",
                path.display()
            ),
            _ => bail!(
                "{}: the ending sets the format; name a file that ends in .musicxml, .mxl, .abc or .mid",
                path.display()
            ),
        })
    }
}

fn write(args: &args::Export, format: Format, arrangement: &Arrangement) -> anyhow::Result<()> {
    let tab_as = args.tab_as.map(TabAs::from).unwrap_or_default();
    let bytes = match format {
        Format::MusicXml => musicxml::write(arrangement, tab_as),
        Format::Compressed => musicxml::write_compressed(arrangement, tab_as).context("the zip container")?,
        Format::Midi => midi::write(arrangement),
        Format::Abc => abc::write(arrangement),
    };
    let guard = Guard::new(&args.on_harp.source, &args.on_harp.choice.player, args.force);
    save::save(&[(args.to.clone(), bytes)], &guard)
}

/// Exports a typed tab, with each note as a quarter note.
fn typed(args: &args::Export, format: Format, bytes: &[u8]) -> anyhow::Result<Exit> {
    let (name, harp, text) = check::read_typed(&args.on_harp, bytes)?;
    let notation = (&args.on_harp.notation).into();
    let arrangement = export::typed::arrange(&name, &harp, &text, format == Format::Midi, notation);
    if arrangement.notes.is_empty() {
        message::complain(&format!("the {harp} harp sounds no note of this tab; try another harp"));
        return Ok(Exit::NothingPlayable);
    }
    write(args, format, &arrangement)?;
    if args.json {
        message::answer(&json::typed(&name, &harp, &text))?;
    } else {
        let said = format!("{}: {name}, {}, every note a quarter", args.to.display(), arrangement.harp);
        message::say(&said)?;
    }
    Ok(Exit::Answered)
}

pub(super) fn export(mut args: args::Export) -> anyhow::Result<Exit> {
    let format = Format::of(&args.to)?;
    if matches!(format, Format::Midi | Format::Abc) && args.tab_as.is_some() {
        bail!("--tab-as is for MusicXML; ABC has the tab as words, and MIDI has no tab: leave out --tab-as");
    }
    let bytes = source_bytes(&args.on_harp.source)?;
    if is_tab(&bytes) && args.on_harp.source.notes.is_none() {
        return typed(&args, format, &bytes);
    }
    // MIDI has no repeat signs, so repeats are written out.
    args.on_harp.source.unfold |= format == Format::Midi;
    with_choice(&args.on_harp, args.json, &bytes, |tune, player, request, ranking| {
        let chosen = ranking.adapted.as_ref().or(ranking.best());
        let name = args.to.display();
        if let Some(approach) = chosen {
            let mut arrangement =
                arrange(request.melody, request.key, approach, (&args.on_harp.notation).into());
            arrangement.melody.title = Some(tune.title().to_owned());
            write(&args, format, &arrangement)?;
            if !args.json {
                let said = format!("{name}: {}, {}", tune.title(), arrangement.harp);
                return message::say(&said);
            }
        }
        message::answer(&json::tab(tune, &player.name, request, ranking))
    })
}
