//! The content of the page to practise from. It has the ranking as a picture, each approach with its demands and its
//! notes over time, and the numbers with which the page's player sounds them. This module decides and words everything;
//! [`crate::render::html`] draws it, and [`crate::json`] hands the numbers to the page's script.

use super::{Block, Column, Line, Page, Table, Tune, changes, harp, ranking, reasons, suggest, tab, words};
use crate::{
    harp::{Action, Breath, HOLES},
    import::repeats,
    melody::{Bar, Melody},
    pitch::PitchClass,
    search::{
        Approach, Effort, Ranking, Request, Term,
        air::{self, Level},
        breath::Limit,
    },
    tab::Notation,
    time::Beats,
};

/// The most rows of the ranking that the page shows.
pub const ROWS: usize = 10;
/// The most notes on the page, over all its rows. A note takes two kilobytes, unpacked, and a phone must be able to
/// open the file. A tune of more than 600 notes gets fewer rows, at least one.
const MOST_NOTES: usize = 6000;

/// Everything on the page.
#[derive(Clone, PartialEq, Debug)]
pub struct Practice {
    /// The tune's title.
    pub title: String,
    /// The tune as read, and its oddities.
    pub opening: Page,
    /// Which harp to pick up, what to try if notes are missing, and the alternatives.
    pub verdict: Page,
    /// The rows, best first; empty if no harp can play a note of the tune.
    pub rows: Vec<PracticeRow>,
    /// The effort at the right end of the ranking's picture. The bars of rows that cost more extend beyond the picture.
    pub axis: u64,
    /// The ranking in numbers, and the effort by its parts.
    pub numbers: Page,
    /// The bars, from the first to the last in which a note sounds.
    pub bars: Vec<PracticeBar>,
    /// The notes of the tune.
    pub notes: Vec<PracticeNote>,
    /// The tune's chords to play along with; empty without chord symbols.
    pub chords: Vec<PracticeChord>,
    /// The end of the tune, in milliseconds.
    pub end_ms: u64,
    /// The stretches of the tune in playing order, as [from, to] in milliseconds: several if the tune has repeats or
    /// jumps.
    pub order: Vec<[u64; 2]>,
    /// The tempo at the beginning, in quarters a minute.
    pub quarters_per_minute: u64,
    /// Whether players count the beat in dotted quarters.
    pub counts_dotted: bool,
    /// The player's lungs: their capacity and their comfortable range.
    pub lungs: Lungs,
    /// Cautions.
    pub cautions: Vec<Line>,
}

/// A bar, at the tune's own tempo. Its start and its end are counted from the beginning of the first bar shown.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PracticeBar {
    /// The bar's name to a musician: "pickup", or its number. An ending's number, or "(second half)" for the rest of a
    /// split bar, follows the name.
    pub label: String,
    /// When it begins.
    pub start_ms: u64,
    /// When it ends.
    pub end_ms: u64,
    /// The length of a felt beat, in microseconds.
    pub beat_us: u64,
    /// The number of felt beats in a full bar of its meter.
    pub beats: u32,
    /// The time to count in before the bar, in microseconds: a full bar, and before a pickup also the part that the
    /// pickup lacks.
    pub count_in_us: u64,
}

/// A note of the tune, on any harp.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PracticeNote {
    /// The time at which the note begins.
    pub start_ms: u64,
    /// When it stops.
    pub end_ms: u64,
    /// The index of the note's bar in [`Practice::bars`].
    pub bar: usize,
    /// "bar 3 beat 2", and the first syllable under the note, if it has any.
    pub place: String,
}

/// A chord of the tune, in the tune's own key.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PracticeChord {
    /// The time at which the chord begins.
    pub start_ms: u64,
    /// The time at which the next chord begins, or at which the tune ends.
    pub end_ms: u64,
    /// The MIDI pitches of the bass and the notes of the chord, in a register below most tunes.
    pub midi: Vec<u8>,
}

/// A row of the ranking.
#[derive(Clone, PartialEq, Debug)]
pub struct PracticeRow {
    /// "C harp".
    pub harp: String,
    /// "2nd position, an octave up".
    pub place: String,
    /// "plays all", "plays 81 of 88".
    pub plays: String,
    /// Whether the row plays all notes, grace notes aside.
    pub plays_all: bool,
    /// The effort.
    pub effort: Effort,
    /// The approach, and the reasons why it is good or hard.
    pub about: Page,
    /// The bars that cost most.
    pub hard: Vec<HardBar>,
    /// The tab as text, and its legend.
    pub tab: Page,
    /// The transposition of the tune and of its chords, in semitones, without whole octaves.
    pub moved: i16,
    /// The MIDI pitch of a drone on the tonic.
    pub drone: u8,
    /// The natural notes of the harp, hole by hole.
    pub reeds: Vec<Reeds>,
    /// The different ways in which the row plays notes, each once.
    pub ways: Vec<Way>,
    /// The playing of each note of the tune.
    pub notes: Vec<Played>,
    /// The air in the lungs over time.
    pub air: Vec<Level>,
}

/// The terms of the effort in the picture's order. Missing notes come first, so that rows with missing notes stand out.
/// The terms that players discuss most come next.
pub const PICTURED: [Term; Term::ALL.len()] = [
    Term::Missing,
    Term::Bends,
    Term::Breath,
    Term::Moves,
    Term::Register,
    Term::Lungs,
    Term::Position,
    Term::Changes,
];

/// Returns what a term prices, for a legend.
pub fn meaning(term: Term) -> &'static str {
    match term {
        Term::Missing => "notes that are left out",
        Term::Bends => "bends and overbends",
        Term::Breath => "turns of the breath",
        Term::Moves => "jumps from hole to hole",
        Term::Register => "the ends of the harp",
        Term::Lungs => "too little or too much air",
        Term::Position => "a less familiar position",
        Term::Changes => "changes to the tune",
    }
}

/// A hard bar, with advice.
#[derive(Clone, PartialEq, Debug)]
pub struct HardBar {
    /// Why the bar is hard, and the tempo at which to practise it.
    pub text: Line,
    /// The index of the bar in [`Practice::bars`].
    pub bar: usize,
    /// The tempo at which the bar is comfortable, in per cent of the tune's tempo; `None` where time is not the
    /// difficulty.
    pub percent: Option<u32>,
}

/// The names of a hole's two natural notes.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Reeds {
    /// 1 to 10.
    pub hole: u8,
    /// The blow note.
    pub blow: String,
    /// The draw note.
    pub draw: String,
}

/// A way in which the row plays notes: an action and the note's name.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Way {
    /// The action; `None` for a silent note.
    pub action: Option<Action>,
    /// The MIDI pitch that sounds.
    pub midi: Option<u8>,
    /// "draw 3 with a half-step bend, Bb4", or "F#5, not played".
    pub say: String,
}

/// The playing of one note.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Played {
    /// The index of the note's way in [`PracticeRow::ways`].
    pub way: usize,
    /// Whether the breath changes direction before the note.
    pub turn: bool,
    /// Whether that change of direction is awkward.
    pub awkward: bool,
    /// Whether to breathe after the note.
    pub breathe_after: bool,
    /// The limit that the lungs reach during the note, if any.
    pub limit: Option<Limit>,
    /// Whether the tune was changed at this note.
    pub changed: bool,
}

/// The player's lungs, in millilitres.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Lungs {
    /// The air that the lungs move from the deepest breath out to the deepest breath in.
    pub capacity_ml: u32,
    /// The comfortable range, as [from, to].
    pub easy_ml: [u32; 2],
}

/// Returns the rows of the page in order. An adapted winner takes the place of the winner.
pub fn shown<'r, 'a>(ranking: &'r Ranking<'a>) -> Vec<&'r Approach<'a>> {
    let first = ranking.adapted.as_ref().or(ranking.best());
    let notes = first.map_or(0, |approach| approach.playing.notes.len());
    let fit = (MOST_NOTES / notes.max(1)).clamp(1, ROWS);
    first.into_iter().chain(ranking.approaches.iter().skip(1)).take(fit).collect()
}

/// Builds the page.
pub fn practice(tune: &Tune, request: &Request, ranking: &Ranking, notation: Notation) -> Practice {
    let melody = request.melody;
    let shown = shown(ranking);
    let time = Clock::new(melody);
    let rows: Vec<PracticeRow> =
        shown.iter().map(|approach| row(request, approach, notation, &time)).collect();
    let lungs = &request.weights.lungs;
    let percent = |percent: u32| (u64::from(lungs.capacity_ml) * u64::from(percent) / 100) as u32;
    let per_quarter = u64::from(melody.tempo.micros_per_quarter(Beats::ZERO)).max(1);
    Practice {
        counts_dotted: words::counts_dotted(melody),
        title: tune.title().to_owned(),
        opening: suggest::opening(tune),
        verdict: suggest::verdict_page(tune, request, ranking),
        axis: axis(&rows),
        numbers: numbers(&rows, ranking::table(&shown, request, true)),
        bars: time.bars(melody),
        notes: time.notes(melody),
        chords: time.chords(melody),
        end_ms: time.end_ms,
        order: time.order(melody),
        quarters_per_minute: (60_000_000 + per_quarter / 2) / per_quarter,
        lungs: Lungs { capacity_ml: lungs.capacity_ml, easy_ml: lungs.easy.map(percent) },
        cautions: cautions(&rows, ranking.approaches.len()),
        rows,
    }
}

/// Builds rows for ways to play the tune that are not in the ranking, such as the two ways of a check.
pub fn rows(request: &Request, ways: &[&Approach], notation: Notation) -> Vec<PracticeRow> {
    let time = Clock::new(request.melody);
    ways.iter().map(|approach| row(request, approach, notation, &time)).collect()
}

/// Returns the effort at the right end of the picture: at most four times the best row's effort, because a longer axis
/// would squeeze the parts of the best row into a line. If the best row costs nothing, the largest effort is at the
/// end.
fn axis(rows: &[PracticeRow]) -> u64 {
    let most = rows.iter().map(|row| row.effort.total()).max().unwrap_or(0);
    match rows.first().map_or(0, |row| row.effort.total()) {
        0 => most.max(1),
        best => most.min(best.saturating_mul(4)),
    }
}

/// Returns the picture's numbers, and the remaining counts of the ranking.
fn numbers(rows: &[PracticeRow], ranking: Table) -> Page {
    let is_used = |term: &Term| rows.iter().any(|row| row.effort[*term] > 0);
    let used: Vec<Term> = PICTURED.into_iter().filter(is_used).collect();
    let mut columns = vec![Column::numbers(""), Column::words("harp"), Column::words("position")];
    columns.extend(used.iter().map(|term| Column::numbers(term.name())));
    columns.push(Column::numbers("in all"));
    let mut table = Table { columns, rows: Vec::new() };
    for (index, row) in rows.iter().enumerate() {
        let cells = [(index + 1).to_string(), row.harp.clone(), row.place.clone()].into_iter();
        let cells = cells
            .chain(used.iter().map(|&term| row.effort[term].to_string()))
            .chain([row.effort.total().to_string()]);
        table.rows.push(cells.map(Line::from).collect());
    }
    let mut page = Page::default();
    page.heading("Effort by its parts");
    page.blocks.push(Block::Table(table));
    page.heading("Notes, bends and breath turns");
    page.blocks.push(Block::Table(ranking));
    page
}

fn cautions(rows: &[PracticeRow], tried: usize) -> Vec<Line> {
    let mut lines = Vec::new();
    if rows.len() < tried.min(ROWS) {
        let ways = words::plural(rows.len() as u32, "way", "ways");
        lines.push(format!("The tune is long, so the page has room for only the best {ways} to play it."));
    }
    if rows.iter().flat_map(|row| &row.ways).any(|way| way.midi.is_none()) {
        lines.push("Notes that the tab leaves out stay silent.".to_owned());
    }
    lines.push(
        "The lung level is an estimate from typical lungs and typical flows, not a measurement of yours. If you feel \
         light-headed, stop and breathe normally until it has passed."
            .to_owned(),
    );
    lines.into_iter().map(Line::from).collect()
}

fn row(request: &Request, approach: &Approach, notation: Notation, time: &Clock) -> PracticeRow {
    let melody = request.melody;
    let effort = approach.playing.effort;
    let counts = &approach.counts;
    let mut ways: Vec<Way> = Vec::new();
    let mut notes = Vec::new();
    for (index, played) in approach.playing.notes.iter().enumerate() {
        let way = way(melody, approach, index, played.action);
        let known = ways.iter().position(|known| *known == way).unwrap_or(ways.len());
        if known == ways.len() {
            ways.push(way);
        }
        notes.push(Played {
            way: known,
            turn: played.breath_change,
            awkward: played.awkward,
            breathe_after: played.breathe_after,
            limit: played.limit,
            changed: approach.is_changed(index),
        });
    }
    let hard = reasons::hard(request, approach, notation).into_iter().map(|(hard, text)| HardBar {
        text,
        bar: time.index(hard.bar),
        percent: hard.hurry.map(|hurry| hurry.comfortable_percent()),
    });
    let mut tab_page = Page::default();
    tab_page.blocks.push(Block::Tab(tab::sheet(melody, approach, notation)));
    for line in tab::legend(melody, approach, notation) {
        tab_page.text(line);
    }
    let mut air = air::levels(melody, &approach.playing, request.weights);
    for level in &mut air {
        level.ms = level.ms.saturating_sub(time.start_ms);
    }
    PracticeRow {
        harp: words::harp(approach.harp),
        place: words::short_place(approach),
        plays_all: counts.is_full(),
        plays: match counts.is_full() {
            true => "plays all".to_owned(),
            false => format!("plays {} of {}", counts.playable, counts.notes),
        },
        effort,
        about: suggest::about(request, approach),
        hard: hard.collect(),
        tab: tab_page,
        moved: approach.transposed.0,
        drone: low(approach.tonic, LOWEST_BASS),
        reeds: (1..=HOLES).map(|hole| reeds(approach, hole)).collect(),
        ways,
        notes,
        air,
    }
}

/// The lowest pitches that accompany the tune: basses and drones lie from G2 to F#3, the notes of a chord from G3 to
/// F#4. Lower notes growl in small loudspeakers, and higher notes hide the tune.
const LOWEST_BASS: u8 = 43;
const LOWEST_CHORD: u8 = 55;

/// Returns the lowest pitch of a pitch class that is not below `lowest`.
fn low(class: PitchClass, lowest: u8) -> u8 {
    lowest + class.above(PitchClass::new(lowest.into()))
}

fn reeds(approach: &Approach, hole: u8) -> Reeds {
    let name = |breath: Breath| {
        let pitch = approach.harp.reed(hole, breath);
        pitch.map_or_else(String::new, |pitch| harp::name(approach.harp, pitch))
    };
    Reeds { hole, blow: name(Breath::Blow), draw: name(Breath::Draw) }
}

fn way(melody: &Melody, approach: &Approach, index: usize, action: Option<Action>) -> Way {
    let Some(action) = action else {
        let name = approach.wanted(melody, &melody.notes[index]);
        let name = name.map_or_else(|| "a note".to_owned(), |name| name.to_string());
        let say = match approach.is_changed(index) {
            true => format!("{name}, left out"),
            false => format!("{name}, not played"),
        };
        return Way { action: None, midi: None, say };
    };
    let pitch = approach.harp.pitch(action);
    let say = match approach.sounding(melody, index) {
        Some(name) => format!("{}, {name}", words::bent_hole(action)),
        None => words::bent_hole(action),
    };
    Way { action: Some(action), midi: pitch.map(|pitch| pitch.midi()), say }
}

/// The times of the bars that have notes; zero is the start of the first of these bars.
struct Clock {
    first: usize,
    last: usize,
    start_ms: u64,
    end_ms: u64,
}

impl Clock {
    fn new(melody: &Melody) -> Clock {
        let first = melody.notes.first().map_or(0, |note| note.bar);
        let last_note = melody.notes.last();
        // A long last note may continue into further bars.
        let sounding = last_note.map_or(0, |note| melody.bars.partition_point(|bar| bar.start < note.end()));
        let last = sounding.saturating_sub(1).max(last_note.map_or(0, |note| note.bar));
        let start_ms = melody.bars.get(first).map_or(0, |bar| melody.tempo.micros(bar.start) / 1000);
        let bar_end = melody.bars.get(last).map_or(Beats::ZERO, |bar| bar.start + bar.length);
        let end = last_note.map_or(Beats::ZERO, |note| note.end()).max(bar_end);
        let end_ms = (melody.tempo.micros(end) / 1000).saturating_sub(start_ms);
        Clock { first, last, start_ms, end_ms }
    }

    /// Returns the index, among the bars shown, of a bar of the melody.
    fn index(&self, bar: usize) -> usize {
        bar.clamp(self.first, self.last) - self.first
    }

    fn order(&self, melody: &Melody) -> Vec<[u64; 2]> {
        let shown = self.first..=self.last;
        let bars: Vec<usize> = repeats::order(melody).into_iter().filter(|bar| shown.contains(bar)).collect();
        let at = |beats: Beats| self.ms(melody.tempo.micros(beats));
        let runs = bars.chunk_by(|before, bar| before + 1 == *bar);
        let stretches = runs.map(|run| {
            let (first, last) = (&melody.bars[run[0]], run[run.len() - 1]);
            let end = &melody.bars[last];
            // The last note may last beyond its bar; the last stretch ends with the tune.
            let to = if last == self.last { self.end_ms } else { at(end.start + end.length) };
            [at(first.start), to]
        });
        stretches.collect()
    }

    fn ms(&self, micros: u64) -> u64 {
        (micros / 1000).saturating_sub(self.start_ms)
    }

    fn bars(&self, melody: &Melody) -> Vec<PracticeBar> {
        let bars = melody.bars.get(self.first..=self.last).unwrap_or_default();
        let mut named: Vec<PracticeBar> = bars.iter().map(|bar| self.bar(melody, bar)).collect();
        // Both halves of a bar that is split at a repeat have the same number.
        for (index, pair) in bars.windows(2).enumerate() {
            if pair[0].number == pair[1].number && pair[1].marks.ending.is_empty() {
                named[index + 1].label += " (second half)";
            }
        }
        named
    }

    fn bar(&self, melody: &Melody, bar: &Bar) -> PracticeBar {
        let at = |beats: Beats| self.ms(melody.tempo.micros(beats));
        let meter = bar.meter.unwrap_or(crate::time::Meter::COMMON);
        let per_quarter = u64::from(melody.tempo.micros_per_quarter(bar.start));
        let micros = |beats: Beats| {
            let (numerator, denominator) = beats.fraction();
            per_quarter.saturating_mul(numerator.unsigned_abs()) / denominator.unsigned_abs().max(1)
        };
        let (full, beat) = (meter.bar(), meter.felt_beat());
        let lacks = if bar.number == 0 && bar.length < full { full - bar.length } else { Beats::ZERO };
        let mut label = match bar.number {
            0 => "pickup".to_owned(),
            number => number.to_string(),
        };
        if !bar.marks.ending.is_empty() {
            let endings: Vec<String> = bar.marks.ending.iter().map(|number| format!("{number}.")).collect();
            label += &format!(" ({} ending)", endings.join(" "));
        }
        let beat_us = micros(beat).max(1);
        PracticeBar {
            label,
            start_ms: at(bar.start),
            end_ms: at(bar.start + bar.length),
            beat_us,
            beats: ((micros(full) + beat_us / 2) / beat_us).clamp(1, 64) as u32,
            count_in_us: micros(full + lacks),
        }
    }

    fn chords(&self, melody: &Melody) -> Vec<PracticeChord> {
        let ends = melody.chords.iter().skip(1).map(|chord| self.ms(melody.tempo.micros(chord.at)));
        let chords = melody.chords.iter().zip(ends.chain([self.end_ms])).map(|(chord, end_ms)| {
            let bass = chord.bass.or(chord.root).map(|name| low(name.class(), LOWEST_BASS));
            let notes = chord.notes().into_iter().map(|class| low(class, LOWEST_CHORD));
            PracticeChord {
                start_ms: self.ms(melody.tempo.micros(chord.at)),
                end_ms: end_ms.min(self.end_ms),
                midi: bass.into_iter().chain(notes).collect(),
            }
        });
        // A symbol for no chord, such as N.C., makes no sound.
        chords.filter(|chord| chord.start_ms < chord.end_ms && chord.midi.len() > 1).collect()
    }

    fn notes(&self, melody: &Melody) -> Vec<PracticeNote> {
        let notes = melody.notes.iter().zip(melody.timing()).enumerate();
        let notes = notes.map(|(index, (note, sounding))| {
            let word = note.lyrics.first().map(|lyric| format!(", \u{201c}{}\u{201d}", lyric.text));
            PracticeNote {
                start_ms: self.ms(sounding.start),
                end_ms: self.ms(sounding.end),
                bar: self.index(note.bar),
                place: changes::place(melody, index) + &word.unwrap_or_default(),
            }
        });
        notes.collect()
    }
}
