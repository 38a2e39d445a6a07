//! Turns a file and the player's choices into an answer.

use breathline::{
    compare::{choice, lesson::Stated},
    export::{Arrangement, abc, arrange, midi, musicxml},
    import::{self, ImportError, ImportOptions, TuneEntry},
    json,
    pages::{self, Tune, lesson::Checked, practice},
    pins::{self, WrittenPin},
    pitch::Interval,
    question::{self, ReadTune, Said},
    render::{html, text},
    search::{self, Approach, Player, Ranking, Request, Wanted},
    sheet::{Options, Sheet, screen, svg},
    tab::{Notation, read},
};
use serde::Serialize;

use crate::choices::{Choices, Form, Want};

/// The number of rows in the contract's JSON, the same as the command's without `--top`.
const TOP: usize = 5;

/// The answer; exactly one of its fields is set, apart from `pins`.
#[derive(Serialize, Default)]
struct Answer {
    /// An error in one line, for a musician.
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<String>,
    /// The tunes from which the player must choose: the tunes that match the player's choice, or else all tunes.
    #[serde(skip_serializing_if = "Option::is_none")]
    tunes: Option<Vec<Listed>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    shown: Option<Box<Shown>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    files: Option<Vec<File>>,
    /// The result of checking a tab.
    #[serde(skip_serializing_if = "Option::is_none")]
    check: Option<CheckShown>,
    /// The holes that the player can choose for a note, as HTML.
    #[serde(skip_serializing_if = "Option::is_none")]
    holes: Option<String>,
    /// The pinned holes, as HTML; set with an answer to show, and with an error that the pins may have caused.
    #[serde(skip_serializing_if = "Option::is_none")]
    pins: Option<String>,
    /// An answer of the contract, as JSON.
    #[serde(skip_serializing_if = "Option::is_none")]
    json: Option<String>,
}

/// The result of checking a tab, to show and to play.
#[derive(Serialize)]
struct CheckShown {
    /// The text of the result, and the two ways to play, one above the other, as HTML.
    html: String,
    /// The fonts of the sheet, as rules of a style sheet.
    letters: String,
    /// The data of each way for the audio player, as JSON.
    rows: String,
}

/// A tune in a file's list.
#[derive(Serialize)]
struct Listed {
    /// The value of the choice `tune` that selects this tune.
    choice: String,
    title: Option<String>,
    key: Option<String>,
}

/// An answer to be shown. Unless a comment says otherwise, texts are pieces of HTML, as [`html::Pieces`] defines them.
#[derive(Serialize)]
struct Shown {
    /// The contract's answer, as JSON, if the page asked for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    suggest: Option<String>,
    /// The tune's title, as text.
    title: String,
    headline: String,
    verdict: String,
    facts: String,
    ranking: String,
    about: String,
    /// The sheet without its staves: the staves in long lines and in short lines come separately, because a screen
    /// shows only one of the two.
    sheet: String,
    broad: String,
    slim: String,
    strip: String,
    player: String,
    foot: String,
    /// The outlines of the sheet's musical signs.
    glyphs: String,
    /// The fonts of the sheet, as rules of a style sheet.
    letters: String,
    /// The data for the audio player, as JSON; empty if no harp reaches the tune.
    data: String,
    /// The harp of the row, as plain text.
    harp: String,
    /// The index of the row, from 0, and its place as [`place`] writes it, for a later question.
    row: usize,
    place: String,
    /// The parts of the file that have notes and are not percussion, with their numbers in the file, from 1.
    parts: Vec<Part>,
    /// The number of the part that has the melody.
    part: usize,
    /// The number of voices in this part.
    voices: usize,
    /// The key, as plain text.
    key: String,
    /// Whether the file has repeats, written out or not.
    repeats: bool,
}

#[derive(Serialize)]
struct Part {
    number: usize,
    name: Option<String>,
    notes: usize,
}

/// A file to download: text or bytes.
#[derive(Serialize)]
struct File {
    /// The file name ending, such as `mid` or `2.svg`.
    ending: String,
    kind: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    text: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bytes: Option<Vec<u8>>,
}

/// Returns the answer as JSON. A failure is an answer with an error.
pub(crate) fn answer(file: &[u8], choices: &[u8]) -> String {
    let answer = serde_json::from_slice(choices)
        .map_err(|error| Answer::wrong(format!("the choices cannot be read: {error}")))
        .and_then(|choices| answered(file, choices))
        .unwrap_or_else(|wrong| wrong);
    // Texts, numbers and lists can always be serialised.
    serde_json::to_string(&answer).unwrap_or_default()
}

impl Answer {
    fn wrong(error: impl ToString) -> Answer {
        Answer { error: Some(error.to_string()), ..Answer::default() }
    }

    /// Makes an answer from an error that the pins may have caused.
    fn lost(pins: &[WrittenPin], error: impl ToString) -> Answer {
        Answer { pins: Some(html::pins(pins, None)), ..Answer::wrong(error) }
    }

    fn of_the_contract(json: String) -> Answer {
        Answer { json: Some(json), ..Answer::default() }
    }
}

impl From<String> for Answer {
    fn from(error: String) -> Answer {
        Answer::wrong(error)
    }
}

fn answered(file: &[u8], choices: Choices) -> Result<Answer, Answer> {
    let imported = import::import(file, &choices.import_options()).map_err(|error| match error {
        ImportError::SeveralTunes { tunes, .. } => listed(&tunes),
        error => Answer::wrong(error),
    })?;
    let player = choices.player()?;
    let mut read = ReadTune::new(choices.name.clone(), imported, &player, choices.said()?);
    // Pins that cannot be kept are shown, so that the player can remove them.
    let pins = choices.pins()?;
    read.pins =
        pins::find(&pins, &read.imported.melody).map_err(|error| Answer::lost(&pins, error.to_string()))?;
    let (read, pins) = (&read, &*pins);
    match &choices.want {
        Want::Answer => ranked(file, read, &player, (&choices, pins), |asked| asked.shown()),
        Want::File(form) => ranked(file, read, &player, (&choices, pins), |asked| asked.files(*form)),
        Want::Check(tab) => ranked(file, read, &player, (&choices, pins), |asked| asked.check(tab)),
        Want::Holes(note) => ranked(file, read, &player, (&choices, pins), |asked| asked.holes(*note)),
        Want::Suggest => ranked(file, read, &player, (&choices, pins), |asked| {
            asked.suggest().map(Answer::of_the_contract)
        }),
        Want::Notes => Ok(Answer::of_the_contract(json::notes(&read.tune()))),
        Want::Lesson { harp, tab } => lesson(read, &player, &choices, harp, tab),
    }
}

/// Ranks the ways to play a tune, and answers from that ranking.
fn ranked(
    file: &[u8],
    read: &ReadTune,
    player: &Player,
    (choices, pins): (&Choices, &[WrittenPin]),
    answer: impl FnOnce(&Asked) -> Result<Answer, Answer>,
) -> Result<Answer, Answer> {
    let harps = choices.harps()?;
    let request = read.request(player, &harps, choices.any_key);
    let wanted = choices.wanted(practice::ROWS)?;
    let (request, ranking) = read.rank(&request, &wanted, TOP, (choices.changes()?, player));
    if ranking.best().is_none()
        && let Some(why) = pages::pins::nowhere(&request, &wanted)
    {
        return Err(Answer::lost(pins, why));
    }
    let (request, ranking, wanted) = (&request, &ranking, &wanted);
    answer(&Asked { file, read, request, ranking, wanted, player, choices, pins })
}

/// Checks a tab that was typed for a harp, as `breathline check --tab` does.
fn lesson(
    read: &ReadTune,
    player: &Player,
    choices: &Choices,
    harp: &str,
    tab: &str,
) -> Result<Answer, Answer> {
    let (harps, harp) = choices.harps_with(harp)?;
    let position = choices.position()?;
    // A harp and a position imply a key; if the tune may be in that key, the check assumes it.
    let named = position.map(|position| position.tonic(harp.first_position_key()));
    let key = named.and_then(|tonic| choice::key_on(&read.key, tonic)).unwrap_or(read.key.key);
    let request = Request { key, ..read.request(player, &harps, false) };
    let transposed =
        position.map_or(Interval(0), |position| question::to_position(&request, &harp, position));
    let stated = Stated { harp: &harp, transposed, octave: choices.octave };
    let style = choices.style()?.word();
    checked(read, &request, stated, tab, choices, |checked| {
        Answer::of_the_contract(json::lesson(&checked, &player.name, style))
    })
}

/// Compares a tab with the tune, and shows the result.
fn checked(
    read: &ReadTune,
    request: &Request,
    stated: Stated,
    tab: &str,
    choices: &Choices,
    show: impl FnOnce(Checked) -> Answer,
) -> Result<Answer, Answer> {
    let text = read::read(tab, None).map_err(Answer::wrong)?;
    let (lesson, best) = question::check_tab(request, stated, &text).ok_or_else(|| {
        Answer::wrong("the tab and the tune together are too long to compare; check a part of them")
    })?;
    Ok(show(Checked {
        tune: read.tune(),
        request,
        stated,
        text: &text,
        lesson: &lesson,
        best: best.as_ref(),
        notation: Notation { style: text.style, ..choices.notation()? },
    }))
}

/// Lists the tunes of a file.
fn listed(tunes: &[TuneEntry]) -> Answer {
    let tunes = tunes.iter().map(|tune| Listed {
        choice: tune.choice().to_string(),
        title: tune.title.clone(),
        key: tune.key.map(|key| key.to_string()),
    });
    Answer { tunes: Some(tunes.collect()), ..Answer::default() }
}

fn arranged(tune: &Tune, request: &Request, approach: &Approach, notation: Notation) -> Arrangement {
    let mut arrangement = arrange(request.melody, request.key, approach, notation);
    arrangement.melody.title = Some(tune.title().to_owned());
    arrangement
}

/// Returns a row's place: its harp, its octave and its transposition.
fn place(row: &Approach) -> String {
    format!("{} {} {}", row.harp, row.octave, row.transposed.0)
}

/// A question, with its ranking.
struct Asked<'a> {
    file: &'a [u8],
    read: &'a ReadTune,
    request: &'a Request<'a>,
    ranking: &'a Ranking<'a>,
    wanted: &'a Wanted,
    player: &'a Player,
    choices: &'a Choices,
    pins: &'a [WrittenPin],
}

impl<'a> Asked<'a> {
    fn notation(&self) -> Result<Notation, Answer> {
        Ok(self.choices.notation()?)
    }

    /// Returns the index of the row to show, and the row. The choices name it by its place or else by its index; if the
    /// ranking has no such row, the best row is shown.
    fn row(&self) -> (usize, Option<&'a Approach<'a>>) {
        let rows = practice::shown(self.ranking);
        let named = self.choices.place.as_ref();
        let named = named.and_then(|name| rows.iter().position(|row| place(row) == *name));
        let row = named.unwrap_or(if self.choices.row < rows.len() { self.choices.row } else { 0 });
        (row, rows.get(row).copied())
    }

    fn suggest(&self) -> Result<String, Answer> {
        let (tune, style) = (self.read.tune(), self.choices.style()?);
        Ok(json::suggest(&tune, &self.player.name, self.request, self.ranking, TOP, style))
    }

    fn shown(&self) -> Result<Answer, Answer> {
        let (read, request, ranking) = (self.read, self.request, self.ranking);
        let (tune, notation) = (read.tune(), self.notation()?);
        let page = practice::practice(&tune, request, ranking, notation);
        let (row, approach) = self.row();
        let sheets = screen::sheets(&tune, request, approach.as_slice(), notation.bend_mark);
        let engraving = sheets.rows.into_iter().next().unwrap_or_default();
        let pieces = html::pieces(&page, row, &html::Engraving::default());
        let parts =
            read.imported.parts.iter().enumerate().filter(|(_, part)| part.notes > 0 && !part.percussion);
        let shown = Shown {
            suggest: if self.choices.suggest { Some(self.suggest()?) } else { None },
            title: page.title.clone(),
            headline: pieces.headline,
            verdict: pieces.verdict,
            facts: pieces.facts,
            ranking: pieces.ranking,
            about: pieces.about,
            sheet: pieces.sheet,
            broad: engraving.broad,
            slim: engraving.slim,
            strip: pieces.strip,
            player: pieces.player,
            foot: pieces.foot,
            glyphs: sheets.glyphs,
            letters: sheets.letters,
            data: approach.map_or_else(String::new, |_| json::practice(&page)),
            harp: approach.map_or_else(String::new, |approach| approach.harp.to_string()),
            row,
            place: approach.map_or_else(String::new, place),
            parts: parts
                .map(|(index, part)| Part { number: index + 1, name: part.name.clone(), notes: part.notes })
                .collect(),
            part: read.imported.choice.part,
            voices: {
                let part = read.imported.choice.part.checked_sub(1);
                part.and_then(|part| read.imported.parts.get(part)).map_or(1, |part| part.voices)
            },
            key: read.key.key.to_string(),
            repeats: page.order.len() > 1 || read.imported.unfolded,
        };
        let pins = html::pins(self.pins, pages::pins::cost(ranking).as_deref());
        Ok(Answer { shown: Some(Box::new(shown)), pins: Some(pins), ..Answer::default() })
    }

    fn holes(&self, note: usize) -> Result<Answer, Answer> {
        let row = self.row().1.filter(|row| note < row.playing.notes.len());
        let row = row.ok_or_else(|| Answer::wrong("there is no such note"))?;
        let holes = pins::holes(self.request, self.wanted, row, note);
        let choice = pages::pins::choice(self.request, row, note, holes.as_ref());
        Ok(Answer { holes: Some(html::choice(&choice, self.pins)), ..Answer::default() })
    }

    fn files(&self, form: Form) -> Result<Answer, Answer> {
        let nothing =
            || Answer::wrong("none of the harps reaches a single note of this tune; choose more harps");
        let approach = self.row().1.ok_or_else(nothing)?;
        let (tune, request, notation) = (self.read.tune(), self.request, self.notation()?);
        let arrangement = || arranged(&tune, request, approach, notation);
        let text =
            |ending: &str, kind, text| File { ending: ending.into(), kind, text: Some(text), bytes: None };
        let bytes =
            |ending: &str, kind, bytes| File { ending: ending.into(), kind, text: None, bytes: Some(bytes) };
        let files = match form {
            Form::MusicXml => vec![bytes(
                "musicxml",
                "application/vnd.recordare.musicxml+xml",
                musicxml::write(&arrangement(), musicxml::TabAs::default()),
            )],
            Form::Abc => vec![bytes("abc", "text/vnd.abc", abc::write(&arrangement()))],
            Form::Midi => vec![bytes("mid", "audio/midi", midi::write(&self.unfolded(approach, notation)?))],
            Form::Svg => {
                let options = Options { bend_mark: notation.bend_mark, ..Options::default() };
                let sheet = Sheet::new(&tune, request, approach, options);
                let name = |page: usize| match sheet.pages.len() {
                    1 => "svg".to_owned(),
                    _ => format!("{}.svg", page + 1),
                };
                let pages = 0..sheet.pages.len();
                pages.map(|page| text(&name(page), "image/svg+xml", svg::document(&sheet, page))).collect()
            }
            Form::Text => {
                let chosen = Ranking::new(vec![approach.clone()]);
                let page = pages::suggest::tab_page(&tune, request, &chosen, notation, false);
                vec![text("txt", "text/plain", text::render(&page, text::Look { width: 80, colour: false }))]
            }
            Form::Page => {
                let page = practice::practice(&tune, request, self.ranking, notation);
                let rows = practice::shown(self.ranking);
                let sheets = screen::sheets(&tune, request, &rows, notation.bend_mark);
                vec![text("html", "text/html", html::render(&page, &sheets))]
            }
            Form::Pins => vec![text("pins", "text/plain", pins::write_file(tune.title(), self.pins))],
        };
        Ok(Answer { files: Some(files), ..Answer::default() })
    }

    /// Arranges the same way to play the tune, with its repeats written out, because MIDI has no repeat signs.
    fn unfolded(&self, row: &Approach, notation: Notation) -> Result<Arrangement, Answer> {
        let options = ImportOptions { unfold: true, ..self.choices.import_options() };
        let imported = import::import(self.file, &options).map_err(Answer::wrong)?;
        let said = Said { key: Some(self.read.key.key), ..self.choices.said()? };
        let mut read = ReadTune::new(self.read.name.clone(), imported, self.player, said);
        read.pins = pins::find(self.pins, &read.imported.melody).map_err(Answer::wrong)?;
        let request =
            read.request(self.player, std::slice::from_ref(row.harp), row.transposed != Interval(0));
        let (octave, transposed) = (Some(row.octave), Some(row.transposed));
        let wanted = Wanted { octave, transposed, ..self.choices.wanted(1)? };
        let mut ranking = search::search_for(&request, &wanted);
        if !row.changes.is_empty() {
            ranking.adapt(&request, &self.player.edits);
        }
        let same = ranking.adapted.as_ref().or(ranking.best());
        let same = same.ok_or_else(|| {
            Answer::wrong("with its repeats written out, the tune cannot be played in this way")
        })?;
        Ok(arranged(&read.tune(), &request, same, notation))
    }

    /// Compares a tab with the tune on the harp of the row.
    fn check(&self, tab: &str) -> Result<Answer, Answer> {
        let nothing = "none of the harps reaches a single note of this tune; choose more harps";
        let row = self.row().1.ok_or_else(|| Answer::wrong(nothing))?;
        let stated = Stated { harp: row.harp, transposed: row.transposed, octave: None };
        // The typed tab is compared without the pins, which belong to the player's own way.
        let free = Request { pins: &[], ..self.request.clone() };
        checked(self.read, &free, stated, tab, self.choices, |checked| {
            let comparison = pages::lesson::comparison(&checked);
            let sheets = screen::compared(&checked.tune, &free, &comparison, checked.notation.bend_mark);
            let ways: Vec<&Approach> = comparison.sides.iter().map(|side| side.approach).collect();
            let check = CheckShown {
                html: html::comparison(&comparison, &sheets),
                rows: json::practice_rows(&practice::rows(&free, &ways, checked.notation)),
                letters: sheets.letters,
            };
            Answer { check: Some(check), ..Answer::default() }
        })
    }
}
