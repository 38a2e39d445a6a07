//! The page of a tune as read: the part and the reason for it, the key, the range, the oddities.

use itertools::Itertools;

use super::{Block, Column, Line, Page, Table, Tone, Tune, key, tab, warnings, words};
use crate::{
    import::{
        ChoiceReason, Format, Imported,
        pick::{Clue, Fact},
    },
    melody::{Bar, Credits, Melody, tempo as usual_tempo},
    pitch::Pitch,
    time::Beats,
};

/// Builds the page of `breathline notes`.
pub fn page(tune: &Tune, all_parts: bool) -> Page {
    let imported = tune.imported;
    let melody = &imported.melody;
    let mut page = Page::default();
    page.text(Tone::Strong.of(tune.title()));
    for line in credits(&melody.credits) {
        page.text(line);
    }
    page.text(measure(imported));
    page.text(format!("{}, {}", format(imported.format), part(tune)));
    page.blocks.extend(key::lines(tune));
    page.blocks.extend(oddities(tune));
    if imported.parts.len() > 1 {
        page.heading(Tone::Strong.of("Parts"));
        let columns = vec![
            Column::numbers("part"),
            Column::words("name"),
            Column::numbers("notes"),
            Column::words("range"),
            Column::words(""),
        ];
        let mut table = Table { columns, rows: Vec::new() };
        for (index, part) in imported.parts.iter().enumerate() {
            let chosen = index + 1 == imported.choice.part;
            let tone = if chosen { Tone::Strong } else { Tone::Plain };
            let range = match part.range {
                _ if part.percussion => "percussion".to_owned(),
                Some((low, high)) => format!("{} to {}", spelled(melody, low), spelled(melody, high)),
                None => String::new(),
            };
            table.rows.push(vec![
                tone.of((index + 1).to_string()),
                tone.of(part.name.as_deref().unwrap_or("(no name)")),
                tone.of(part.notes.to_string()),
                tone.of(range),
                tone.of(if chosen { "the melody" } else { "" }),
            ]);
        }
        page.blocks.push(Block::Table(table));
        let is_choice = imported.choice.evidence.len() > 1;
        if is_choice && all_parts {
            evidence(tune, &mut page);
        } else if is_choice {
            page.text(Tone::Faint.of("--part N takes another part; --all-parts shows the points of each."));
        }
    }
    page.heading(Tone::Strong.of("The notes"));
    let sheet = tab::names(melody);
    let breathes = sheet.bars.iter().flat_map(|bar| &bar.notes).any(|note| note.breathe_after);
    page.blocks.push(Block::Tab(sheet));
    if breathes {
        page.gap();
        page.text(", over the end of a note: the end of a slur, or a breath mark.");
    }
    page
}

/// Returns the makers and the rights, one line each.
fn credits(credits: &Credits) -> Vec<String> {
    makers(credits).into_iter().chain(credits.rights.iter().cloned()).collect()
}

/// Returns "by A. Nonymous, words by B. Nonymous".
pub(super) fn makers(credits: &Credits) -> Option<String> {
    let mut made: Vec<String> = Vec::new();
    made.extend(credits.composer().map(|name| if is_name(&name) { format!("by {name}") } else { name }));
    for (name, by, otherwise) in
        [(credits.lyricist(), "words by", "words:"), (credits.arranger(), "arranged by", "arrangement:")]
    {
        made.extend(name.map(|name| format!("{} {name}", if is_name(&name) { by } else { otherwise })));
    }
    for creator in &credits.creators {
        match creator.role.to_ascii_lowercase().as_str() {
            "composer" | "lyricist" | "poet" | "arranger" => {}
            "" => made.push(creator.name.clone()),
            role => made.push(format!("{role}: {}", creator.name)),
        }
    }
    (!made.is_empty()).then(|| made.join(", "))
}

/// Returns whether a credit can follow the word "by". A plain name can; "Traditional", a text with a date, "Music: …"
/// and "arr. by …" cannot (common practice, no source).
fn is_name(name: &str) -> bool {
    let lower = name.to_lowercase();
    let mut words = lower.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty());
    let no_name =
        ["by", "arr", "trad", "traditional", "traditionell", "anon", "anonymous", "unknown", "folk"];
    !lower.contains(':')
        && !lower.contains(|c: char| c.is_ascii_digit())
        && !words.any(|word| no_name.contains(&word))
}

/// Adds the points and the clues of each part.
fn evidence(tune: &Tune, page: &mut Page) {
    page.heading(Tone::Strong.of("The case for each part (points)"));
    for evidence in &tune.imported.choice.evidence {
        let name = part_name(tune, evidence.part);
        let clues: Vec<String> = evidence.clues.iter().map(|clue| self::clue(clue, name)).collect();
        let line = format!("part {}: {} in all; {}", evidence.part, evidence.points(), clues.join(", "));
        page.item(line);
    }
}

fn clue(clue: &Clue, name: &str) -> String {
    format!("{} {:+}", fact(&clue.fact, name), clue.points)
}

/// Returns the oddities of the file, one item each.
pub(super) fn oddities(tune: &Tune) -> Vec<Block> {
    let lines = warnings::lines(&tune.imported.warnings).into_iter();
    lines.map(|line| Block::Item(Tone::Warning.of("Please note: ").and(Tone::Plain, line))).collect()
}

/// Returns the first oddities of the file; if more than one is left, the last item says how many.
pub(super) fn first_oddities(tune: &Tune) -> Vec<Block> {
    const MOST: usize = 3;
    let mut lines = oddities(tune);
    let more = lines.len().saturating_sub(MOST);
    if more > 1 {
        lines.truncate(MOST);
        lines.push(Block::Item(
            Tone::Warning.of(format!("{more} more to note: `breathline notes` lists them")),
        ));
    }
    lines
}

/// Returns "32 bars of 4/4, 256 notes from D4 to B5, quarter = 120".
pub(super) fn measure(imported: &Imported) -> Line {
    let melody = &imported.melody;
    let mut facts: Vec<String> = Vec::new();
    let bars = count(&melody.bars);
    let metered = melody.bars.iter().filter(|bar| bar.number > 0).filter_map(|bar| bar.meter);
    let meters: Vec<String> = metered.unique().map(|meter| meter.to_string()).collect();
    facts.push(match (bars, meters.as_slice()) {
        (1, [meter]) => format!("1 bar of {meter}"),
        (1, []) => "1 bar without a time signature".to_owned(),
        (bars, [meter]) => format!("{bars} bars of {meter}"),
        (bars, []) => format!("{bars} bars without a time signature"),
        (bars, meters) => format!("{bars} bars of {}", words::short_list(meters, 3)),
    });
    if imported.unfolded {
        facts.push("repeats written out".to_owned());
    }
    let graces = melody.notes.iter().filter(|note| note.grace).count();
    let main = melody.notes.len() - graces;
    let range = match melody.range() {
        Some((low, high)) if low != high => {
            format!(" from {} to {}", spelled(melody, low), spelled(melody, high))
        }
        Some((only, _)) => format!(" on {}", spelled(melody, only)),
        None => String::new(),
    };
    let graces = match graces {
        0 => String::new(),
        1 => " and a grace note".to_owned(),
        many => format!(" and {many} grace notes"),
    };
    facts.push(format!("{main} note{}{graces}{range}", if main == 1 { "" } else { "s" }));
    facts.push(tempo(melody));
    Line::from(facts.join(", "))
}

/// Counts the bars of the tune. A pickup is not counted, and the parts of a split bar are counted as one bar.
fn count(bars: &[Bar]) -> u32 {
    let (mut count, mut number, mut filled) = (0, 0, Beats::ZERO);
    for bar in bars.iter().filter(|bar| bar.number > 0) {
        let completes =
            bar.number == number && bar.meter.is_some_and(|meter| filled + bar.length <= meter.bar());
        if !completes {
            (count, number, filled) = (count + 1, bar.number, Beats::ZERO);
        }
        filled += bar.length;
    }
    count
}

fn tempo(melody: &Melody) -> String {
    let per_minute = |micros: u32| (60_000_000 + u64::from(micros) / 2) / u64::from(micros.max(1));
    let mut tempi: Vec<u64> = melody.tempo.changes().map(|(_, micros)| per_minute(micros)).collect();
    tempi.dedup();
    let quarter = words::tempi(melody, &tempi);
    if melody.tempo.is_stated() {
        return quarter;
    }
    if !melody.tempo.is_known() {
        return format!("no tempo given, so breathline assumes {quarter}");
    }
    let usual = usual_tempo::usual(melody);
    let whole = u64::from(usual.micros_per_quarter(100));
    let micros = u64::from(melody.tempo.micros_per_quarter(Beats::ZERO)).max(1);
    let percent = (100 * whole + micros / 2) / micros;
    let share = if percent == 100 { String::new() } else { format!(" at {percent} % of its tempo") };
    format!("no tempo given, so breathline assumes {}{share}: {quarter}", usual.kind)
}

fn spelled(melody: &Melody, pitch: Pitch) -> String {
    melody.spelled(pitch, Beats::ZERO).to_string()
}

fn format(format: Format) -> &'static str {
    match format {
        Format::Midi => "MIDI",
        Format::MusicXml => "MusicXML",
        Format::CompressedMusicXml => "compressed MusicXML",
        Format::Abc => "ABC",
        Format::Typed => "typed notes",
    }
}

/// Returns "part 2 of 4 (Voice), chosen because its name says "Voice"; the second likeliest is part 1".
pub(crate) fn part(tune: &Tune) -> String {
    let imported = tune.imported;
    let choice = &imported.choice;
    let part_name = part_name(tune, choice.part);
    let name = if part_name.is_empty() { String::new() } else { format!(" ({part_name})") };
    let of = imported.parts.len();
    let voice = choice.voice.map_or_else(String::new, |voice| format!(", voice {voice} as asked"));
    let part = match &choice.reason {
        ChoiceReason::OnlyPart if of == 1 => format!("its only part{name}"),
        ChoiceReason::OnlyPart => format!("part {} of {of}{name}, the only one with notes", choice.part),
        ChoiceReason::Asked => format!("part {} of {of}{name}, as asked", choice.part),
        ChoiceReason::Evidence { ahead_in, runner_up, lead } => {
            let facts: Vec<String> = ahead_in.iter().take(3).map(|ahead| reason(ahead, part_name)).collect();
            let why = match (facts.is_empty(), lead) {
                (false, _) => format!("chosen because {}", words::list(&facts)),
                (true, 0) => "the first of equally likely parts".to_owned(),
                (true, _) => format!("chosen because part {runner_up} is named as an accompaniment"),
            };
            format!("part {} of {of}{name}, {why}; the second likeliest is part {runner_up}", choice.part)
        }
    };
    part + &voice
}

/// Returns the name of a part by its number, or nothing if the part has no name.
fn part_name<'a>(tune: &Tune<'a>, number: usize) -> &'a str {
    let part = number.checked_sub(1).and_then(|index| tune.imported.parts.get(index));
    part.and_then(|part| part.name.as_deref()).unwrap_or_default().trim()
}

/// Words a fact as a reason for taking the part. A fact that counts against a part becomes a reason for the part
/// to which the fact applies less.
fn reason(ahead: &Fact, name: &str) -> String {
    match ahead {
        Fact::Repeats { share: 0 } => "none of its moves repeat the note".to_owned(),
        Fact::Pattern { share: 0 } => "none of its bars repeat a pattern".to_owned(),
        Fact::Repeats { .. } | Fact::Pattern { .. } => format!("only {}", fact(ahead, name)),
        _ => fact(ahead, name),
    }
}

/// Words a fact about a part so that it can follow "because".
fn fact(fact: &Fact, name: &str) -> String {
    match fact {
        Fact::NamedMelody { word } | Fact::NamedAccompaniment { word } => {
            // The fact may contain only the stem of a word, so the text quotes the whole word from the part's name.
            let mut whole = name.split(|c: char| !c.is_alphanumeric());
            let whole = whole.find(|whole| whole.to_lowercase().contains(word));
            format!("its name says \"{}\"", whole.unwrap_or(word))
        }
        Fact::Words { share } => format!("{share}% of its notes have words"),
        Fact::OneNoteAtATime { share } => format!("{share}% of it is one note at a time"),
        Fact::TuneRange { share } => format!("{share}% of it is in the range of most tunes"),
        Fact::OnTop { share } => format!("it is the top line {share}% of the time"),
        Fact::Sounds { share } => format!("it sounds through {share}% of the piece"),
        Fact::Steps { share } => format!("{share}% of its moves are steps"),
        Fact::Repeats { share } => format!("{share}% of its moves repeat the note"),
        Fact::Pattern { share } => format!("{share}% of its bars repeat a pattern"),
        Fact::Activity { share } => format!("it has {share}% of the busiest part's notes"),
    }
}
