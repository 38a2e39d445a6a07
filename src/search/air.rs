//! The air in the lungs during a playing, as a line over time that a picture can show; [`super::path`] computes the air
//! note by note.

use super::{effort::Weights, path::Playing};
use crate::melody::Melody;

/// A corner of the line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Level {
    /// Milliseconds from the start of the tune.
    pub ms: u64,
    /// The air in the lungs, in millilitres.
    pub ml: u32,
}

/// Returns the corners of the line in order of time, from the start of the first sounded note to the end of the last.
/// The line is straight between corners. Two corners at the same time mark a catch breath, which takes no time in the
/// model. A playing without sounded notes has no line.
pub fn levels(melody: &Melody, playing: &Playing, weights: &Weights) -> Vec<Level> {
    let lungs = &weights.lungs;
    let mut levels: Vec<Level> = Vec::new();
    let mut last: Option<Level> = None;
    for (sounding, played) in melody.timing().into_iter().zip(&playing.notes) {
        if played.action.is_none() {
            continue;
        }
        let (start, end) = (sounding.start / 1000, sounding.end / 1000);
        let ml = played.air_before_ml;
        if let Some(last) = last {
            // If the lungs reach the target volume before the note begins, they stay at that volume: the line has a
            // corner there.
            let full = u64::from(last.ml.abs_diff(ml)) * 1000 / u64::from(lungs.recover_ml.max(1));
            if full < start.saturating_sub(last.ms) {
                levels.push(Level { ms: last.ms + full, ml });
            }
        }
        levels.push(Level { ms: start, ml });
        let after = Level { ms: end, ml: played.air_ml };
        levels.push(after);
        last = Some(after);
    }
    levels
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        harp::{Harp, Technique, Traits, Tuning},
        import,
        melody::key,
        search::{self, effort::Way},
    };

    /// Starting from each recorded level before a note, the model reaches the level that the search recorded after the
    /// note.
    #[test]
    fn the_line_passes_through_what_the_search_added_up() {
        let tunes: [&[u8]; 3] = [
            include_bytes!("../../corpus/amazing-grace.musicxml"),
            include_bytes!("../../corpus/drunken-sailor.musicxml"),
            include_bytes!("../../corpus/stille-nacht.musicxml"),
        ];
        let mut rested = 0;
        for tune in tunes {
            let melody = import::import(tune, &import::ImportOptions::default()).unwrap().melody;
            let harps = Harp::standard_set(&Tuning::richter());
            let mut weights = Weights::default();
            // Small lungs reach their limits.
            weights.lungs.capacity_ml = 1500;
            let ranking = search::search(&search::Request {
                melody: &melody,
                key: key::find(&melody).key,
                harps: &harps,
                technique: Technique::All,
                weights: &weights,
                any_key: false,
                pins: &[],
            });
            for approach in ranking.approaches.iter().take(6) {
                let levels = levels(&melody, &approach.playing, &weights);
                assert!(levels.is_sorted_by_key(|level| level.ms));
                let mut at = levels.iter();
                for (sounding, played) in melody.timing().iter().zip(&approach.playing.notes) {
                    let Some(action) = played.action else { continue };
                    let pitch = approach.harp.pitch(action).unwrap();
                    let way = Way { action, pitch, traits: Traits::default() };
                    let (start, end) = (sounding.start / 1000, sounding.end / 1000);
                    // A corner that ends a silence may come before the note's own corner, never after it.
                    let mut from = at.next().unwrap();
                    if from.ms < start {
                        rested += 1;
                        assert_eq!(from.ml, played.air_before_ml);
                        from = at.next().unwrap();
                    }
                    let to = at.next().unwrap();
                    assert_eq!((from.ms, to.ms), (start, end));
                    let aired = weights.lungs.sounded(from.ml, &way, (end - start) as u32);
                    assert_eq!((aired.level_ml, aired.limit), (to.ml, played.limit));
                    assert_eq!(to.ml, played.air_ml);
                }
                assert_eq!(at.next(), None);
            }
        }
        assert!(rested > 4, "{rested} rests");
    }
}
