//! Writes an arrangement as MusicXML 4.0 (W3C Music Notation Community Group, 2021), uncompressed or compressed.
//!
//! 1. [`notation`] decides how the tune is written: values, tuplets, ties, beams, accidentals.
//! 2. `Divisions` finds the ticks that express every length exactly, if possible.
//! 3. `bar` writes barlines, signatures, tempo, chord symbols, notes and words in the order that the format requires.
//!
//! The format has no element for harmonica tab. The score contains the tab only once, because programs print all copies
//! that they find. By default the tab is a lyric line named "tab" after the last verse, which every program shows. On
//! request the tab is a `fingering` (the hole) and an `arrow` (up means blow, down means draw). The full tab is then an
//! `other-technical`, which no program shows by default. A note that is not played has its head in parentheses; a
//! changed note has an asterisk over it.

mod bar;
mod barlines;
mod chord;

use std::io::Write;

use flate2::{Compression, write::DeflateEncoder};
use num_integer::Integer;
use rawzip::{CompressionMethod, ZipArchiveWriter};

use super::{Arrangement, xml::Xml};
use crate::{
    melody::{Creator, Melody},
    notation::{self, Keys, Notation},
    time::Beats,
};
use bar::BarWriter;

/// The finest grid that is written. Lengths off this grid, which do not occur in music, are rounded to the grid.
const FINEST: i64 = Beats::FINEST;

const DOCTYPE: &str = "<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
                       \"http://www.musicxml.org/dtds/partwise.dtd\">\n";

/// How the score shows the tab.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub enum TabAs {
    /// A line of words after the last verse.
    #[default]
    Lyrics,
    /// A fingering for the hole, with an arrow for the breath, and the full tab for programs that read it.
    Fingering,
}

/// Returns the score as text.
///
/// ```
/// use breathline::{export, harp::Harp, import, melody::key, search, tab::Notation};
///
/// let bytes = include_bytes!("../../corpus/amazing-grace.musicxml");
/// let tune = import::import(bytes, &import::ImportOptions::default())?.melody;
/// let (key, harps) = (key::find(&tune).key, [Harp::parse("C", &[breathline::harp::Tuning::richter()])?]);
/// let weights = search::Weights::default();
/// let ranking = search::search(&search::Request {
///     melody: &tune,
///     key,
///     harps: &harps,
///     technique: breathline::harp::Technique::All,
///     weights: &weights,
///     any_key: false,
///     pins: &[],
/// });
/// let best = ranking.best().ok_or("the harp does not reach the tune")?;
/// let arrangement = export::arrange(&tune, key, best, Notation::default());
/// let score = export::musicxml::write(&arrangement, Default::default());
/// let again = import::import(&score, &import::ImportOptions::default())?.melody;
/// assert_eq!(again.notes, arrangement.melody.notes);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn write(arrangement: &Arrangement, tab_as: TabAs) -> Vec<u8> {
    let mut xml = Xml::new(DOCTYPE);
    xml.element("score-partwise", &[("version", "4.0")], |xml| {
        header(xml, arrangement);
        xml.element("part", &[("id", "P1")], |xml| {
            let notation = notation::write(&arrangement.melody, Keys::Anywhere);
            let grid = Divisions::of(&arrangement.melody, &notation);
            let mut writer = BarWriter::new(arrangement, &notation, grid, tab_as);
            for index in 0..arrangement.melody.bars.len() {
                writer.bar(xml, index);
            }
            if arrangement.melody.bars.is_empty() {
                // A part must have at least one measure.
                xml.element("measure", &[("number", "1")], |_| {});
            }
        });
    });
    xml.finish()
}

/// Returns the score in its zip container, as in `.mxl` files.
///
/// # Errors
///
/// Returns an error only if the zip cannot be made, for example because the score is too large.
pub fn write_compressed(arrangement: &Arrangement, tab_as: TabAs) -> std::io::Result<Vec<u8>> {
    const CONTAINER: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<container>\n  <rootfiles>\n    \
        <rootfile full-path=\"score.musicxml\" media-type=\"application/vnd.recordare.musicxml+xml\"/>\n  \
        </rootfiles>\n</container>\n";
    let score = write(arrangement, tab_as);
    let mut bytes = Vec::new();
    let mut zip = ZipArchiveWriter::new(&mut bytes);
    for (name, content) in [("META-INF/container.xml", CONTAINER.as_bytes()), ("score.musicxml", &score)] {
        let file = zip.new_file(name).compression_method(CompressionMethod::DEFLATE).start();
        let (mut entry, config) = file.map_err(std::io::Error::other)?;
        let mut writer = config.wrap(DeflateEncoder::new(&mut entry, Compression::default()));
        writer.write_all(content)?;
        let (encoder, sums) = writer.finish().map_err(std::io::Error::other)?;
        encoder.finish()?;
        entry.finish(sums).map_err(std::io::Error::other)?;
    }
    zip.finish().map_err(std::io::Error::other)?;
    Ok(bytes)
}

/// Writes the elements before the music.
fn header(xml: &mut Xml, arrangement: &Arrangement) {
    let title = arrangement.melody.title.as_deref();
    if let Some(title) = title {
        xml.element("work", &[], |xml| xml.text("work-title", title));
    }
    let credits = &arrangement.melody.credits;
    xml.element("identification", &[], |xml| {
        for Creator { role, name } in &credits.creators {
            match role.as_str() {
                "" => xml.text("creator", name),
                role => xml.text_with("creator", &[("type", role)], name),
            }
        }
        for rights in &credits.rights {
            xml.text("rights", rights);
        }
        xml.element("encoding", &[], |xml| {
            xml.text("software", concat!("breathline ", env!("CARGO_PKG_VERSION")));
            for element in ["accidental", "beam"] {
                xml.empty("supports", &[("element", element), ("type", "yes")]);
            }
        });
        xml.element("miscellaneous", &[], |xml| {
            xml.text_with("miscellaneous-field", &[("name", "harp")], &arrangement.harp);
        });
    });
    let subtitle = match arrangement.notes.iter().any(|note| note.changed) {
        true => format!("{} (* the tune is changed)", arrangement.harp),
        false => arrangement.harp.clone(),
    };
    for (kind, words) in [("title", title), ("subtitle", Some(subtitle.as_str()))] {
        let Some(words) = words else { continue };
        xml.element("credit", &[("page", "1")], |xml| {
            xml.text("credit-type", kind);
            let size = if kind == "title" { "22" } else { "12" };
            xml.text_with("credit-words", &[("justify", "center"), ("font-size", size)], words);
        });
    }
    xml.element("part-list", &[], |xml| {
        xml.element("score-part", &[("id", "P1")], |xml| {
            xml.text("part-name", "Harmonica");
            xml.element("score-instrument", &[("id", "P1-I1")], |xml| {
                xml.text("instrument-name", "Harmonica");
                xml.text("instrument-sound", "wind.reed.harmonica");
            });
            xml.element("midi-instrument", &[("id", "P1-I1")], |xml| {
                xml.text("midi-channel", 1);
                // General MIDI's Harmonica; MusicXML counts programs from 1.
                xml.text("midi-program", 23);
            });
        });
    });
}

/// The grid of the score's ticks. Every length lies exactly on the grid, unless the grid would be finer than `FINEST`.
#[derive(Clone, Copy)]
pub(super) struct Divisions {
    /// The number of ticks per quarter.
    pub(super) quarter: i64,
}

impl Divisions {
    /// Returns the coarsest grid on which every point of the written melody lies; the finest grid if there is none.
    fn of(melody: &Melody, notation: &Notation) -> Divisions {
        let bars = melody.bars.iter().flat_map(|bar| [bar.start, bar.length]);
        let notes = melody.notes.iter().flat_map(|note| [note.onset, note.end()]);
        let chords = melody.chords.iter().map(|chord| chord.at);
        let signatures = melody.signatures.iter().map(|signature| signature.at);
        let tempi = melody.tempo.changes().map(|(at, _)| at);
        let points = bars.chain(notes).chain(chords).chain(signatures).chain(tempi);
        let finer = |quarter: i64, point: Beats| {
            let finer = quarter.lcm(&point.fraction().1);
            (finer <= FINEST).then_some(finer)
        };
        let Some(quarter) = points.into_iter().try_fold(1, finer) else {
            return Divisions { quarter: FINEST };
        };
        // The points where ties divide a note are included as far as the grid allows.
        let events =
            notation.bars.iter().flat_map(|bar| &bar.events).flat_map(|event| [event.real.0, event.real.1]);
        Divisions { quarter: events.fold(quarter, |quarter, point| finer(quarter, point).unwrap_or(quarter)) }
    }

    /// Returns the nearest tick.
    pub(super) fn ticks(self, at: Beats) -> i64 {
        let (numerator, denominator) = at.fraction();
        let doubled = 2 * i128::from(numerator) * i128::from(self.quarter) + i128::from(denominator);
        i64::try_from(doubled.div_euclid(2 * i128::from(denominator))).unwrap_or(0)
    }
}
