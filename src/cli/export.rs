//! The command `export`: a file for other programs.

use std::path::Path;

use anyhow::{Context, bail};
use breathline::{
    export::{arrange, midi, musicxml},
    report::{json, text},
};

use super::{
    args,
    message::{self, Exit},
    with_choice,
};

/// What is written, by the ending of the file's name.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Format {
    MusicXml,
    Compressed,
    Midi,
}

impl Format {
    fn of(path: &Path) -> anyhow::Result<Format> {
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        Ok(match ending.to_ascii_lowercase().as_str() {
            "musicxml" | "xml" => Format::MusicXml,
            "mxl" => Format::Compressed,
            "mid" | "midi" => Format::Midi,
            _ => bail!(
                "{}: the ending says what to write; name a file that ends in .musicxml, .mxl or .mid",
                path.display()
            ),
        })
    }
}

pub(super) fn export(mut args: args::Export) -> anyhow::Result<Exit> {
    let format = Format::of(&args.to)?;
    // There are no repeat signs in MIDI.
    args.tab.source.unfold |= format == Format::Midi;
    with_choice(&args.tab, |tune, player, request, ranking| {
        let chosen = ranking.adapted.as_ref().or(ranking.best());
        let name = args.to.display();
        if let Some(approach) = chosen {
            let mut arrangement = arrange(request.melody, request.key, approach, (&args.tab.notation).into());
            arrangement.melody.title = Some(tune.title().to_owned());
            let bytes = match format {
                Format::MusicXml => musicxml::write(&arrangement),
                Format::Compressed => {
                    musicxml::write_compressed(&arrangement).context("the zip container")?
                }
                Format::Midi => midi::write(&arrangement),
            };
            std::fs::write(&args.to, bytes).with_context(|| name.to_string())?;
            if !args.tab.output.json {
                let said = format!("{name}: {}, {}", tune.title(), arrangement.harp);
                return message::answer(&(text::clean(&said) + "\n"));
            }
        }
        message::answer(&json::tab(tune, &player.name, request, ranking))
    })
}
