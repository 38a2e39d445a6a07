//! Answers without a tune: positions, layouts, chords, a typed tab.

use serde::Serialize;

use super::{
    SCHEMA,
    approach::{ActionInfo, HarpInfo, action_info, breath_word, harp_info},
    print,
};
use crate::{
    harp::{
        Harp, Technique,
        chord::{self, Grip},
        position::Stretch,
    },
    pages::{self, chords, positions, typed, words},
    tab::{Notation, Style, read::TabText},
};

/// Returns the answer of `breathline positions`.
pub fn positions(query: positions::Query, matches: &[positions::Match], notation: Notation) -> String {
    let rows = matches.iter().map(|found| {
        let offer = &found.offer;
        PositionRow {
            harp: found.harp.key().to_string(),
            position: offer.position.number(),
            song_key: query.tonic_name(offer.tonic),
            needs_bends_for: query.song_mode.map(|mode| positions::lacking_names(offer, mode)),
            mode: offer.mode.map(|mode| mode.to_string()),
            degrees: &offer.degrees,
            used_for: (found.harp.tuning().name() == "richter").then(|| offer.position.used_for()),
            tonic_at: offer.tonics.iter().map(|&action| notation.write(action)).collect(),
            tonic_bent_at: offer.bent_tonics.iter().map(|&action| notation.write(action)).collect(),
            missing: missing_in(query, found, notation),
            pentatonics: offer.pentatonics.iter().map(|stretch| pentatonic(stretch, notation)).collect(),
            feel: query.feel.map(|feel| {
                let lie = feel.lie(&found.harp, offer.position);
                FeelInfo { name: feel.word(), notes: lie.notes, natural: lie.natural }
            }),
            careful: positions::careful_in(query, found)
                .into_iter()
                .map(|(mode, careful)| CarefulIn {
                    mode: mode.to_string(),
                    holes: careful.iter().map(|careful| notation.write(careful.action)).collect(),
                })
                .collect(),
        }
    });
    print(&Positions { schema: SCHEMA, positions: rows.collect() })
}

pub(super) fn missing_in(query: positions::Query, found: &positions::Match, notation: Notation) -> MissingIn {
    let (mode, gaps) = positions::gaps(query, found);
    let notes = gaps.into_iter().map(|gap| GapInfo {
        degree: words::degree(gap.degree, &mode.scale()),
        hole: gap.hole,
        tab: gap.action.map(|action| notation.write(action)),
    });
    MissingIn { mode: mode.to_string(), notes: notes.collect() }
}

pub(super) fn pentatonic(stretch: &Stretch, notation: Notation) -> PentatonicInfo {
    PentatonicInfo {
        scale: stretch.scale.to_string(),
        from: notation.write(stretch.low),
        to: notation.write(stretch.high),
    }
}

/// Returns the answer of `breathline harp`.
pub fn harp(harp: &Harp, technique: Technique) -> String {
    let actions = harp.actions().iter().filter(|(_, action)| technique.allows(*action));
    let actions = actions.map(|&(pitch, action)| HarpAction {
        midi: pitch.midi(),
        name: pages::harp::name(harp, pitch),
        action: action_info(action),
    });
    print(&HarpLayout { schema: SCHEMA, harp: harp_info(harp), actions: actions.collect() })
}

/// Returns the answer of `breathline harp --chords`.
pub fn chords(harp: &Harp) -> String {
    let grips = chord::neighbours(harp).into_iter().chain(chord::splits(harp));
    let grips = grips.map(|grip| grip_info(harp, &grip));
    print(&Chords { schema: SCHEMA, harp: harp_info(harp), chords: grips.collect() })
}

pub(super) fn grip_info(harp: &Harp, grip: &Grip) -> GripInfo {
    let chord = match grip.name() {
        chord::Name::Chord { .. } => Some(chords::name(grip)),
        chord::Name::Interval(_) | chord::Name::Other => None,
    };
    let holes = (grip.low..=grip.high).filter(|&hole| !grip.split || hole == grip.low || hole == grip.high);
    GripInfo {
        holes: holes.collect(),
        breath: breath_word(grip.breath),
        split: grip.split,
        midi: grip.pitches.iter().map(|pitch| pitch.midi()).collect(),
        notes: grip.pitches.iter().map(|&pitch| pages::harp::name(harp, pitch)).collect(),
        name: chords::name(grip),
        chord,
    }
}

/// Returns the answer of `breathline tab` for a typed tab.
pub fn typed(name: &str, harp: &Harp, text: &TabText) -> String {
    let notes = text.notes.iter().map(|note| TypedNote {
        line: note.at.line,
        column: note.at.column,
        action: action_info(note.action),
        midi: harp.pitch(note.action).map(|pitch| pitch.midi()),
        name: typed::name(harp, note),
    });
    print(&Typed {
        schema: SCHEMA,
        title: name,
        harp: harp_info(harp),
        tab_style: style_word(text.style),
        notes: notes.collect(),
        performed: text.performed(),
        warnings: text.oddities.iter().map(ToString::to_string).collect(),
    })
}

pub(super) fn style_word(style: Style) -> &'static str {
    match style {
        Style::Signed => "signed",
        Style::Plus => "plus",
        Style::Arrows => "arrows",
        Style::Letters => "letters",
        Style::Parentheses => "parentheses",
        Style::Circled => "circled",
        Style::Rows => "rows",
    }
}

#[derive(Serialize)]
pub(super) struct Positions<'a> {
    schema: u32,
    positions: Vec<PositionRow<'a>>,
}

#[derive(Serialize)]
pub(super) struct PositionRow<'a> {
    harp: String,
    position: u8,
    song_key: String,
    /// The degrees of the song's scale that no natural note sounds; only if the user gave the mode.
    #[serde(skip_serializing_if = "Option::is_none")]
    needs_bends_for: Option<Vec<&'static str>>,
    mode: Option<String>,
    degrees: &'a [u8],
    used_for: Option<&'static str>,
    tonic_at: Vec<String>,
    /// If `tonic_at` has natural notes: the further tonics within the harp's range that only a bend sounds.
    tonic_bent_at: Vec<String>,
    /// The notes within the harp's range that no reed sounds: those of the song's scale if the user gave the mode,
    /// otherwise those of the scale nearest to the natural notes.
    missing: MissingIn,
    /// The pentatonic scales that need no bends over at least an octave, each with its lowest and its highest note in
    /// tab.
    pentatonics: Vec<PentatonicInfo>,
    /// The number of notes that the scale of a band's style has within the harp's range, and how many of them need no
    /// bend; only if the user gave the style.
    #[serde(skip_serializing_if = "Option::is_none")]
    feel: Option<FeelInfo>,
    careful: Vec<CarefulIn>,
}

#[derive(Serialize)]
pub(super) struct MissingIn {
    mode: String,
    notes: Vec<GapInfo>,
}

#[derive(Serialize)]
pub(super) struct GapInfo {
    degree: &'static str,
    hole: u8,
    /// The bend or overbend that sounds the note; null if none does.
    tab: Option<String>,
}

#[derive(Serialize)]
pub(super) struct FeelInfo {
    name: &'static str,
    notes: usize,
    natural: usize,
}

#[derive(Serialize)]
pub(super) struct PentatonicInfo {
    scale: String,
    from: String,
    to: String,
}

#[derive(Serialize)]
pub(super) struct CarefulIn {
    mode: String,
    holes: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct HarpLayout {
    schema: u32,
    harp: HarpInfo,
    actions: Vec<HarpAction>,
}

#[derive(Serialize)]
pub(super) struct HarpAction {
    midi: u8,
    name: String,
    #[serde(flatten)]
    action: ActionInfo,
}

#[derive(Serialize)]
pub(super) struct Chords {
    schema: u32,
    harp: HarpInfo,
    chords: Vec<GripInfo>,
}

/// Holes that sound together. `chord` is the chord symbol; null for an interval or for notes that form no chord with a
/// name.
#[derive(Serialize)]
pub(super) struct GripInfo {
    holes: Vec<u8>,
    breath: &'static str,
    split: bool,
    midi: Vec<u8>,
    notes: Vec<String>,
    name: String,
    chord: Option<String>,
}

#[derive(Serialize)]
pub(super) struct Typed<'a> {
    schema: u32,
    title: &'a str,
    harp: HarpInfo,
    tab_style: &'static str,
    notes: Vec<TypedNote>,
    /// The order of performance, as indices of notes, with the repeats played.
    performed: Vec<usize>,
    warnings: Vec<String>,
}

/// A note of a typed tab. If the harp cannot sound the action, `midi` is null and `name` is `?`.
#[derive(Serialize)]
pub(super) struct TypedNote {
    line: u32,
    column: u32,
    #[serde(flatten)]
    action: ActionInfo,
    midi: Option<u8>,
    name: String,
}
