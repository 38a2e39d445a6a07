//! A tune changed as little as possible, so that it can be played.
//!
//! Only what cannot be sounded is changed, never anything for ease: a phrase that lacks no note stays as it is, and so does
//! every note that can be sounded where its phrase is played.
//!
//! **Changes.** A phrase (as [`phrase::ends`] has it) that lacks notes may be moved by an octave, up or down, if it then
//! lacks fewer. In each octave, a note that is lacking is
//!
//! * left out, if it is a grace note or belongs to an ornament;
//! * else replaced by a note at most [`FARTHEST`] semitones away that the harp has and that fits: a note of the chord, where
//!   the tune has chord symbols, or of the key (that of the section, where the signature changes);
//! * else, where there is none, left out as missing.
//!
//! A phrase of which nothing at all can be sounded where it is does not stay there, if it can be moved.
//!
//! **Cost.** The sum of the effort, lungs included, and of the prices of the changes ([`EditWeights`]); the least is found
//! exactly. **State.** As in [`super::path`], the last action that sounded and the air in the lungs, and the octave of the
//! phrase: the phrase's octaves are lanes of the same lattice, what replaces a note are more ways to sound it, and what is
//! left out or moved is paid for on entering the lane. **Ties.** As there; then the phrase stays rather than moves and moves
//! down rather than up, and the nearer note replaces, of two the lower.
//!
//! **Example.** F#5 is lacking on a C harp without bends, under the chord D and between D5 and G5. G5 is nearest, but then the
//! tune stands still, and it is not in the chord; E5 is near and keeps the tune rising, but is not in the chord either; A5 and
//! D5 are in the chord, and A5 is nearer. Which it is depends on the holes around it too: all of it is one sum.
//!
//! **Cost.** The same as in [`super::path`], with as many ways as replace a note (about eight) and up to three lanes.
//! Measured: the winner of every tune of the corpus on four harps takes less than a millisecond; where nearly every note is
//! replaced and the air matters too, as nobody would play, up to half a second for 186 notes.

use super::{
    Approach, Counts, Ranking, Request,
    edits::EditWeights,
    effort::{Way, Weights, points},
    path::{
        self, Playing, Reach, Timeline,
        lattice::{Lattice, Stage},
    },
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

/// How far from a note its replacement may lie, in semitones: a third. Further away it is no neighbour.
pub const FARTHEST: i16 = 4;

/// Where a phrase may go; those that stand first win ties.
const OCTAVES: [i8; 3] = [0, -1, 1];

/// A note that was changed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Change {
    /// Its index in the melody.
    pub note: usize,
    /// By how many octaves its phrase is moved from where the approach has it.
    pub octave: i8,
    /// What sounds instead; `None` for a note that is left out.
    pub to: Option<Pitch>,
    /// What was done, and why this.
    pub why: Why,
}

/// What was done to a note.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[non_exhaustive]
pub enum Why {
    /// It goes with its phrase into another octave.
    Moved,
    /// It is lacking, and replaced by a neighbour.
    Replaced(Fit),
    /// It is lacking: a grace note, left out.
    Grace,
    /// It is lacking: a note of an ornament, left out.
    Ornament,
}

/// What a note fits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Fit {
    /// It is in the chord of the moment.
    Chord,
    /// It is in the key's scale.
    Key,
}

/// The approach with its tune changed as little as possible, so that it can be played: its playing, whose effort counts the
/// changes, and the changes themselves. An approach that lacks no note comes back as it was.
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
    /// Adapts the tune to the winner, if there is one; the order stays as it is.
    ///
    /// A winner that bends more than every fourth note may have its tune changed instead, if that costs less: often a single
    /// note forces many bends.
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

    /// The same where the winner lacks only a few notes, at most every tenth as they are heard: so little is worth changing
    /// without being asked.
    pub fn adapt_if_little(&mut self, request: &Request<'a>, edits: &EditWeights) {
        let lacks = |best: &&Approach| best.counts.playable < best.counts.notes;
        let is_little = self.best().filter(lacks).is_some_and(|best| ways::loses_little(request, best));
        if is_little {
            self.adapted = self.best().map(|best| adapt(request, best, edits));
        }
    }
}

/// The same harp, key and octave with a lesser technique, if that loses little of the tune.
fn easier<'a>(request: &Request<'a>, row: &Approach<'a>, technique: Technique) -> Option<Approach<'a>> {
    let (line, reach) = (Timeline::new(request.melody), Reach::new(row.harp, technique));
    let playing = path::best(&line, &reach, request.weights, row.shift());
    let easier = price::approach(request, row.harp, (row.octave, row.transposed), playing);
    Some(Approach { technique, ..easier }).filter(|row| ways::loses_little(request, row))
}

/// The tune on the harp, and what changing it costs.
struct Tune<'a> {
    melody: &'a Melody,
    line: Timeline,
    reach: Reach,
    /// How far the approach moves it.
    shift: Interval,
    /// The notes of its key, as it then sounds, for a tune that has one signature or none.
    scale: Vec<PitchClass>,
    weights: &'a Weights,
    edits: &'a EditWeights,
}

/// A phrase in each octave where it may be played; at least one. If it sounds in one of them it sounds in all.
struct Phrase {
    /// The index of its first note.
    start: usize,
    lanes: Vec<Lane>,
}

/// A phrase in one octave.
struct Lane {
    octave: i8,
    notes: Vec<Fate>,
    /// What is paid with its first note that sounds, for the notes that do not.
    aside: u64,
}

/// What is done with a note in a lane.
enum Fate {
    /// It is sounded in one of these ways, or replaced by one of them.
    Sounded {
        ways: Vec<Way>,
        /// What each way costs besides the effort. What else the lane costs is paid with its first.
        edits: Vec<u64>,
    },
    /// It is left out.
    LeftOut { why: Why, price: u64 },
    /// It is lacking, and there is nothing to be done.
    Missing { price: u64 },
}

/// Where a row of the lattice comes from.
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
        }
    }

    /// The phrases, each in the octaves where it may be played.
    fn phrases(&self) -> Vec<Phrase> {
        let mut ends: Vec<usize> = phrase::ends(self.melody).iter().map(|end| end.note + 1).collect();
        // What comes after the last main note belongs to the last phrase.
        ends.pop();
        ends.push(self.melody.notes.len());
        let starts = std::iter::once(0).chain(ends.iter().copied());
        starts.zip(&ends).map(|(start, &end)| self.phrase(start, end)).collect()
    }

    fn phrase(&self, start: usize, end: usize) -> Phrase {
        let lacking = |octave: i8| (start..end).filter(|&note| self.lacks(note, octave)).count();
        let most = lacking(0);
        let octaves = OCTAVES.into_iter().filter(|&octave| octave == 0 || most > 0 && lacking(octave) < most);
        let mut lanes: Vec<Lane> = octaves.map(|octave| self.lane(start, end, octave)).collect();
        // Where fewer notes are lacking than all, some sound: only the first lane can be silent.
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

    /// The pitch of a note when its phrase is moved by so many octaves.
    fn wanted(&self, note: usize, octave: i8) -> Option<Pitch> {
        let by = Interval(self.shift.0.saturating_add(Interval::octaves(octave).0));
        self.melody.notes[note].pitch.transposed(by)
    }

    fn ways(&self, note: usize, octave: i8) -> &[Way] {
        self.wanted(note, octave).map_or(&[], |pitch| self.reach.ways(pitch, Interval(0)))
    }

    /// Whether a note that the tune cannot do without cannot be sounded.
    fn lacks(&self, note: usize, octave: i8) -> bool {
        !self.melody.notes[note].grace && self.ways(note, octave).is_empty() && !self.is_ornament(note)
    }

    /// A short note without words that leads to one at least twice as long.
    fn is_ornament(&self, note: usize) -> bool {
        let notes = &self.melody.notes;
        let sounding_ms = self.line.sounding_ms(note);
        let next = (note + 1..notes.len()).find(|&next| !notes[next].grace);
        sounding_ms < self.edits.ornament_ms
            && notes[note].lyrics.is_empty()
            && next.is_some_and(|next| self.line.sounding_ms(next) / 2 >= sounding_ms)
    }

    /// The ways to sound what may replace a note, with their prices; the nearest first, the lower of two.
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

    /// What it costs to replace a note by a pitch so many semitones away; `None` if that does not fit.
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

    /// Whether a note is in the key; where the signature changes, in that of its section.
    fn is_in_key(&self, note: usize, class: PitchClass) -> bool {
        let section = match self.melody.signatures.as_slice() {
            [] | [_] => None,
            _ => self.melody.signature_at(self.melody.notes[note].onset),
        };
        let Some(signature) = section else { return self.scale.contains(&class) };
        // A fifth up for each sharp.
        let tonic = PitchClass::new(7 * i16::from(signature.sharps)).transposed(self.shift);
        Mode::Major.scale().iter().any(|&above| tonic.transposed(Interval(above.into())) == class)
    }

    /// The notes of the chord at a note, as the tune then sounds.
    fn chord(&self, note: usize) -> Option<Vec<PitchClass>> {
        let chord =
            self.melody.chord_at(self.melody.notes[note].onset).filter(|chord| chord.root.is_some())?;
        Some(chord.notes().into_iter().map(|class| class.transposed(self.shift)).collect())
    }

    /// Puts down what was chosen: changes, and what they cost at which note. `chosen` has the lane and the way of each note
    /// that sounds.
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
                        // Each note that is left out shows its own price.
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

    /// What was done to a note that sounds, if anything.
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

/// The rows of phrases that sound, those of a column together, as the lattice wants them.
fn side_by_side<'p>(phrases: &[&'p Phrase]) -> Vec<(Stop, Stage<'p>)> {
    let mut rows = Vec::new();
    let mut first_column = 0;
    for (index, phrase) in phrases.iter().enumerate() {
        let lanes: Vec<_> = phrase.lanes.iter().map(|lane| lane.rows(phrase.start)).collect();
        let end = rows.len() + lanes.iter().map(Vec::len).sum::<usize>();
        let after = end..end + phrases.get(index + 1).map_or(0, |next| next.lanes.len());
        let depth = lanes.iter().map(Vec::len).max().unwrap_or(0);
        for k in 0..depth {
            // Where the rows of the next column stand, lane by lane.
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
