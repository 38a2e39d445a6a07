//! A file of one or many tunes: lists the tunes and chooses one.

use super::{
    Format, ImportError, ImportOptions, Imported, MAX_BYTES, Oddity, Score, abc, cut,
    entry::{TuneChoice, TuneEntry},
    midi, musicxml, mxl, pick, recognise, repeats, typed,
};

/// A file whose tunes are known and can be read one by one.
pub struct Book<'a> {
    format: Format,
    content: Content<'a>,
    tunes: Vec<TuneEntry>,
}

/// The content of a file.
enum Content<'a> {
    /// The bytes of a single score.
    One(Format, &'a [u8]),
    /// A MIDI file of patterns, which are played one at a time, with the indices of the tracks that have pitched notes.
    Patterns(&'a [u8], Vec<usize>),
    Abc(abc::Tunes<'a>),
}

impl<'a> Book<'a> {
    /// Finds the tunes of a file in any of the known formats.
    ///
    /// # Errors
    ///
    /// Returns an [`ImportError`] if the file has no known format or is too large.
    pub fn open(bytes: &'a [u8]) -> Result<Book<'a>, ImportError> {
        if bytes.len() > MAX_BYTES {
            return Err(ImportError::TooLarge { what: "the file", limit: MAX_BYTES, unit: "bytes" });
        }
        Book::of_format(recognise(bytes)?, bytes)
    }

    /// Wraps typed notes as a file of one tune.
    pub(super) fn of_notes(text: &'a str) -> Book<'a> {
        let tunes = vec![TuneEntry { number: 1, ..TuneEntry::default() }];
        Book { format: Format::Typed, content: Content::One(Format::Typed, text.as_bytes()), tunes }
    }

    fn of_format(format: Format, bytes: &'a [u8]) -> Result<Book<'a>, ImportError> {
        let (content, mut tunes) = match format {
            Format::Abc => abc::find(bytes).map(|(found, tunes)| (Content::Abc(found), tunes))?,
            Format::Midi => {
                let (tracks, tunes): (Vec<usize>, Vec<TuneEntry>) = midi::patterns(bytes).into_iter().unzip();
                match tunes.len() {
                    0 | 1 => (Content::One(format, bytes), Vec::new()),
                    _ => (Content::Patterns(bytes, tracks), tunes),
                }
            }
            _ => (Content::One(format, bytes), Vec::new()),
        };
        if let Content::One(..) = content {
            tunes.push(TuneEntry { number: 1, ..TuneEntry::default() });
        }
        number_twins(&mut tunes);
        Ok(Book { format, content, tunes })
    }

    /// Returns the tunes, in the order of the file. The only tune of a file without a list has neither title nor key
    /// here, because both are known only after the score is read.
    pub fn tunes(&self) -> &[TuneEntry] {
        &self.tunes
    }

    /// Returns the index of the tune that the user asks for, or of the only tune.
    ///
    /// # Errors
    ///
    /// Returns [`ImportError::SeveralTunes`] with all matching tunes if several match, [`ImportError::NoSuchTune`] if
    /// none matches, and [`ImportError::NoNotes`] for a file without a tune.
    pub fn choose(&self, asked: Option<&TuneChoice>) -> Result<usize, ImportError> {
        let all = || self.tunes.iter().enumerate();
        let fitting: Vec<usize> = match asked {
            None => (0..self.tunes.len()).collect(),
            Some(TuneChoice::Number(number, nth)) => {
                let fits =
                    |entry: &TuneEntry| entry.number == *number && (nth.is_none() || entry.nth == *nth);
                all().filter(|(_, entry)| fits(entry)).map(|(index, _)| index).collect()
            }
            Some(TuneChoice::Title(part)) => {
                let part = abc::text::folded(part);
                let titles = || {
                    all().filter_map(|(index, entry)| {
                        Some((index, abc::text::folded(entry.title.as_deref()?)))
                    })
                };
                let whole: Vec<usize> =
                    titles().filter(|(_, title)| *title == part).map(|(index, _)| index).collect();
                match whole.len() {
                    1 => whole,
                    _ => {
                        titles().filter(|(_, title)| title.contains(&part)).map(|(index, _)| index).collect()
                    }
                }
            }
        };
        match (fitting.as_slice(), asked) {
            ([only], _) => Ok(*only),
            ([], None) => Err(ImportError::NoNotes),
            ([], Some(asked)) => {
                Err(ImportError::NoSuchTune { asked: asked.clone(), tunes: self.tunes.len() })
            }
            (several, _) => {
                let tunes = several.iter().map(|&index| self.tunes[index].clone()).collect();
                Err(ImportError::SeveralTunes { asked: asked.cloned(), tunes })
            }
        }
    }

    /// Reads all parts of the tune with this index. With `perform`, the sections of an ABC tune follow the order that
    /// its header gives in `P:`. Repeat signs are kept, not written out.
    ///
    /// # Errors
    ///
    /// Returns an [`ImportError`] if the tune cannot be read.
    pub fn score(&self, index: usize, perform: bool) -> Result<Score, ImportError> {
        match &self.content {
            Content::Abc(tunes) => tunes.read(index, perform),
            Content::Patterns(bytes, tracks) => midi::read(bytes, tracks.get(index).copied()),
            Content::One(Format::Midi, bytes) => midi::read(bytes, None),
            Content::One(Format::Typed, bytes) => typed::read(bytes),
            Content::One(Format::CompressedMusicXml, bytes) => musicxml::read(&mxl::unpack(bytes)?),
            Content::One(_, bytes) => musicxml::read(bytes),
        }
    }

    /// Reads the melody of the tune with this index; the choice of a tune in `options` is ignored.
    ///
    /// # Errors
    ///
    /// Returns an [`ImportError`] if the tune cannot be read or has no melody, or if it lacks the part or voice that
    /// `options` asks for.
    pub fn read(&self, index: usize, options: &ImportOptions) -> Result<Imported, ImportError> {
        let mut imported = pick::melody(self.score(index, options.unfold)?, self.format, options)?;
        if options.unfold {
            let part = u16::try_from(imported.choice.part).unwrap_or(u16::MAX);
            let (melody, warnings) = repeats::unfold(&imported.melody, part);
            imported.melody = melody;
            imported.unfolded =
                !warnings.iter().any(|warning| matches!(warning.oddity, Oddity::UnfoldedTooLong { .. }));
            imported.warnings.extend(warnings);
            imported.warnings.sort_by_key(|warning| warning.place);
        }
        let Imported { melody, parts, .. } = &mut imported;
        let lyrics = melody.notes.iter_mut().flat_map(|note| &mut note.lyrics).map(|lyric| &mut lyric.text);
        let chords = melody.chords.iter_mut().map(|chord| &mut chord.quality);
        let names = parts.iter_mut().filter_map(|part| part.name.as_mut()).chain(melody.title.as_mut());
        let names = names.chain(melody.rhythm.as_mut());
        let tempo = melody.tempo_words.iter_mut().map(|words| &mut words.text);
        lyrics.chain(chords).chain(tempo).chain(names).for_each(cut);
        Ok(imported)
    }
}

/// Counts the tunes that share a number, so that their names differ: `12-1`, `12-2`.
fn number_twins(tunes: &mut [TuneEntry]) {
    let mut by_number: Vec<usize> = (0..tunes.len()).collect();
    by_number.sort_by_key(|&index| tunes[index].number);
    for twins in by_number
        .chunk_by(|&a, &b| tunes[a].number == tunes[b].number)
        .filter(|twins| twins.len() > 1)
        .map(<[usize]>::to_vec)
        .collect::<Vec<_>>()
    {
        for (index, nth) in twins.into_iter().zip(1..) {
            tunes[index].nth = Some(nth);
        }
    }
}
