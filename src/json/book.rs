//! A book in lines of JSON: a line for each tune, rung or failure. The lines of tunes and failures are also read back.

use serde::{Deserialize, Serialize};

use super::{
    SCHEMA,
    approach::{self, ActionInfo, Approach, action_info},
    tune::{self, KeyInfo},
};
use crate::{
    book::{
        self, Entry, Steps, Way,
        ladder::{Demand, Rung},
    },
    harp::{Action, Bend, Breath, HOLES, Position},
    pages::Tune,
    search::{self, Request},
};

/// Returns the line of a tune: its entry, with the approach in the form that `suggest` uses.
pub fn line(tune: &Tune, entry: &Entry, request: &Request, best: Option<&search::Approach>) -> String {
    one_line(&BookLine {
        schema: SCHEMA,
        file: &entry.file,
        number: entry.number,
        nth: entry.nth,
        alone: entry.alone,
        title: &entry.title,
        key: tune::key(tune),
        approach: best.map(|best| approach::approach(request, 1, best)),
        harp: entry.best.as_ref().map(|best| best.harp.as_str()),
        steps: entry
            .best
            .as_ref()
            .map(|best| StepsInfo { jump: best.steps.jump, turn_ms: best.steps.turn_ms }),
        bars: book::bars(request.melody),
    })
}

/// A line read back.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Read {
    /// A tune.
    Tune(Box<Entry>),
    /// The name of a file, or of a tune in a file, that could not be read, and the reason.
    Failure(String, String),
}

/// Reads back a line of [`line()`] or [`failure`]; `None` if the text is neither.
pub fn read(line: &str) -> Option<Read> {
    match serde_json::from_str(line).ok()? {
        AnyLine::Tune(line) if line.schema == SCHEMA => entry(*line).map(|entry| Read::Tune(Box::new(entry))),
        AnyLine::Failure { schema: SCHEMA, file, error } => Some(Read::Failure(file, error)),
        _ => None,
    }
}

fn entry(line: ReadLine) -> Option<Entry> {
    let key = format!("{} {}", line.key.tonic, line.key.mode).parse().ok()?;
    let best = match (line.approach, line.harp, line.steps) {
        (Some(approach), Some(harp), Some(steps)) => Some(approach.way(harp, steps, line.bars)?),
        _ => None,
    };
    let sure = (line.key.confidence * 100.0).round() as u8;
    Some(Entry {
        file: line.file,
        number: line.number,
        nth: line.nth,
        alone: line.alone,
        title: line.title,
        key,
        tonic: line.key.tonic,
        sure,
        best,
    })
}

/// Returns the tabs of a page, as data for its script. They contain no `<`, so they are safe in an HTML `script`
/// element.
pub fn tabs(tabs: &[String]) -> String {
    one_line(&tabs).replace('<', "\\u003c")
}

/// Returns the line of a rung, with the file and the number of its tune.
pub fn rung(rung: &Rung, entry: &Entry) -> String {
    let mut adds = Adds::default();
    for demand in &rung.adds {
        match *demand {
            Demand::Bend(action) => adds.bends.push(action_info(action)),
            Demand::Jump(holes) => adds.jump = Some(holes),
            Demand::Turn(ms) => adds.turn_ms = Some(ms),
        }
    }
    let Entry { file, number, nth, title, .. } = entry;
    one_line(&RungLine { schema: SCHEMA, file, number: *number, nth: *nth, title, adds, opens: rung.opens })
}

/// Returns the line of a file or tune without an answer, with the reason.
pub fn failure(file: &str, error: &str) -> String {
    one_line(&Failure { schema: SCHEMA, file, error })
}

fn one_line(answer: &impl Serialize) -> String {
    // Serialising these types cannot fail, as in `print`.
    serde_json::to_string(answer).unwrap_or_default() + "\n"
}

#[derive(Serialize)]
struct BookLine<'a> {
    schema: u32,
    file: &'a str,
    number: u32,
    /// The tune's place among the tunes with the same number in the file, counted from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    nth: Option<u32>,
    /// Whether this is the only tune in the file.
    alone: bool,
    title: &'a str,
    key: KeyInfo,
    /// Null if no harp can play the tune.
    approach: Option<Approach>,
    /// The harp in words.
    harp: Option<&'a str>,
    steps: Option<StepsInfo>,
    /// The bar number of each note.
    bars: Vec<u32>,
}

/// The demands of the steps from note to note.
#[derive(Serialize, Deserialize)]
struct StepsInfo {
    /// The widest jump, in holes.
    jump: u8,
    /// The shortest time for a change of breath direction, in milliseconds.
    turn_ms: Option<u32>,
}

#[derive(Serialize)]
struct RungLine<'a> {
    schema: u32,
    file: &'a str,
    number: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    nth: Option<u32>,
    title: &'a str,
    adds: Adds,
    /// The number of remaining tunes that make no new demand after this tune.
    opens: usize,
}

/// The new demands of a tune; `jump` or `turn_ms` is null if the tune makes no new demand of this kind.
#[derive(Serialize, Default)]
struct Adds {
    bends: Vec<ActionInfo>,
    jump: Option<u8>,
    turn_ms: Option<u32>,
}

#[derive(Serialize)]
struct Failure<'a> {
    schema: u32,
    file: &'a str,
    error: &'a str,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum AnyLine {
    Tune(Box<ReadLine>),
    Failure { schema: u32, file: String, error: String },
}

/// The fields of a line from which an entry is built.
#[derive(Deserialize)]
struct ReadLine {
    schema: u32,
    file: String,
    number: u32,
    #[serde(default)]
    nth: Option<u32>,
    alone: bool,
    title: String,
    key: ReadKey,
    approach: Option<ReadApproach>,
    harp: Option<String>,
    steps: Option<StepsInfo>,
    bars: Vec<u32>,
}

#[derive(Deserialize)]
struct ReadKey {
    tonic: String,
    mode: String,
    confidence: f64,
}

#[derive(Deserialize)]
struct ReadApproach {
    position: u8,
    octave: i8,
    transposed: i16,
    notes: u32,
    missing: Vec<ReadMissing>,
    breath: ReadBreath,
    comfortable_to: Option<u64>,
    effort: ReadEffort,
    tab: Vec<Option<ReadAction>>,
}

impl ReadApproach {
    fn way(self, harp: String, steps: StepsInfo, bars: Vec<u32>) -> Option<Way> {
        let read = |action: Option<ReadAction>| match action {
            None => Some(None),
            Some(action) => action.action().map(Some),
        };
        let tab: Vec<Option<Action>> = self.tab.into_iter().map(read).collect::<Option<_>>()?;
        if bars.len() != tab.len() {
            return None;
        }
        Some(Way {
            harp,
            position: Position::new(self.position)?,
            octave: self.octave,
            transposed: self.transposed,
            notes: self.notes,
            is_full: self.missing.iter().all(|note| note.grace),
            missing: self.missing.into_iter().map(|note| note.name).collect(),
            bends: tab.iter().flatten().filter(|action| action.bend != Bend::None).count() as u32,
            awkward: self.breath.awkward,
            effort: self.effort.total,
            tempo: self.comfortable_to,
            steps: Steps { jump: steps.jump, turn_ms: steps.turn_ms },
            tab,
            bars,
        })
    }
}

#[derive(Deserialize)]
struct ReadMissing {
    name: String,
    #[serde(default)]
    grace: bool,
}

#[derive(Deserialize)]
struct ReadBreath {
    awkward: u32,
}

#[derive(Deserialize)]
struct ReadEffort {
    total: u64,
}

#[derive(Deserialize)]
struct ReadAction {
    hole: u8,
    breath: ReadDirection,
    bend: u8,
    over: bool,
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum ReadDirection {
    Blow,
    Draw,
}

impl ReadAction {
    fn action(self) -> Option<Action> {
        (1..=HOLES).contains(&self.hole).then_some(Action {
            hole: self.hole,
            breath: match self.breath {
                ReadDirection::Blow => Breath::Blow,
                ReadDirection::Draw => Breath::Draw,
            },
            bend: match (self.over, self.bend) {
                (true, _) => Bend::Over,
                (false, 0) => Bend::None,
                (false, depth) => Bend::Down(depth),
            },
        })
    }
}
