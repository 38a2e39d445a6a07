//! Draws the slurs of a line.

use super::{Drawer, STAFF, Spot};
use crate::{
    notation::Tie,
    sheet::{
        columns::{HEAD_MIDDLE, Measure},
        draw::{Item, Role, SPACE},
        stems,
    },
};

/// The distance from the ends of a slur to its notes, and from its arc to the notes between.
const GAP: i32 = 90;
/// The least and the greatest height of a slur's arc, measured from the straight line between its ends.
const LEAST_RISE: i32 = 130;
const MOST_RISE: i32 = 5 * SPACE / 2;
/// The distance before the music at which a slur from the previous line begins, and the distance before the last
/// barline at which a slur to the next line ends.
const BEFORE_MUSIC: i32 = 130;
const BEFORE_BARLINE: i32 = 20;
/// How far to the left and right of a notehead ink still counts as part of the note.
const BESIDE: i32 = 20;

impl Drawer<'_> {
    /// Draws the slurs that begin, end or continue in the line. A slur is below its notes in the line if all their
    /// stems go up, and above them if not (from memory of the handbooks).
    pub(super) fn slurs(&mut self, measures: &[Measure]) {
        let spots: Vec<Spot> = self.spots.iter().filter(|spot| spot.note.is_some()).copied().collect();
        let number = |spot: &Spot| spot.note.map_or(0, |note| note.note);
        let (Some(first), Some(last)) = (spots.first().map(number), spots.last().map(number)) else { return };
        let music_end = match measures.last() {
            Some(measure) if measure.ends => self.end_of(measures.len() - 1),
            _ => self.line.end,
        };
        let score = self.score;
        for &(begin, end) in score.slurs.iter().filter(|slur| slur.0 <= last && slur.1 >= first) {
            let from = spots.partition_point(|spot| number(spot) < begin);
            let to = spots.partition_point(|spot| number(spot) <= end);
            let members = &spots[from..to];
            let (Some(&left), Some(&right)) = (members.first(), members.last()) else { continue };
            // A slur covers its first and last notes with all their tied pieces, even if these are in another line.
            let begins = number(&left) == begin && left.note.is_some_and(|note| note.begins);
            let goes_on = end > last || right.note.is_some_and(|note| note.tie == Tie::ToNext);
            let left = if begins { End::Note(left) } else { End::Edge(self.line.start - BEFORE_MUSIC) };
            let right = if goes_on { End::Edge(music_end - BEFORE_BARLINE) } else { End::Note(right) };
            if left.x() < right.x() {
                let below = members.iter().all(|spot| self.stem_is_up(measures, spot));
                self.slur(members, below, left, right, end);
            }
        }
    }

    fn slur(&mut self, members: &[Spot], below: bool, left: End, right: End, owner: usize) {
        let way = if below { 1 } else { -1 };
        let edge = |drawer: &Self, from: i32, to: i32| match below {
            true => drawer.bottom_between(from, to).max(STAFF / 2),
            false => drawer.top_between(from, to).min(STAFF / 2),
        };
        // The height of an end at a note follows from the ink of the note. An end at the edge of the line is as high as
        // the other end. If both ends are at edges, the ink between them decides.
        let height = |drawer: &Self, end: &End| match *end {
            End::Note(spot) => Some(drawer.notes_edge(&spot, below) + way * GAP),
            End::Edge(_) => None,
        };
        let (from, to) = (left.x(), right.x());
        let heights = (height(self, &left), height(self, &right));
        let open = || edge(self, from, to) + way * GAP;
        let y1 = heights.0.or(heights.1).unwrap_or_else(open);
        let y2 = heights.1.or(heights.0).unwrap_or_else(open);
        // At the fraction t of the slur's width, the arc has about 4 t (1 - t) of its full rise.
        let mut rise = ((to - from) / 7).clamp(LEAST_RISE, SPACE);
        for spot in members {
            let x = spot.x + HEAD_MIDDLE;
            let (done, whole) = (i64::from(x - from), i64::from(to - from));
            if done * 8 < whole || done * 8 > whole * 7 {
                continue;
            }
            let chord = y1 + (i64::from(y2 - y1) * done / whole) as i32;
            let need = i64::from(way * (self.notes_edge(spot, below) - chord) + GAP);
            rise = rise.max((need * whole * whole / (4 * done * (whole - done))) as i32);
        }
        let measure = members[0].measure;
        let item = Item::tie((from, y1), (to, y2), way * rise.min(MOST_RISE), Role::Span);
        self.add(measure, Some(owner), item);
    }

    /// Returns whether the stem of a note goes up, alone or under a beam.
    fn stem_is_up(&self, measures: &[Measure], spot: &Spot) -> bool {
        let bar = &self.score.bars[measures[spot.measure].bar];
        let group = bar.beams.partition_point(|group| group.last() < Some(&spot.event));
        let group = bar.beams.get(group).filter(|group| spot.grace.is_none() && group.contains(&spot.event));
        match group {
            Some(group) => stems::up(group.iter().filter_map(|&event| bar.events[event].note.as_ref())),
            None => spot.grace.is_some() || stems::up(spot.note.into_iter()),
        }
    }

    /// Returns the edge of the ink of a note, above or below.
    fn notes_edge(&self, spot: &Spot, below: bool) -> i32 {
        let (left, right) = (spot.x - BESIDE, spot.x + 2 * HEAD_MIDDLE + BESIDE);
        // Staff lines and long slurs are not part of the ink of a note.
        let narrow = self.ink.iter().filter(|ink| ink.right - ink.left < self.line.end / 2);
        let near = narrow.filter(|ink| ink.left < right && left < ink.right);
        match below {
            true => near.map(|ink| ink.bottom).max().unwrap_or(STAFF),
            false => near.map(|ink| ink.top).min().unwrap_or(0),
        }
    }
}

/// The end of a slur: at a note, or at the edge of the line.
#[derive(Clone, Copy)]
enum End<'a> {
    Note(Spot<'a>),
    Edge(i32),
}

impl End<'_> {
    fn x(&self) -> i32 {
        match self {
            End::Note(spot) => spot.x + HEAD_MIDDLE,
            End::Edge(x) => *x,
        }
    }
}
