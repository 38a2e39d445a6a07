//! Changes a tune as little as possible so that it can be played.
//!
//! Only notes that the technique in use cannot sound cause changes; no note is changed merely to make the tune easier.
//! A phrase that lacks no note stays as it is, and so does every note that can be sounded in its phrase's octave.
//!
//! **Changes.** A phrase (from [`phrase::ends`]) that lacks notes may be moved by an octave, up or down, if it then
//! lacks fewer notes. In each octave, a missing note is
//!
//! * left out, if it is a grace note or belongs to an ornament;
//! * otherwise replaced by a note at most [`FARTHEST`] semitones away that the harp has and that fits. A replacement
//!   fits if it is in the chord, where the tune has chord symbols; otherwise if it is in the key (the section's key if
//!   the signature changes);
//! * otherwise left out as missing.
//!
//! A phrase in which not even a replacement can be sounded in its own octave is moved, if possible.
//!
//! **Cost.** The sum of the effort, lungs included, and of the prices of the changes ([`EditWeights`]); the optimum is
//! exact. **State.** The last action that sounded and the air in the lungs, as in [`super::path`], and also the octave
//! of the phrase. The octaves of a phrase are lanes of the same lattice. The replacements of a note are further ways to
//! sound it. The first sounded note of a lane carries the price of the move and of the notes left out. **Ties.** As in
//! [`super::path`]. After that, a phrase stays rather than moves, and moves down rather than up; the nearer replacement
//! wins, then the lower.
//!
//! **Example.** F#5 is missing on a C harp without bends, over a D chord and between D5 and G5. Of the notes of the
//! key, G5 is nearest, but it repeats the next note, so the line would stop rising, and G5 is not in the chord. E5 is
//! near and keeps the tune rising, but is not in the chord either. A5 and D5 are in the chord, and A5 is nearer. The
//! choice also depends on the holes around the note, because the search minimises the sum of all prices.
//!
//! **Cost of the search.** The same as in [`super::path`], with about eight replacements for each missing note as
//! further ways, and up to three lanes. Measured on four harps: adapting the winner takes less than a millisecond for
//! each tune of the corpus. A tune of 186 notes takes up to half a second if nearly every note is replaced and the air
//! matters too; nobody would play that tune.

use super::{
    Approach, Counts, Ranking, Request,
    edits::EditWeights,
    effort::{Way, Weights, points},
    path::{
        self, Playing, Reach, Timeline,
        lattice::{Lattice, Stage},
    },
    pin::{self, Pin},
    price,
    term::{Effort, Term},
    ways,
};
use crate::{
    harp::Technique,
    melody::{Melody, phrase},
    mode::Mode,
    pitch::{Interval, Pitch, PitchClass},
};

/// The greatest distance of a replacement from its note, in semitones: a third.
pub const FARTHEST: i16 = 4;

/// The octaves to which a phrase may move; earlier octaves win ties.
const OCTAVES: [i8; 3] = [0, -1, 1];

/// A note that was changed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Change {
    /// The index of the note in the melody.
    pub note: usize,
    /// The octaves by which the note's phrase is moved from the approach's octave.
    pub octave: i8,
    /// The pitch that sounds instead; `None` for a note that is left out.
    pub to: Option<Pitch>,
    /// The kind of change, with its reason.
    pub why: Why,
}

/// How a note is changed, and why.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[non_exhaustive]
pub enum Why {
    /// The note moves with its phrase into another octave.
    Moved,
    /// The note is missing and is replaced by a note nearby.
    Replaced(Fit),
    /// A missing grace note is left out.
    Grace,
    /// A missing note of an ornament is left out.
    Ornament,
}

/// The reason why a replacement fits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Fit {
    /// The replacement is in the chord that sounds at that moment.
    Chord,
    /// The replacement is in the key's scale.
    Key,
}

/// Returns the approach with its tune changed as little as possible so that it can be played. The playing's effort
/// includes the price of the changes. An approach that lacks no note is returned unchanged.
pub fn adapt<'a>(request: &Request<'a>, approach: &Approach<'a>, edits: &EditWeights) -> Approach<'a> {
    if approach.counts.playable == approach.counts.notes {
        return approach.clone();
    }
    let tune = Tune::new(request, approach, edits);
    let phrases = tune.phrases();
    let sounding: Vec<&Phrase> = phrases.iter().filter(|phrase| phrase.lanes[0].sounds()).collect();
    let (places, rows): (Vec<Stop>, Vec<Stage>) = side_by_side(&sounding).into_iter().unzip();
    let lanes = sounding.first().map_or(0, |phrase| phrase.lanes.len());
    let aims = tune.line.aims(&tune.reach, tune.shift, request.weights);
    let lattice = Lattice::new(&tune.line, &aims, request.weights, rows, lanes, edits.contour);
    let path = lattice.cheapest();
    let playing = tune.line.price(lattice.ways(&path).into_iter(), &aims, request.weights);
    let mut chosen = vec![None; playing.notes.len()];
    for stop in path {
        let Stop { note, lane } = places[stop.row()];
        chosen[note] = Some((lane, stop.way()));
    }
    tune.account(approach, playing, &phrases, &chosen, &lattice)
}

impl<'a> Ranking<'a> {
    /// Adapts the tune to the winner, if there is a winner; the ranking does not change.
    ///
    /// If the winner bends more than every fourth note, the tune may be changed to avoid bends if the change costs
    /// less. Often a single note forces many bends.
    pub fn adapt(&mut self, request: &Request<'a>, edits: &EditWeights) {
        let Some(best) = self.best() else { return };
        let mut adapted = adapt(request, best, edits);
        if best.counts.bends() * 4 > best.counts.notes {
            for technique in Technique::ALL.into_iter().filter(|&technique| technique < best.technique) {
                let easier = easier(request, best, technique).map(|row| adapt(request, &row, edits));
                let cost = |row: &Approach| row.playing.effort.total();
                adapted = easier.filter(|easier| cost(easier) < cost(&adapted)).unwrap_or(adapted);
            }
        }
        self.adapted = Some(adapted);
    }

    /// Adapts the tune only if the winner lacks at most a tenth of the tune, weighted by how much its notes are heard.
    /// A change this small is worth making unasked.
    pub fn adapt_if_little(&mut self, request: &Request<'a>, edits: &EditWeights) {
        let lacks = |best: &&Approach| best.counts.playable < best.counts.notes;
        let is_little = self.best().filter(lacks).is_some_and(|best| ways::loses_little(request, best));
        if is_little {
            self.adapted = self.best().map(|best| adapt(request, best, edits));
        }
    }
}

/// Returns the approach on the same harp, in the same key and octave, with a lesser technique; `None` if the tune would
/// lose too much, or if a pin needs more technique.
fn easier<'a>(request: &Request<'a>, row: &Approach<'a>, technique: Technique) -> Option<Approach<'a>> {
    let (line, reach) = (Timeline::new(request.melody), Reach::new(row.harp, technique));
    if !reach.sounds(request.pins, request.melody, row.shift()) {
        return None;
    }
    let playing = path::best_with(&line, &reach, request.weights, row.shift(), request.pins);
    let easier = price::approach(request, row.harp, (row.octave, row.transposed), playing);
    Some(Approach { technique, ..easier }).filter(|row| ways::loses_little(request, row))
}

/// A tune on a harp, with the prices of changes.
struct Tune<'a> {
    melody: &'a Melody,
    line: Timeline,
    reach: Reach,
    /// The interval by which the approach transposes the tune.
    shift: Interval,
    /// The scale of the tune's key after transposition; used if the tune has at most one signature.
    scale: Vec<PitchClass>,
    weights: &'a Weights,
    edits: &'a EditWeights,
    pins: &'a [Pin],
}

/// A phrase in each octave where it may be played; there is at least one lane. If the phrase has a sounded note in one
/// lane, it has a sounded note in every lane.
struct Phrase {
    /// The index of the phrase's first note.
    start: usize,
    lanes: Vec<Lane>,
}

/// A phrase in one octave.
struct Lane {
    octave: i8,
    notes: Vec<Fate>,
    /// The price of the notes that do not sound, charged to the first sounded note of the lane.
    aside: u64,
}

/// How a note is treated in a lane.
enum Fate {
    /// The note, or a replacement for it, sounds in one of these ways.
    Sounded {
        ways: Vec<Way>,
        /// The price of the change for each way, in addition to the effort. The first sounded note also carries the
        /// lane's other prices.
        edits: Vec<u64>,
    },
    /// The note is left out.
    LeftOut { why: Why, price: u64 },
    /// The note is missing, and no change can replace it.
    Missing { price: u64 },
}

/// The place in the tune that a row of the lattice represents.
#[derive(Clone, Copy)]
struct Stop {
    note: usize,
    /// The index of the lane.
    lane: usize,
}

impl<'a> Tune<'a> {
    fn new(request: &Request<'a>, approach: &Approach<'a>, edits: &'a EditWeights) -> Tune<'a> {
        let scale = request.key.mode.scale().map(|above| approach.tonic.transposed(Interval(above.into())));
        Tune {
            melody: request.melody,
            line: Timeline::new(request.melody),
            reach: Reach::new(approach.harp, approach.technique),
            shift: approach.shift(),
            scale: scale.to_vec(),
            weights: request.weights,
            edits,
            pins: request.pins,
        }
    }

    /// Returns the phrases, each with the octaves in which it may be played.
    fn phrases(&self) -> Vec<Phrase> {
        let mut ends: Vec<usize> = phrase::ends(self.melody).iter().map(|end| end.note + 1).collect();
        // Notes after the last main note belong to the last phrase.
        ends.pop();
        ends.push(self.melody.notes.len());
        let starts = std::iter::once(0).chain(ends.iter().copied());
        starts.zip(&ends).map(|(start, &end)| self.phrase(start, end)).collect()
    }

    fn phrase(&self, start: usize, end: usize) -> Phrase {
        let lacking = |octave: i8| (start..end).filter(|&note| self.lacks(note, octave)).count();
        let most = lacking(0);
        // A pinned note keeps its octave, and so does its phrase.
        let may_move = most > 0 && (start..end).all(|note| pin::at(self.pins, note).is_none());
        let octaves = OCTAVES.into_iter().filter(|&octave| octave == 0 || may_move && lacking(octave) < most);
        let mut lanes: Vec<Lane> = octaves.map(|octave| self.lane(start, end, octave)).collect();
        // A moved lane lacks fewer notes, so some of its notes sound: only the first lane can be silent.
        if lanes.len() > 1 && !lanes[0].sounds() {
            lanes.remove(0);
        }
        Phrase { start, lanes }
    }

    fn lane(&self, start: usize, end: usize, octave: i8) -> Lane {
        let mut notes: Vec<Fate> = (start..end).map(|note| self.fate(note, octave)).collect();
        let prices = notes.iter().map(|fate| match fate {
            Fate::Sounded { .. } => 0,
            Fate::LeftOut { price, .. } | Fate::Missing { price } => *price,
        });
        let aside = prices.fold(0, u64::saturating_add);
        let moved = if octave == 0 { 0 } else { u64::from(self.edits.octave) };
        let sounded = notes.iter_mut().find_map(|fate| match fate {
            Fate::Sounded { edits, .. } => Some(edits),
            _ => None,
        });
        for edit in sounded.into_iter().flatten() {
            *edit = edit.saturating_add(aside).saturating_add(moved);
        }
        Lane { octave, notes, aside }
    }

    fn fate(&self, note: usize, octave: i8) -> Fate {
        let ways = self.ways(note, octave);
        if !ways.is_empty() {
            return Fate::Sounded { ways: ways.to_vec(), edits: vec![0; ways.len()] };
        }
        if self.melody.notes[note].grace {
            return Fate::LeftOut { why: Why::Grace, price: self.edits.grace.into() };
        }
        if self.is_ornament(note) {
            return Fate::LeftOut { why: Why::Ornament, price: self.edits.ornament.into() };
        }
        let (ways, edits): (Vec<Way>, Vec<u64>) = self.neighbours(note, octave).into_iter().unzip();
        if ways.is_empty() {
            return Fate::Missing { price: self.weights.missing(self.line.heard(note)).total() };
        }
        Fate::Sounded { ways, edits }
    }

    /// Returns the pitch of a note when its phrase is moved by `octave` octaves.
    fn wanted(&self, note: usize, octave: i8) -> Option<Pitch> {
        let by = Interval(self.shift.0.saturating_add(Interval::octaves(octave).0));
        self.melody.notes[note].pitch.transposed(by)
    }

    /// Returns the ways to sound a note; a pinned note has a single way, in the approach's octave.
    fn ways(&self, note: usize, octave: i8) -> &[Way] {
        let ways = self.wanted(note, octave).map_or(&[][..], |pitch| self.reach.ways(pitch, Interval(0)));
        let Some(pinned) = pin::at(self.pins, note) else { return ways };
        let only = ways.iter().position(|way| way.action == pinned);
        only.map_or(&[], |only| &ways[only..=only])
    }

    /// Whether the harp cannot sound a note that is neither a grace note nor part of an ornament.
    fn lacks(&self, note: usize, octave: i8) -> bool {
        !self.melody.notes[note].grace && self.ways(note, octave).is_empty() && !self.is_ornament(note)
    }

    /// Whether a note is short, has no lyrics, and is followed by a main note at least twice as long.
    fn is_ornament(&self, note: usize) -> bool {
        let notes = &self.melody.notes;
        let sounding_ms = self.line.sounding_ms(note);
        let next = (note + 1..notes.len()).find(|&next| !notes[next].grace);
        sounding_ms < self.edits.ornament_ms
            && notes[note].lyrics.is_empty()
            && next.is_some_and(|next| self.line.sounding_ms(next) / 2 >= sounding_ms)
    }

    /// Returns the ways to sound the possible replacements of a note, with their prices: the nearest first, and the
    /// lower of two that are equally near.
    fn neighbours(&self, note: usize, octave: i8) -> Vec<(Way, u64)> {
        let Some(wanted) = self.wanted(note, octave) else { return Vec::new() };
        let distances = (1..=FARTHEST).flat_map(|distance| [-distance, distance]);
        let pitches = distances.filter_map(|by| {
            let pitch = wanted.transposed(Interval(by))?;
            Some((pitch, self.replacing(note, pitch, by.unsigned_abs())?))
        });
        let ways = pitches.flat_map(|(pitch, price)| {
            self.reach.ways(pitch, Interval(0)).iter().map(move |&way| (way, price))
        });
        ways.collect()
    }

    /// Returns the price of replacing a note by a pitch `distance` semitones away; `None` if the pitch does not fit.
    fn replacing(&self, note: usize, pitch: Pitch, distance: u16) -> Option<u64> {
        let prices = self.edits;
        let off_chord = match self.fit(note, pitch)? {
            Fit::Key if self.chord(note).is_some() => prices.off_chord,
            Fit::Key | Fit::Chord => 0,
        };
        let sounding = points(self.line.sounding_ms(note).into(), prices.second, 1000);
        let away = points(distance.into(), prices.semitone, 1);
        Some(u64::from(prices.replace) + u64::from(off_chord) + sounding + away)
    }

    fn fit(&self, note: usize, pitch: Pitch) -> Option<Fit> {
        let class = pitch.class();
        let in_chord = self.chord(note).is_some_and(|chord| chord.contains(&class));
        let in_key = || self.is_in_key(note, class).then_some(Fit::Key);
        if in_chord { Some(Fit::Chord) } else { in_key() }
    }

    /// Whether a pitch class is in the key, or in the key of the note's section if the signature changes.
    fn is_in_key(&self, note: usize, class: PitchClass) -> bool {
        let section = match self.melody.signatures.as_slice() {
            [] | [_] => None,
            _ => self.melody.signature_at(self.melody.notes[note].onset),
        };
        let Some(signature) = section else { return self.scale.contains(&class) };
        // The tonic moves up a fifth for each sharp.
        let tonic = PitchClass::new(7 * i16::from(signature.sharps)).transposed(self.shift);
        Mode::Major.scale().iter().any(|&above| tonic.transposed(Interval(above.into())) == class)
    }

    /// Returns the pitch classes of the chord at a note, after transposition.
    fn chord(&self, note: usize) -> Option<Vec<PitchClass>> {
        let chord =
            self.melody.chord_at(self.melody.notes[note].onset).filter(|chord| chord.root.is_some())?;
        Some(chord.notes().into_iter().map(|class| class.transposed(self.shift)).collect())
    }

    /// Records the changes and what each costs. `chosen` has the lane and the way of each sounded note.
    fn account<'h>(
        &self,
        approach: &Approach<'h>,
        mut playing: Playing,
        phrases: &[Phrase],
        chosen: &[Option<(usize, usize)>],
        lattice: &Lattice,
    ) -> Approach<'h> {
        let mut changes = Vec::new();
        let mut before: Option<(usize, Way)> = None;
        for phrase in phrases {
            let range = phrase.start..phrase.start + phrase.lanes[0].notes.len();
            let lane = chosen[range].iter().flatten().next().map_or(0, |&(lane, _)| lane);
            let &Lane { octave, ref notes, mut aside } = &phrase.lanes[lane];
            for (note, fate) in (phrase.start..).zip(notes) {
                let effort = &mut playing.notes[note].effort;
                let (to, why) = match (fate, chosen[note]) {
                    (Fate::Sounded { ways, edits }, Some((_, index))) => {
                        let way = ways[index];
                        let contour =
                            before.map_or(0, |(from, by)| lattice.contour((from, &by), (note, &way)));
                        // The price of the notes left out is part of `edits`. Those notes carry it themselves, so it is
                        // subtracted here.
                        effort[Term::Changes] =
                            (edits[index] - std::mem::take(&mut aside)).saturating_add(contour);
                        before = Some((note, way));
                        (Some(way.pitch), self.why(note, octave, way.pitch))
                    }
                    (Fate::LeftOut { why, price }, _) => {
                        *effort = Effort::of(Term::Changes, *price);
                        (None, Some(*why))
                    }
                    (Fate::Sounded { .. } | Fate::Missing { .. }, _) => continue,
                };
                changes.extend(why.map(|why| Change { note, octave, to, why }));
            }
        }
        playing.effort = playing.notes.iter().fold(Effort::default(), |sum, note| sum + note.effort);
        let playing = playing.each_note(self.weights.in_position(approach.position));
        let mut counts = Counts::of(self.melody, &playing);
        for change in &changes {
            match change.why {
                Why::Grace => counts.missing_graces -= 1,
                Why::Ornament => counts.missing -= 1,
                Why::Moved | Why::Replaced(_) => {}
            }
        }
        Approach { playing, counts, changes, ..approach.clone() }
    }

    /// Returns the change to a sounded note, if the note was changed.
    fn why(&self, note: usize, octave: i8, sounds: Pitch) -> Option<Why> {
        if self.wanted(note, octave) != Some(sounds) {
            return self.fit(note, sounds).map(Why::Replaced);
        }
        (octave != 0).then_some(Why::Moved)
    }
}

impl Lane {
    fn sounds(&self) -> bool {
        self.notes.iter().any(|fate| matches!(fate, Fate::Sounded { .. }))
    }

    fn rows(&self, start: usize) -> Vec<(usize, &[Way], &[u64])> {
        let notes = (start..).zip(&self.notes);
        let sounded = notes.filter_map(|(note, fate)| match fate {
            Fate::Sounded { ways, edits } => Some((note, ways.as_slice(), edits.as_slice())),
            Fate::LeftOut { .. } | Fate::Missing { .. } => None,
        });
        sounded.collect()
    }
}

/// Arranges the rows of the sounding phrases column by column, as the lattice needs them.
fn side_by_side<'p>(phrases: &[&'p Phrase]) -> Vec<(Stop, Stage<'p>)> {
    let mut rows = Vec::new();
    let mut first_column = 0;
    for (index, phrase) in phrases.iter().enumerate() {
        let lanes: Vec<_> = phrase.lanes.iter().map(|lane| lane.rows(phrase.start)).collect();
        let end = rows.len() + lanes.iter().map(Vec::len).sum::<usize>();
        let after = end..end + phrases.get(index + 1).map_or(0, |next| next.lanes.len());
        let depth = lanes.iter().map(Vec::len).max().unwrap_or(0);
        for k in 0..depth {
            // The index of each lane's row in the next column.
            let mut next = rows.len() + lanes.iter().filter(|lane| lane.len() > k).count();
            for (lane, notes) in lanes.iter().enumerate() {
                let Some(&(note, ways, edits)) = notes.get(k) else { continue };
                let goes_on = k + 1 < notes.len();
                let follows = if goes_on { next..next + 1 } else { after.clone() };
                next += usize::from(goes_on);
                let row = Stage { note, ways, edits, next: follows, column: first_column + k };
                rows.push((Stop { note, lane }, row));
            }
        }
        first_column += depth;
    }
    rows
}
