//! From lengths to written notes: values with dots, tuplets, and ties where one note cannot say it.
//!
//! A bar is a row of [`Span`]s, notes and rests, in whole ticks. Each becomes one or more [`Piece`]s:
//!
//! 1. A stretch between two places on the binary grid in which something is off it is a tuplet: of thirds 3 in the time of
//!    2, of fifths 5 in the time of 4, and so on. A long note that only ends or begins in it is split at the beat.
//! 2. What is one value with at most two dots is one note, unless it hides the beat: in 6/8 and its like no note crosses
//!    a beat unless it starts and ends on one, and a long syncopation is tied over (common practice, no source).
//! 3. Everything else is cut at the strongest place inside it, and the pieces are tied.
//!
//! What no value can say even so is written by its length alone, which the format allows.

/// A note or a rest in a bar, in ticks from the start of the bar.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Span {
    pub(super) from: i64,
    pub(super) to: i64,
    /// The index of the note; `None` for a rest.
    pub(super) note: Option<usize>,
}

/// A written note or rest.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Piece {
    pub(super) span: Span,
    /// What it looks like; `None` if no value says it.
    pub(super) value: Option<Value>,
    pub(super) tuplet: Option<Tuplet>,
    pub(super) opens_tuplet: bool,
    pub(super) closes_tuplet: bool,
}

/// A note value: a quarter times two to the power of `power`, with dots.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Value {
    pub(super) power: i8,
    pub(super) dots: u8,
}

/// So many notes in the time of so many.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Tuplet {
    pub(super) actual: i64,
    pub(super) normal: i64,
}

impl Tuplet {
    const NONE: Tuplet = Tuplet { actual: 1, normal: 1 };
}

impl Value {
    const SHORTEST: i8 = -8;
    const LONGEST: i8 = 5;
    const MOST_DOTS: u8 = 2;

    /// As the format names it (MusicXML 4.0, `note-type-value`).
    pub(super) fn name(self) -> &'static str {
        const NAMES: [&str; 14] = [
            "1024th", "512th", "256th", "128th", "64th", "32nd", "16th", "eighth", "quarter", "half",
            "whole", "breve", "long", "maxima",
        ];
        NAMES[(self.power.clamp(Value::SHORTEST, Value::LONGEST) - Value::SHORTEST) as usize]
    }

    /// The value of a length, if there is one.
    fn of(ticks: i64, quarter: i64, tuplet: Tuplet) -> Option<Value> {
        let written =
            (i128::from(ticks) * i128::from(tuplet.actual)) << (Value::MOST_DOTS as i8 - Value::SHORTEST);
        let quarter = i128::from(quarter) * i128::from(tuplet.normal);
        (0..=Value::MOST_DOTS).find_map(|dots| {
            let dotted = (quarter * ((2 << dots) - 1)) << (Value::MOST_DOTS - dots);
            let powers = Value::SHORTEST..=Value::LONGEST;
            let fits = |power: &i8| dotted << (power - Value::SHORTEST) == written;
            powers.rev().find(fits).map(|power| Value { power, dots })
        })
    }
}

/// The beat and the length of a bar in ticks.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Measure {
    /// Ticks a quarter.
    pub(super) quarter: i64,
    /// Ticks from beat to beat as it is felt; a quarter in music without a meter.
    pub(super) beat: i64,
    /// Whether a beat has three parts, as in 6/8.
    pub(super) compound: bool,
    /// Where the first beat is counted from: a pickup ends on a beat rather than beginning on one.
    pub(super) origin: i64,
    /// Ticks in all.
    pub(super) length: i64,
    /// Whether that is what the meter says.
    pub(super) full: bool,
}

/// Writes out a bar.
pub(super) fn pieces(spans: &[Span], measure: Measure) -> Vec<Piece> {
    if let [span] = spans
        && span.note.is_none()
        && measure.full
    {
        // A rest for the whole bar has one sign in every meter.
        return vec![Piece {
            span: *span,
            value: None,
            tuplet: None,
            opens_tuplet: false,
            closes_tuplet: false,
        }];
    }
    let split: Vec<Span> = spans.iter().flat_map(|&span| measure.split_at_beats(span)).collect();
    let mut pieces = Vec::new();
    let mut rest = split.as_slice();
    while let Some(&first) = rest.first() {
        if measure.is_binary(first.to) {
            measure.cut(first, Tuplet::NONE, 0, &mut pieces);
            rest = &rest[1..];
            continue;
        }
        // Up to the next place on the binary grid, or to the end of a bar that has none.
        let count =
            rest.iter().position(|span| measure.is_binary(span.to)).map_or(rest.len(), |last| last + 1);
        let (group, more) = rest.split_at(count);
        measure.tuplet(group, &mut pieces);
        rest = more;
    }
    pieces
}

/// How often a span can be cut in two; each cut is at a weaker place, of which there are fewer than this.
const DEEPEST: usize = 32;

impl Measure {
    /// Whether a place lies on quarters, halves of them, quarters of them and so on.
    fn is_binary(self, at: i64) -> bool {
        at % (self.quarter >> self.quarter.trailing_zeros()) == 0
    }

    /// Splits a long span with one end on the binary grid and one off it at the beat, so that the tuplet stays short.
    fn split_at_beats(self, span: Span) -> Vec<Span> {
        let (from, to) = (self.is_binary(span.from), self.is_binary(span.to));
        let mut cuts = Vec::new();
        if from != to && span.to - span.from > self.beat && self.is_binary(self.beat) {
            let last = self.origin + (span.to - self.origin).div_euclid(self.beat) * self.beat;
            let first = self.origin - (self.origin - span.from).div_euclid(self.beat) * self.beat;
            cuts.push(if from { last } else { first });
        }
        cuts.retain(|cut| (span.from + 1..span.to).contains(cut));
        match cuts.first() {
            Some(&cut) => vec![Span { to: cut, ..span }, Span { from: cut, ..span }],
            None => vec![span],
        }
    }

    fn tuplet(self, group: &[Span], pieces: &mut Vec<Piece>) {
        let (Some(first), Some(last)) = (group.first(), group.last()) else { return };
        let length = last.to - first.from;
        // How many equal parts the stretch has, without its factors of two.
        let parts = group.iter().fold(1, |parts, span| {
            let into = length / num_integer::gcd(length, span.to - first.from).max(1);
            num_integer::lcm(parts, into >> into.trailing_zeros())
        });
        let normal = 1i64 << parts.max(1).ilog2();
        let tuplet = Tuplet { actual: parts, normal };
        let begin = pieces.len();
        let is_tuplet = self.is_binary(last.to) && parts > 1;
        for &span in group {
            let tuplet = if is_tuplet { tuplet } else { Tuplet::NONE };
            self.cut(span, tuplet, first.from, pieces);
        }
        let written = &mut pieces[begin..];
        if is_tuplet && written.iter().all(|piece| piece.value.is_some()) {
            if let Some(piece) = written.first_mut() {
                piece.opens_tuplet = true;
            }
            if let Some(piece) = written.last_mut() {
                piece.closes_tuplet = true;
            }
        } else {
            written.iter_mut().for_each(|piece| (piece.value, piece.tuplet) = (None, None));
        }
    }

    /// One value where that reads well, else two halves; places count from `origin`.
    fn cut(self, span: Span, tuplet: Tuplet, origin: i64, pieces: &mut Vec<Piece>) {
        let mut todo = vec![(span, 0)];
        while let Some((span, depth)) = todo.pop() {
            let value = Value::of(span.to - span.from, self.quarter, tuplet);
            let in_tuplet = tuplet != Tuplet::NONE;
            let reads_well = in_tuplet || self.reads_well(span, value);
            let cut =
                if in_tuplet { self.strongest(span, tuplet, origin) } else { self.strongest_beat(span) };
            match (value, cut) {
                (None, Some(cut)) if depth < DEEPEST => {
                    todo.push((Span { from: cut, ..span }, depth + 1));
                    todo.push((Span { to: cut, ..span }, depth + 1));
                }
                (Some(_), Some(cut)) if !reads_well && depth < DEEPEST => {
                    todo.push((Span { from: cut, ..span }, depth + 1));
                    todo.push((Span { to: cut, ..span }, depth + 1));
                }
                _ => pieces.push(Piece {
                    span,
                    value,
                    tuplet: in_tuplet.then_some(tuplet),
                    opens_tuplet: false,
                    closes_tuplet: false,
                }),
            }
        }
    }

    /// Whether one value shows the beat.
    fn reads_well(self, span: Span, value: Option<Value>) -> bool {
        let on_beat = |at: i64| (at - self.origin) % self.beat == 0;
        let crosses = (span.from - self.origin).div_euclid(self.beat)
            != (span.to - 1 - self.origin).div_euclid(self.beat);
        let length = span.to - span.from;
        let whole_bar = span.from == 0 && span.to == self.length;
        if whole_bar {
            return true;
        }
        if self.compound {
            return !crosses || (on_beat(span.from) && on_beat(span.to));
        }
        if span.note.is_none() {
            // A rest has no dot and stands at a multiple of itself.
            return value.is_some_and(|value| value.dots == 0) && (span.from - self.origin) % length == 0;
        }
        on_beat(span.from) || on_beat(span.to) || length < 2 * self.beat
    }

    /// The strongest beat, or else the strongest part of one, inside a span.
    fn strongest_beat(self, span: Span) -> Option<i64> {
        let beats = (0..6).rev().map(|power| self.beat << power);
        let parts = (1..=10).map_while(|power| {
            let whole = if self.compound { self.beat / 3 * 2 } else { self.beat };
            (whole % (1 << power) == 0).then_some(whole >> power)
        });
        first_inside(span, self.origin, beats.chain(parts))
    }

    /// The same in a tuplet that begins at `origin`, by its own values.
    fn strongest(self, span: Span, tuplet: Tuplet, origin: i64) -> Option<i64> {
        let scaled = |numerator: i64, denominator: i64| {
            let ticks = i128::from(numerator) * i128::from(tuplet.normal);
            let parts = i128::from(denominator) * i128::from(tuplet.actual);
            (ticks % parts == 0).then(|| i64::try_from(ticks / parts).ok()).flatten()
        };
        let long = (0..5).rev().filter_map(|power| scaled(self.quarter << power, 1));
        let short = (1..=8).filter_map(|power| scaled(self.quarter, 1 << power));
        first_inside(span, origin, long.chain(short))
    }
}

/// The first multiple of a step, counted from `origin`, that lies inside the span; the steps are tried in order.
fn first_inside(span: Span, origin: i64, steps: impl Iterator<Item = i64>) -> Option<i64> {
    steps.filter(|&step| step > 0).find_map(|step| {
        let at = origin + ((span.from - origin).div_euclid(step) + 1) * step;
        (at < span.to).then_some(at)
    })
}

/// The beams at each piece: for each level from the eighth on, whether one begins, goes on or ends there.
pub(super) fn beams(pieces: &[Piece], measure: Measure) -> Vec<Vec<&'static str>> {
    let beat = |piece: &Piece| (piece.span.from - measure.origin).div_euclid(measure.beat);
    // How many beams the value has by itself.
    let levels = |piece: &Piece| match piece.value {
        Some(value) if piece.span.note.is_some() => usize::from(value.power.min(0).unsigned_abs()),
        _ => 0,
    };
    let mut beams = Vec::with_capacity(pieces.len());
    for group in pieces.chunk_by(|a, b| levels(a) > 0 && levels(b) > 0 && beat(a) == beat(b)) {
        for (index, piece) in group.iter().enumerate() {
            let has = |at: Option<usize>, level: usize| {
                at.and_then(|at| group.get(at)).is_some_and(|other| levels(other) >= level)
            };
            let signs = (1..=levels(piece)).filter(|_| group.len() > 1).map(|level| {
                match (has(index.checked_sub(1), level), has(Some(index + 1), level)) {
                    (true, true) => "continue",
                    (true, false) => "end",
                    (false, true) => "begin",
                    (false, false) if index > 0 => "backward hook",
                    (false, false) => "forward hook",
                }
            });
            beams.push(signs.collect());
        }
    }
    beams
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMMON: Measure =
        Measure { quarter: 12, beat: 12, compound: false, origin: 0, length: 48, full: true };
    const JIG: Measure = Measure { quarter: 4, beat: 6, compound: true, origin: 0, length: 12, full: true };

    /// The values of a row of lengths, rests with an `r` before them; `3/2` is a triplet's.
    fn written(lengths: &[i64], measure: Measure) -> String {
        let mut from = 0;
        let mut spans = Vec::new();
        for (index, &length) in lengths.iter().enumerate() {
            let note = (length > 0).then_some(index);
            spans.push(Span { from, to: from + length.abs(), note });
            from += length.abs();
        }
        let pieces = pieces(&spans, measure);
        assert_eq!(pieces.iter().map(|piece| piece.span.to - piece.span.from).sum::<i64>(), from);
        let texts = pieces.iter().map(|piece| {
            let value = piece.value.map_or("?".to_owned(), |value| {
                format!("{}{}", value.name(), ".".repeat(usize::from(value.dots)))
            });
            let tuplet = piece.tuplet.map_or(String::new(), |t| format!(" {}/{}", t.actual, t.normal));
            let rest = if piece.span.note.is_none() { "r " } else { "" };
            format!("{rest}{value}{tuplet}")
        });
        texts.collect::<Vec<_>>().join(", ")
    }

    #[test]
    fn lengths_are_written_as_players_read_them() {
        assert_eq!(written(&[12, 18, 6, 12], COMMON), "quarter, quarter., eighth, quarter");
        assert_eq!(written(&[48], COMMON), "whole");
        // Five eighths are no value.
        assert_eq!(written(&[30, 18], COMMON), "half, eighth, quarter.");
        // A long syncopation is tied over the middle of the bar.
        assert_eq!(written(&[6, 24, 18], COMMON), "eighth, quarter., eighth, quarter.");
        assert_eq!(written(&[-48], COMMON), "r ?");
        assert_eq!(written(&[12, -24, 12], COMMON), "quarter, r quarter, r quarter, quarter");
        assert_eq!(written(&[4, 4, 4, 36], COMMON), "eighth 3/2, eighth 3/2, eighth 3/2, half.");
        assert_eq!(written(&[8, 4, 36], COMMON), "quarter 3/2, eighth 3/2, half.");
        // A note held into a triplet.
        assert_eq!(written(&[16, 8, 24], COMMON), "quarter, eighth 3/2, quarter 3/2, half");
        // Quarters in threes over two beats.
        assert_eq!(written(&[8, 8, 8, 24], COMMON), "quarter 3/2, quarter 3/2, quarter 3/2, half");
        assert_eq!(written(&[4, 2, 6], JIG), "quarter, eighth, quarter.");
        assert_eq!(written(&[2, 8, 2], JIG), "eighth, quarter, quarter, eighth");
        assert_eq!(written(&[12], JIG), "half.");
        assert_eq!(written(&[3, 3, 6], JIG), "eighth., eighth., quarter.");
    }

    #[test]
    fn beams_join_the_short_notes_of_a_beat() {
        let spans: Vec<Span> = [(0, 6), (6, 9), (9, 12), (12, 18), (18, 24), (24, 36), (36, 45), (45, 48)]
            .into_iter()
            .enumerate()
            .map(|(note, (from, to))| Span { from, to, note: Some(note) })
            .collect();
        let pieces = pieces(&spans, COMMON);
        let beams = beams(&pieces, COMMON);
        let shown: Vec<String> = beams.iter().map(|signs| signs.join("+")).collect();
        assert_eq!(
            shown,
            ["begin", "continue+begin", "end+end", "begin", "end", "", "begin", "end+backward hook"]
        );
    }
}
