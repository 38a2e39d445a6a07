//! Answers as JSON: one object with `"schema": 1`, from types that exist only for this.
//!
//! The field names and their meaning are the contract with other programs; they change only with the schema number.
//! Bars count from 1 (a pickup is bar 0), parts from 1, `midi` 60 is C4, and pitch is always sounding pitch. Beats are
//! quarters as decimal numbers where they are times, and beats of the time signature where they are places.

mod practice;

use serde::{Serialize, Serializer, ser::SerializeMap as _};

use super::{
    Tune, alternatives, changes, choice, chords, lesson, positions, reasons, typed, warnings, words,
};
pub use practice::practice;

use crate::{
    compare::{
        Difference,
        choice::Choice,
        lesson::{Fault, FaultKind},
    },
    harp::{
        Action, Bend, Breath, Harp, Technique,
        chord::{self, Grip},
        position::Stretch,
    },
    melody::{
        Melody,
        key::{self, Mode},
        phrase, tempo,
    },
    search::{self, Ranking, Request, Term, ways::Kind},
    tab::{Notation, Style, read::TabText},
    time::Beats,
};

/// The number of this contract.
const SCHEMA: u32 = 1;

/// The answer of `breathline notes`.
pub fn notes(tune: &Tune) -> String {
    let imported = tune.imported;
    let melody = &imported.melody;
    let parts: Vec<Part> = imported
        .parts
        .iter()
        .enumerate()
        .map(|(index, part)| Part {
            number: index + 1,
            name: part.name.as_deref(),
            notes: part.notes,
            lowest: part.range.map(|(low, _)| low.midi()),
            highest: part.range.map(|(_, high)| high.midi()),
            percussion: part.percussion,
        })
        .collect();
    let chosen = &imported.choice;
    let mut phrase_end = vec![None; melody.notes.len()];
    for end in phrase::ends(melody) {
        phrase_end[end.note] = Some(end.strength);
    }
    let notes =
        melody.notes.iter().zip(melody.timing()).zip(phrase_end).map(|((note, sounding), phrase_end)| {
            let name = note.spelling.unwrap_or_else(|| melody.spelled(note.pitch, note.onset));
            Note {
                onset: note.onset.as_f64(),
                duration: note.duration.as_f64(),
                midi: note.pitch.midi(),
                name: name.to_string(),
                bar: melody.bars[note.bar].number,
                beat: melody.bars[note.bar].beat(note.onset).as_f64(),
                seconds: sounding.start as f64 / 1e6,
                lyric: note.lyrics.first().map(|lyric| lyric.text.as_str()),
                grace: note.grace,
                phrase_end,
            }
        });
    print(&Notes {
        schema: SCHEMA,
        title: tune.title(),
        composer: melody.credits.composer(),
        lyricist: melody.credits.lyricist(),
        arranger: melody.credits.arranger(),
        rights: &melody.credits.rights,
        unfolded: imported.unfolded,
        tempo: tempo_info(melody),
        warnings: warnings::lines(&imported.warnings),
        part: ChosenPart {
            number: chosen.part,
            name: imported.parts.get(chosen.part - 1).and_then(|part| part.name.as_deref()),
            why: super::notes::part(tune),
        },
        parts,
        key: key(tune),
        notes: notes.collect(),
    })
}

/// The answer of `breathline suggest`, at most `top` approaches.
pub fn suggest(
    tune: &Tune,
    player: &str,
    request: &Request,
    ranking: &Ranking,
    top: usize,
    style: search::Style,
) -> String {
    print(&Suggest { style: Some(style.word()), ..rows(tune, player, request, ranking, top) })
}

/// The answer of `breathline tab`: the one approach that was asked for.
pub fn tab(tune: &Tune, player: &str, request: &Request, ranking: &Ranking) -> String {
    print(&rows(tune, player, request, ranking, 1))
}

/// The answer of `breathline sheet`: the approaches that are drawn, and the files that were written.
pub fn sheet(tune: &Tune, player: &str, request: &Request, ranking: &Ranking, files: &[String]) -> String {
    let answer = rows(tune, player, request, ranking, ranking.approaches.len());
    print(&Drawn { answer, files })
}

fn rows<'a>(
    tune: &'a Tune,
    player: &'a str,
    request: &Request,
    ranking: &Ranking,
    top: usize,
) -> Suggest<'a> {
    let rows = ranking.approaches.iter().take(top).enumerate();
    Suggest {
        schema: SCHEMA,
        tune: tune_info(tune, request.melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        style: None,
        tried: ranking.tried,
        approaches: rows
            .map(|(index, row)| match &ranking.adapted {
                Some(adapted) if index == 0 => adapted_approach(request, row, adapted),
                _ => approach(request, index + 1, row),
            })
            .collect(),
        ways: ways(request, ranking),
        rival: rival(tune, ranking, top),
        unbent: ranking
            .ways
            .iter()
            .find(|way| way.kind == Kind::NoBends)
            .map(|way| unbent(request, &way.approach)),
    }
}

/// The best, and the other ways worth knowing.
fn ways(request: &Request, ranking: &Ranking) -> Vec<Way> {
    let Some(best) = ranking.best() else { return Vec::new() };
    let first = Way {
        way: Kind::Best.word(),
        approach: approach(request, 1, best),
        gives_up: Vec::new(),
        gains: Vec::new(),
    };
    let others = ranking.ways.iter().map(|way| {
        let balance = alternatives::balance(best, way, request.melody);
        Way {
            way: way.kind.word(),
            approach: approach(request, 1, &way.approach),
            gives_up: balance.gives_up,
            gains: balance.gains,
        }
    });
    std::iter::once(first).chain(others).collect()
}

/// The answer of `breathline positions`.
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

fn missing_in(query: positions::Query, found: &positions::Match, notation: Notation) -> MissingIn {
    let (mode, gaps) = positions::gaps(query, found);
    let notes = gaps.into_iter().map(|gap| GapInfo {
        degree: words::degree(gap.degree, &mode.scale()),
        hole: gap.hole,
        tab: gap.action.map(|action| notation.write(action)),
    });
    MissingIn { mode: mode.to_string(), notes: notes.collect() }
}

fn pentatonic(stretch: &Stretch, notation: Notation) -> PentatonicInfo {
    PentatonicInfo {
        scale: stretch.scale.to_string(),
        from: notation.write(stretch.low),
        to: notation.write(stretch.high),
    }
}

/// The answer of `breathline harp`.
pub fn harp(harp: &Harp, technique: Technique) -> String {
    let actions = harp.actions().iter().filter(|(_, action)| technique.allows(*action));
    let actions = actions.map(|&(pitch, action)| HarpAction {
        midi: pitch.midi(),
        name: super::harp::name(harp, pitch),
        action: action_info(action),
    });
    print(&HarpLayout { schema: SCHEMA, harp: harp_info(harp), actions: actions.collect() })
}

/// The answer of `breathline harp --chords`.
pub fn chords(harp: &Harp) -> String {
    let grips = chord::neighbours(harp).into_iter().chain(chord::splits(harp));
    let grips = grips.map(|grip| grip_info(harp, &grip));
    print(&Chords { schema: SCHEMA, harp: harp_info(harp), chords: grips.collect() })
}

fn grip_info(harp: &Harp, grip: &Grip) -> GripInfo {
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
        notes: grip.pitches.iter().map(|&pitch| super::harp::name(harp, pitch)).collect(),
        name: chords::name(grip),
        chord,
    }
}

/// The answer of `breathline tab` for a text of tab.
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

fn style_word(style: Style) -> &'static str {
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

/// The answer of `breathline check` without a tab.
pub fn choice(tune: &Tune, player: &str, request: &Request, choice: &Choice, style: &'static str) -> String {
    let melody = request.melody;
    let numbers = |bars: &[usize]| bars.iter().map(|&bar| melody.bars[bar].number).collect();
    let speaks = |row: &search::Approach, strengths: &[crate::compare::choice::Strength]| {
        let line = |strength| choice::strength_line(request, row, strength, Notation::default());
        strengths.iter().map(line).collect()
    };
    print(&Check {
        schema: SCHEMA,
        tune: tune_info(tune, melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        style,
        given: Some(approach(request, 1, &choice.given)),
        best: Some(approach(request, 1, &choice.best)),
        easier: Some(Easier { given: numbers(&choice.easier[0]), best: numbers(&choice.easier[1]) }),
        speaks_for: Some(SpeaksFor {
            given: speaks(&choice.given, &choice.strengths),
            best: speaks(&choice.best, &choice.weaknesses),
        }),
        differences: differences(request, &choice.differences),
        tab: None,
        wrong: Vec::new(),
    })
}

/// The answer of `breathline check` where the harp that was chosen sounds no note of the tune; the best may be another one.
pub fn unreached(
    tune: &Tune,
    player: &str,
    request: &Request,
    best: Option<&search::Approach>,
    style: &'static str,
) -> String {
    print(&Check {
        schema: SCHEMA,
        tune: tune_info(tune, request.melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        style,
        given: None,
        best: best.map(|best| approach(request, 1, best)),
        easier: None,
        speaks_for: None,
        differences: Vec::new(),
        tab: None,
        wrong: Vec::new(),
    })
}

/// The answer of `breathline check --tab`: `given` is the tab with its faults mended, `best` the least effort on the same
/// harp, in the same octave and key.
pub fn lesson(checked: &lesson::Checked, player: &str, style: &'static str) -> String {
    let lesson::Checked { tune, request, lesson, text, .. } = checked;
    let wrong = lesson.faults.iter().map(|fault| wrong(checked, fault));
    print(&Check {
        schema: SCHEMA,
        tune: tune_info(tune, request.melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        style,
        given: Some(approach(request, 1, &lesson.given)),
        best: Some(approach(request, 1, &lesson.least)),
        easier: None,
        speaks_for: None,
        differences: differences(request, &lesson.differences),
        tab: Some(CheckedTab {
            tab_style: style_word(text.style),
            notes: lesson.typed.len(),
            right: lesson.right,
            same_tune: lesson.same_tune,
            graces_left_out: lesson.graces_left_out,
            repeats_written_out: lesson.performed,
            arrows_turned: lesson.turned,
            in_key_on: lesson.in_key.as_ref().map(harp_info),
            other_tuning: lesson
                .other_tuning
                .as_ref()
                .map(|(harp, faults)| OtherTuning { harp: harp_info(harp), wrong: *faults }),
            best_choice: checked.best.map(|best| approach(request, 1, best)),
            warnings: text.oddities.iter().map(ToString::to_string).collect(),
        }),
        wrong: wrong.collect(),
    })
}

fn wrong(checked: &lesson::Checked, fault: &Fault) -> Wrong {
    let lesson::Checked { lesson, request, .. } = checked;
    let place = request.melody.place(fault.note, 1);
    let typed = fault.typed.map(|typed| lesson.typed[typed]);
    let has = typed.filter(|_| fault.kind != FaultKind::LeftOut);
    let side = |action: Option<Action>, pitch: Option<crate::pitch::Pitch>| WrongSide {
        action: action.map(action_info),
        midi: pitch.map(|pitch| pitch.midi()),
        name: pitch.map(|_| lesson::named(checked, fault, pitch)),
    };
    Wrong {
        kind: match fault.kind {
            FaultKind::Bend => "bend",
            FaultKind::Breath => "breath",
            FaultKind::Octave(_) => "octave",
            FaultKind::Hole => "hole",
            FaultKind::NotOnHarp => "not on the harp",
            FaultKind::NotInReach => "not in reach",
            FaultKind::LeftOut => "left out",
            FaultKind::Added => "added",
        },
        bar: place.bar,
        beat: place.beat.as_f64(),
        line: typed.map(|typed| typed.at.line),
        column: typed.map(|typed| typed.at.column),
        wants: (fault.kind != FaultKind::Added).then(|| side(fault.wants, fault.pitch)),
        has: has.map(|typed| side(Some(typed.action), fault.has)),
    }
}

fn differences(request: &Request, differences: &[Difference]) -> Vec<DifferenceInfo> {
    let info = |difference: &Difference| {
        let place = request.melody.place(difference.note, 1);
        DifferenceInfo {
            bar: place.bar,
            beat: place.beat.as_f64(),
            given: difference.given.map(action_info),
            best: difference.best.map(action_info),
            effort_given: effort_info(difference.effort_given),
            effort_best: effort_info(difference.effort_best),
        }
    };
    differences.iter().map(info).collect()
}

fn effort_info(effort: search::Effort) -> EffortInfo {
    EffortInfo { effort, is_adapted: false }
}

fn tune_info<'a>(tune: &'a Tune, notes: usize) -> TuneInfo<'a> {
    TuneInfo {
        title: tune.title(),
        notes,
        part: tune.imported.choice.part,
        unfolded: tune.imported.unfolded,
        tempo: tempo_info(&tune.imported.melody),
        warnings: warnings::lines(&tune.imported.warnings),
    }
}

fn tempo_info(melody: &Melody) -> Tempo {
    let micros = u64::from(melody.tempo.micros_per_quarter(Beats::ZERO)).max(1);
    let stated = melody.tempo.is_stated();
    let assumed = !stated && melody.tempo.is_known();
    Tempo {
        quarters_per_minute: (60_000_000 + micros / 2) / micros,
        stated,
        taken_as: assumed.then(|| tempo::usual(melody).kind.to_string()),
    }
}

fn player_info<'a>(player: &'a str, request: &Request) -> Player<'a> {
    Player {
        name: player,
        technique: request.technique.word(),
        harps: request.harps.iter().map(harp_info).collect(),
    }
}

fn breath_word(breath: Breath) -> &'static str {
    match breath {
        Breath::Blow => "blow",
        Breath::Draw => "draw",
    }
}

fn print(answer: &impl Serialize) -> String {
    // The types below hold only strings, numbers and lists: they always serialise.
    let mut text = serde_json::to_string_pretty(answer).unwrap_or_default();
    text.push('\n');
    text
}

fn key(tune: &Tune) -> KeyInfo {
    let finding = tune.key;
    let melody = &tune.imported.melody;
    let signature = melody.signatures.first().map(|signature| signature.sharps);
    let share = |per_cent: u8| f64::from(per_cent) / 100.0;
    let others = finding.others.iter().map(|guess| Other {
        tonic: guess.key.tonic_name(signature),
        mode: guess.key.mode.to_string(),
        confidence: share(guess.confidence),
    });
    let sections = key::sections(melody).into_iter().map(|section| KeySection {
        bar: melody.bars[melody.notes[section.note].bar].number,
        tonic: section.finding.key.tonic_name(Some(section.sharps)),
        mode: section.finding.key.mode.to_string(),
        confidence: share(section.finding.confidence),
    });
    KeyInfo {
        tonic: finding.key.tonic_name(signature),
        mode: finding.key.mode.to_string(),
        shade: key::shade(melody, finding.key).map(|shade| shade.to_string()),
        from: finding.source.to_string(),
        confidence: share(finding.confidence),
        tonic_confidence: share(finding.tonic_confidence),
        why: super::key::evidence(finding),
        others: others.collect(),
        sections: sections.collect(),
    }
}

fn rival(tune: &Tune, ranking: &Ranking, top: usize) -> Option<Rival> {
    let (other, guess) = (ranking.rival.as_ref()?, super::key::rival(tune.key)?);
    let melody = &tune.imported.melody;
    let rows = other.approaches.iter().take(top).enumerate().map(|(index, row)| RivalRow {
        rank: index + 1,
        row: self::row(row, other.key.mode, melody),
        bends: row.counts.bends(),
        effort: row.playing.effort.total(),
    });
    Some(Rival {
        tonic: other.key.tonic_name(melody.signatures.first().map(|signature| signature.sharps)),
        mode: other.key.mode.to_string(),
        tonic_confidence: f64::from(guess.confidence) / 100.0,
        approaches: rows.collect(),
    })
}

fn harp_info(harp: &Harp) -> HarpInfo {
    HarpInfo {
        key: harp.key().to_string(),
        register: match harp.register() {
            crate::harp::Register::Low => "low",
            crate::harp::Register::Standard => "standard",
            crate::harp::Register::High => "high",
        },
        tuning: harp.tuning().name().to_owned(),
    }
}

fn action_info(action: Action) -> ActionInfo {
    ActionInfo {
        hole: action.hole,
        breath: breath_word(action.breath),
        bend: match action.bend {
            Bend::Down(semitones) => semitones,
            Bend::None | Bend::Over => 0,
        },
        over: action.bend == Bend::Over,
    }
}

/// The winner as written, with what is changed in the tune, and how that is played, beside it.
fn adapted_approach(request: &Request, row: &search::Approach, adapted: &search::Approach) -> Approach {
    let melody = request.melody;
    let changes = adapted.changes.iter().map(|change| {
        let place = melody.place(change.note, 1);
        ChangeInfo {
            bar: place.bar,
            beat: place.beat.as_f64(),
            from: changes::from(melody, adapted, change),
            to: changes::to(melody, adapted, change),
            why: changes::why(melody, adapted, change),
        }
    });
    let effort = EffortInfo { effort: adapted.playing.effort, is_adapted: true };
    Approach {
        changes: Some(changes.collect()),
        adapted: Some(Adapted { missing: missing(melody, adapted), effort, tab: actions(adapted) }),
        ..approach(request, 1, row)
    }
}

fn actions(row: &search::Approach) -> Vec<Option<ActionInfo>> {
    row.playing.notes.iter().map(|played| played.action.map(action_info)).collect()
}

fn row(row: &search::Approach, mode: Mode, melody: &Melody) -> Row {
    Row {
        harp: harp_info(row.harp),
        position: row.position.number(),
        octave: row.octave,
        sounding_key: super::key::sounding(row, mode, melody),
        transposed: row.transposed.0,
        notes: row.counts.notes,
        playable: row.counts.playable,
    }
}

fn unbent(request: &Request, row: &search::Approach) -> Unbent {
    Unbent {
        row: self::row(row, request.key.mode, request.melody),
        missing: missing(request.melody, row),
        effort: row.playing.effort.total(),
    }
}

fn missing(melody: &Melody, row: &search::Approach) -> Vec<Missing> {
    let silent = row.playing.notes.iter().enumerate().filter(|(_, played)| played.action.is_none());
    let missing = silent.filter(|&(index, _)| !row.is_changed(index));
    let missing = missing.map(|(index, _)| {
        let note = &melody.notes[index];
        let bar = &melody.bars[note.bar];
        // Moved by octaves a note can leave even the range of MIDI, and then has no name.
        let name = row.wanted(melody, note).map_or_else(|| "?".to_owned(), |name| name.to_string());
        Missing { bar: bar.number, beat: bar.beat(note.onset).as_f64(), name, grace: note.grace }
    });
    missing.collect()
}

fn approach(request: &Request, rank: usize, row: &search::Approach) -> Approach {
    let melody: &Melody = request.melody;
    let counts = &row.counts;
    let effort = row.playing.effort;
    Approach {
        rank,
        row: self::row(row, request.key.mode, melody),
        missing: missing(melody, row),
        bends: BendCounts {
            draw: counts.draw_bends,
            blow: counts.blow_bends,
            overblow: counts.overblows,
            overdraw: counts.overdraws,
        },
        breath: BreathCounts { changes: counts.breath_changes, awkward: counts.awkward },
        register: counts.region().word(),
        comfortable_to: reasons::comfortable_tempo(request, row),
        holes: counts.holes.map(|(lowest, highest)| Holes { lowest, highest }),
        effort: effort_info(effort),
        changes: None,
        reasons: reasons::reasons(row, request),
        tab: actions(row),
        adapted: None,
    }
}

#[derive(Serialize)]
struct Notes<'a> {
    schema: u32,
    title: &'a str,
    composer: Option<String>,
    lyricist: Option<String>,
    arranger: Option<String>,
    rights: &'a [String],
    unfolded: bool,
    tempo: Tempo,
    warnings: Vec<String>,
    part: ChosenPart<'a>,
    parts: Vec<Part<'a>>,
    key: KeyInfo,
    notes: Vec<Note<'a>>,
}

#[derive(Serialize)]
struct ChosenPart<'a> {
    number: usize,
    name: Option<&'a str>,
    why: String,
}

#[derive(Serialize)]
struct Part<'a> {
    number: usize,
    name: Option<&'a str>,
    notes: usize,
    lowest: Option<u8>,
    highest: Option<u8>,
    percussion: bool,
}

#[derive(Serialize)]
struct KeyInfo {
    tonic: String,
    mode: String,
    /// `harmonic minor`, `melodic minor` or `blues`, where notes beside the mode tell it.
    #[serde(skip_serializing_if = "Option::is_none")]
    shade: Option<String>,
    from: String,
    confidence: f64,
    /// How sure the tonic is, in whatever mode.
    tonic_confidence: f64,
    /// What speaks for it, those that count most first.
    why: Vec<String>,
    others: Vec<Other>,
    /// The keys one after the other, where the signature changes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    sections: Vec<KeySection>,
}

/// What stands under one signature, from a bar on.
#[derive(Serialize)]
struct KeySection {
    bar: u32,
    tonic: String,
    mode: String,
    confidence: f64,
}

#[derive(Serialize)]
struct Other {
    tonic: String,
    mode: String,
    confidence: f64,
}

/// Times are in quarters, `seconds` is when the note starts at the tune's tempo.
#[derive(Serialize)]
struct Note<'a> {
    onset: f64,
    duration: f64,
    midi: u8,
    name: String,
    bar: u32,
    beat: f64,
    seconds: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    lyric: Option<&'a str>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    grace: bool,
    /// How clear it is, in per cent, that a phrase ends with this note; absent where none does.
    #[serde(skip_serializing_if = "Option::is_none")]
    phrase_end: Option<u8>,
}

#[derive(Serialize)]
struct Suggest<'a> {
    schema: u32,
    tune: TuneInfo<'a>,
    key: KeyInfo,
    player: Player<'a>,
    /// `plain`, `blues` or `folk`, of `suggest`.
    #[serde(skip_serializing_if = "Option::is_none")]
    style: Option<&'static str>,
    /// How many approaches there are, those that are not given included.
    tried: usize,
    approaches: Vec<Approach>,
    /// The best and other ways worth knowing; for `tab` and `sheet` only the one that was asked for.
    ways: Vec<Way>,
    /// The rows under the key that it may be instead, in short; only where the key is in doubt.
    #[serde(skip_serializing_if = "Option::is_none")]
    rival: Option<Rival>,
    /// The best without bends, in short; only where the winner bends or lacks notes and it is another playing that lacks few.
    #[serde(skip_serializing_if = "Option::is_none")]
    unbent: Option<Unbent>,
}

/// A way worth knowing, beside the best.
#[derive(Serialize)]
struct Way {
    /// `best`, `every-note`, `no-bends`, `lower`, `other-register`, `other-tuning` or `own-key`.
    way: &'static str,
    approach: Approach,
    gives_up: Vec<String>,
    gains: Vec<String>,
}

#[derive(Serialize)]
struct Drawn<'a> {
    #[serde(flatten)]
    answer: Suggest<'a>,
    /// The files that were written, in order of their pages.
    files: &'a [String],
}

/// What every row of a ranking says, in full or in short.
#[derive(Serialize)]
struct Row {
    harp: HarpInfo,
    position: u8,
    octave: i8,
    sounding_key: String,
    transposed: i16,
    notes: u32,
    playable: u32,
}

#[derive(Serialize)]
struct Unbent {
    #[serde(flatten)]
    row: Row,
    missing: Vec<Missing>,
    effort: u64,
}

#[derive(Serialize)]
struct Rival {
    tonic: String,
    mode: String,
    tonic_confidence: f64,
    approaches: Vec<RivalRow>,
}

#[derive(Serialize)]
struct RivalRow {
    rank: usize,
    #[serde(flatten)]
    row: Row,
    bends: u32,
    effort: u64,
}

#[derive(Serialize)]
struct TuneInfo<'a> {
    title: &'a str,
    notes: usize,
    part: usize,
    unfolded: bool,
    tempo: Tempo,
    warnings: Vec<String>,
}

/// How fast the tune begins.
#[derive(Serialize)]
struct Tempo {
    quarters_per_minute: u64,
    /// Whether the file or the user said so.
    stated: bool,
    /// Where nobody did: what the tune is taken for, as in `a reel`.
    #[serde(skip_serializing_if = "Option::is_none")]
    taken_as: Option<String>,
}

#[derive(Serialize)]
struct Player<'a> {
    name: &'a str,
    technique: &'static str,
    harps: Vec<HarpInfo>,
}

#[derive(Serialize)]
struct HarpInfo {
    key: String,
    register: &'static str,
    tuning: String,
}

#[derive(Serialize)]
struct Approach {
    rank: usize,
    #[serde(flatten)]
    row: Row,
    missing: Vec<Missing>,
    bends: BendCounts,
    breath: BreathCounts,
    /// Where most of the notes lie: `low`, `middle` or `high`.
    register: &'static str,
    /// Quarters a minute up to which the playing is comfortable; null for any tempo.
    comfortable_to: Option<u64>,
    holes: Option<Holes>,
    effort: EffortInfo,
    /// What is changed in the tune so that it can be played; only on the first approach.
    #[serde(skip_serializing_if = "Option::is_none")]
    changes: Option<Vec<ChangeInfo>>,
    reasons: Vec<String>,
    /// Null where a note is missing.
    tab: Vec<Option<ActionInfo>>,
    /// How it is played with those changes; only where there are some.
    #[serde(skip_serializing_if = "Option::is_none")]
    adapted: Option<Adapted>,
}

/// An approach with the tune changed for it.
#[derive(Serialize)]
struct Adapted {
    missing: Vec<Missing>,
    effort: EffortInfo,
    tab: Vec<Option<ActionInfo>>,
}

#[derive(Serialize)]
struct Missing {
    bar: u32,
    beat: f64,
    name: String,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    grace: bool,
}

#[derive(Serialize)]
struct BendCounts {
    draw: u32,
    blow: u32,
    overblow: u32,
    overdraw: u32,
}

#[derive(Serialize)]
struct BreathCounts {
    changes: u32,
    awkward: u32,
}

#[derive(Serialize)]
struct Holes {
    lowest: u8,
    highest: u8,
}

/// The sum and each term by its name; what changes to the tune cost only where they were asked for.
struct EffortInfo {
    effort: search::Effort,
    is_adapted: bool,
}

impl Serialize for EffortInfo {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("total", &self.effort.total())?;
        for (term, points) in self.effort.terms() {
            if term != Term::Changes || self.is_adapted {
                map.serialize_entry(term.name(), &points)?;
            }
        }
        map.end()
    }
}

/// A note that was changed; `to` is null for one that is left out.
#[derive(Serialize)]
struct ChangeInfo {
    bar: u32,
    beat: f64,
    from: String,
    to: Option<String>,
    why: String,
}

#[derive(Serialize)]
struct ActionInfo {
    hole: u8,
    breath: &'static str,
    bend: u8,
    over: bool,
}

#[derive(Serialize)]
struct Positions<'a> {
    schema: u32,
    positions: Vec<PositionRow<'a>>,
}

#[derive(Serialize)]
struct PositionRow<'a> {
    harp: String,
    position: u8,
    song_key: String,
    /// The degrees of the song's scale that no natural note sounds; only where the mode was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    needs_bends_for: Option<Vec<&'static str>>,
    mode: Option<String>,
    degrees: &'a [u8],
    used_for: Option<&'static str>,
    tonic_at: Vec<String>,
    /// Tonics between the ends of the harp that only bends sound.
    tonic_bent_at: Vec<String>,
    /// What no reed sounds of the song's scale, or of the one nearest to the natural notes.
    missing: MissingIn,
    /// The pentatonic scales that need no bends, and from where to where.
    pentatonics: Vec<PentatonicInfo>,
    /// Where a feel was asked for: how many notes its scale has between the ends of the harp, and how many need no bend.
    #[serde(skip_serializing_if = "Option::is_none")]
    feel: Option<FeelInfo>,
    careful: Vec<CarefulIn>,
}

#[derive(Serialize)]
struct MissingIn {
    mode: String,
    notes: Vec<GapInfo>,
}

#[derive(Serialize)]
struct GapInfo {
    degree: &'static str,
    hole: u8,
    /// The bend or overbend that sounds it.
    tab: Option<String>,
}

#[derive(Serialize)]
struct FeelInfo {
    name: &'static str,
    notes: usize,
    natural: usize,
}

#[derive(Serialize)]
struct PentatonicInfo {
    scale: String,
    from: String,
    to: String,
}

#[derive(Serialize)]
struct CarefulIn {
    mode: String,
    holes: Vec<String>,
}

#[derive(Serialize)]
struct HarpLayout {
    schema: u32,
    harp: HarpInfo,
    actions: Vec<HarpAction>,
}

#[derive(Serialize)]
struct HarpAction {
    midi: u8,
    name: String,
    #[serde(flatten)]
    action: ActionInfo,
}

/// Where two rows are compared, or a tab with the tune: then `tab` and `wrong` say what was found in it.
#[derive(Serialize)]
struct Check<'a> {
    schema: u32,
    tune: TuneInfo<'a>,
    key: KeyInfo,
    player: Player<'a>,
    style: &'static str,
    /// Null where the harp that was chosen sounds no note.
    given: Option<Approach>,
    best: Option<Approach>,
    /// The numbers of the bars in which one of them costs less.
    #[serde(skip_serializing_if = "Option::is_none")]
    easier: Option<Easier>,
    #[serde(skip_serializing_if = "Option::is_none")]
    speaks_for: Option<SpeaksFor>,
    differences: Vec<DifferenceInfo>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tab: Option<CheckedTab>,
    wrong: Vec<Wrong>,
}

#[derive(Serialize)]
struct Easier {
    given: Vec<u32>,
    best: Vec<u32>,
}

#[derive(Serialize)]
struct SpeaksFor {
    given: Vec<String>,
    best: Vec<String>,
}

/// A note that is played differently; the efforts are those from it up to the next such note.
#[derive(Serialize)]
struct DifferenceInfo {
    bar: u32,
    beat: f64,
    given: Option<ActionInfo>,
    best: Option<ActionInfo>,
    effort_given: EffortInfo,
    effort_best: EffortInfo,
}

#[derive(Serialize)]
struct CheckedTab {
    tab_style: &'static str,
    notes: usize,
    right: usize,
    /// Whether it is tab of this tune at all.
    same_tune: bool,
    graces_left_out: usize,
    repeats_written_out: bool,
    arrows_turned: bool,
    /// The harp on which the tab is in the tune's key, where it is not on the given one.
    in_key_on: Option<HarpInfo>,
    other_tuning: Option<OtherTuning>,
    /// The best row of all harps that were compared with.
    best_choice: Option<Approach>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct OtherTuning {
    harp: HarpInfo,
    wrong: usize,
}

/// Something in a tab that is not as in the tune. `wants` is null for a note that is not in the tune, `has` for one that
/// is left out; line and column are then those of the note before.
#[derive(Serialize)]
struct Wrong {
    kind: &'static str,
    bar: u32,
    beat: f64,
    line: Option<u32>,
    column: Option<u32>,
    wants: Option<WrongSide>,
    has: Option<WrongSide>,
}

/// The action is null where the harp or the player has none, the pitch where the harp has no such note.
#[derive(Serialize)]
struct WrongSide {
    action: Option<ActionInfo>,
    midi: Option<u8>,
    name: Option<String>,
}

#[derive(Serialize)]
struct Typed<'a> {
    schema: u32,
    title: &'a str,
    harp: HarpInfo,
    tab_style: &'static str,
    notes: Vec<TypedNote>,
    /// The order of performance: indices of the notes, repeats written out.
    performed: Vec<usize>,
    warnings: Vec<String>,
}

/// A note of a text; `midi` is null and the name `?` where the harp has no such note.
#[derive(Serialize)]
struct TypedNote {
    line: u32,
    column: u32,
    #[serde(flatten)]
    action: ActionInfo,
    midi: Option<u8>,
    name: String,
}

#[derive(Serialize)]
struct Chords {
    schema: u32,
    harp: HarpInfo,
    chords: Vec<GripInfo>,
}

/// Holes that sound together; `chord` is the symbol, or null for an interval and what has no name.
#[derive(Serialize)]
struct GripInfo {
    holes: Vec<u8>,
    breath: &'static str,
    split: bool,
    midi: Vec<u8>,
    notes: Vec<String>,
    name: String,
    chord: Option<String>,
}
