//! A question about one tune, shared by the command and the page in a browser.
//!
//! The question starts from a tune that was read and from what the player says about it. The answer is a ranking, or
//! the comparison of a typed tab. The caller reads files and options, and shows the answers.

use crate::{
    compare::lesson::{self, Lesson, Stated},
    harp::{Harp, Position},
    import::Imported,
    melody::{
        key::{self, Key, KeyFinding},
        tempo,
    },
    pages::{self, Tune},
    pitch::Interval,
    search::{self, Approach, Pin, Player, Ranking, Request, Wanted},
    tab::read::TabText,
};

/// A tune that was read, with its key.
#[derive(Clone, Debug)]
pub struct ReadTune {
    /// The name to show if the file has no title.
    pub name: String,
    /// The imported file, at the player's tempo if the player states one. If the file lacks a tempo or a key signature,
    /// the melody has an assumed tempo or the signature of the key.
    pub imported: Imported,
    /// The key.
    pub key: KeyFinding,
    /// The holes that the player pins.
    pub pins: Vec<Pin>,
}

/// What the player says about a tune; it overrides or completes the file.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Said {
    /// The key.
    pub key: Option<Key>,
    /// The tempo at the beginning of the tune, in quarters per minute.
    pub tempo: Option<u16>,
}

/// Which notes of a tune may be changed for the winner.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Changes {
    /// No notes.
    None,
    /// The notes that the winner needs changed, if it lacks only a little of the tune.
    #[default]
    AFew,
    /// The notes that the winner needs changed, however many; if it bends often, also notes that force bends.
    AsNeeded,
}

impl ReadTune {
    /// Finds the key, unless the player states it, and a tempo for the player, unless the player or the file states
    /// one. If the file has no key signature, adds the signature of the key.
    pub fn new(name: String, mut imported: Imported, player: &Player, said: Said) -> ReadTune {
        if let Some(tempo) = said.tempo {
            imported.melody.tempo = imported.melody.tempo.starting_at(tempo);
        }
        tempo::assume(&mut imported.melody, player.tempo_percent);
        let key = said.key.map_or_else(|| key::find(&imported.melody), KeyFinding::given);
        // If the file does not state a signature, the key determines it.
        if imported.melody.signatures.is_empty() {
            imported.melody = imported.melody.signed(key.key).into_owned();
        }
        ReadTune { name, imported, key, pins: Vec::new() }
    }

    /// Returns the search request for ways to play the tune.
    pub fn request<'a>(&'a self, player: &'a Player, harps: &'a [Harp], any_key: bool) -> Request<'a> {
        Request {
            melody: &self.imported.melody,
            key: self.key.key,
            harps,
            technique: player.technique,
            weights: &player.weights,
            any_key,
            pins: &self.pins,
        }
    }

    /// Returns the tune in the form that the pages take.
    pub fn tune(&self) -> Tune<'_> {
        Tune { name: &self.name, imported: &self.imported, key: &self.key }
    }

    /// Ranks the ways to play the tune: the rows of `wanted` and, if the key is in doubt, the first `top` rows for the
    /// runner-up key. Compares the winner with a search without the pins, and changes the tune for the winner. Returns
    /// the ranking and the request that its rows answer, which may be for any key.
    pub fn rank<'a>(
        &self,
        request: &Request<'a>,
        wanted: &Wanted,
        top: usize,
        (changes, player): (Changes, &Player),
    ) -> (Request<'a>, Ranking<'a>) {
        let (request, mut ranking) = search::ways::answer(request, wanted);
        if let Some(rival) = pages::key::rival(&self.key) {
            ranking.rank_rival(&request, &Wanted { top, twins: false, ..*wanted }, rival.key);
        }
        ranking.compare_with_free(&request, wanted);
        match changes {
            Changes::None => {}
            Changes::AFew => ranking.adapt_if_little(&request, &player.edits),
            Changes::AsNeeded => ranking.adapt(&request, &player.edits),
        }
        (request, ranking)
    }
}

/// Returns the interval that moves a tune into a position of a harp, by the shorter way.
pub fn to_position(request: &Request, harp: &Harp, position: Position) -> Interval {
    let tonic = position.tonic(harp.first_position_key());
    let up = i16::from(tonic.above(request.key.tonic));
    Interval(if up > 6 { up - 12 } else { up })
}

/// Returns the best approach in one key, and in one octave if `octave` is given.
pub fn best<'a>(request: &Request<'a>, transposed: Interval, octave: Option<i8>) -> Option<Approach<'a>> {
    let request = Request { any_key: transposed != Interval(0), ..request.clone() };
    let wanted = Wanted { transposed: Some(transposed), octave, ..Wanted::first(1) };
    search::search_for(&request, &wanted).approaches.into_iter().next()
}

/// Compares a typed tab with the tune and with the best approach in the key of the tab. Returns `None` if the tune or
/// the tab has no notes, or if both together are too long.
pub fn check_tab<'a>(
    request: &Request<'a>,
    stated: Stated<'a>,
    text: &TabText,
) -> Option<(Lesson<'a>, Option<Approach<'a>>)> {
    let lesson = lesson::check(request, stated, text)?;
    // The tab may be in a different key from the tune.
    let best = best(request, lesson.given.transposed, None);
    Some((lesson, best))
}
