"""A tune: its bars of notes, and the order in which the bars are played.

All lengths are in quarter notes, as `Fraction`s, so nothing is ever rounded.
"""

from dataclasses import dataclass, field
from fractions import Fraction

STEPS = "CDEFGAB"
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
# The number of fifths by which a mode's key signature lies above that of the major key on the same tonic.
MODE_FIFTHS = {
    "major": 0,
    "minor": -3,
    "dorian": -2,
    "phrygian": -4,
    "lydian": 1,
    "mixolydian": -1,
    "aeolian": -3,
}


class SourceError(Exception):
    """A mistake in a source, worded for the person who wrote it."""


@dataclass(frozen=True)
class Pitch:
    step: str
    alter: int
    octave: int  # of the step as written: B# in octave 3 sounds as C4

    @property
    def midi(self):
        return 12 * (self.octave + 1) + SEMITONES[self.step] + self.alter

    def __str__(self):
        return self.step + ("#" * self.alter or "b" * -self.alter) + str(self.octave)


@dataclass(frozen=True)
class Key:
    tonic: str  # "D", "Bb", "F#"
    mode: str

    @property
    def fifths(self):
        natural = "FCGDAEB".index(self.tonic[0]) - 1
        return natural + 7 * (self.tonic.count("#") - self.tonic.count("b")) + MODE_FIFTHS[self.mode]

    def alter(self, step):
        """Returns how the key signature alters a step: 1 for a sharp, -1 for a flat, 0 for neither."""
        sharps, flats = "FCGDAEB"[: max(self.fifths, 0)], "BEADGCF"[: max(-self.fifths, 0)]
        return (step in sharps) - (step in flats)

    @property
    def tonic_class(self):
        return (SEMITONES[self.tonic[0]] + self.tonic.count("#") - self.tonic.count("b")) % 12

    def __str__(self):
        return f"{self.tonic} {self.mode}"


@dataclass(frozen=True)
class Meter:
    beats: int
    unit: int

    @property
    def bar(self):
        return Fraction(4 * self.beats, self.unit)

    def __str__(self):
        return f"{self.beats}/{self.unit}"


@dataclass(frozen=True)
class Tempo:
    beat: Fraction  # the note that is counted, in quarters
    per_minute: int

    @property
    def quarters_per_minute(self):
        return self.beat * self.per_minute


@dataclass
class Lyric:
    text: str
    hyphen_before: bool = False
    hyphen_after: bool = False
    extend: bool = False  # held over notes that have no syllable


@dataclass
class Note:
    """A note, or a rest if `pitch` is `None`."""

    pitch: Pitch | None
    written: Fraction  # the length as written
    length: Fraction  # the length as played: shorter in a triplet
    accidental: str | None = None  # the printed sign, if any
    tuplet: str | None = None  # "start", "inside" or "stop" of a triplet
    tie_start: bool = False
    tie_stop: bool = False
    slurs_start: int = 0
    slurs_stop: int = 0
    graces: list[tuple[Pitch, str | None]] = field(default_factory=list)  # with their printed accidentals
    chord: str | None = None
    marks: set[str] = field(default_factory=set)  # breath, fermata, fine, D.C.
    lyrics: dict[int, Lyric] = field(default_factory=dict)  # by verse


@dataclass
class Bar:
    line: int  # the line of the source
    key: Key
    meter: Meter
    notes: list[Note] = field(default_factory=list)
    number: int = 0
    second_half: bool = False  # the rest of a bar that was cut by a repeat
    repeat_start: bool = False
    repeat_end: bool = False
    ending: int | None = None
    ending_start: bool = False
    ending_stop: bool = False
    double: bool = False  # whether a double bar line follows

    @property
    def length(self):
        return sum((note.length for note in self.notes), Fraction(0))

    def has(self, mark):
        return any(mark in note.marks for note in self.notes)


@dataclass
class Tune:
    name: str  # the name of its files
    title: str
    form: str
    origin: str
    source: str  # where it was first published
    composer: str
    tempo: Tempo
    bars: list[Bar]
    also: list[str]  # further files that are wanted: "mxl", "band"

    @property
    def key(self):
        return self.bars[0].key

    @property
    def notes(self):
        return [note for bar in self.bars for note in bar.notes]


def played(bars):
    """Returns the bars in the order in which they are played: with repeats and endings, but no repeats after a D.C."""
    order, section, time, again = [], 0, 1, False
    at = 0
    while at < len(bars):
        bar = bars[at]
        if bar.repeat_start and at != section:
            section, time = at, 1
        if bar.ending and bar.ending != (2 if again else time):
            at += 1
            continue
        order.append(bar)
        if again and bar.has("fine"):
            break
        if bar.repeat_end and time == 1 and not again:
            time, at = 2, section
            continue
        if bar.repeat_end:
            section, time = at + 1, 1
        if bar.has("D.C.") and not again:
            again, section, time, at = True, 0, 1, 0
            continue
        if bar.ending == 2 and bar.ending_stop:
            section, time = at + 1, 1
        at += 1
    return order


def check_bars(tune):
    """Checks that every bar adds up to its meter, in the order of playing. Where a repeat cuts a bar, its two halves
    must do so together; a last bar that is too short must do so together with the pickup."""
    pickup = Fraction(0)
    cut = Fraction(0)  # the part already played of a bar that a repeat has cut
    order = played(tune.bars)
    for index, bar in enumerate(order):
        want, have = bar.meter.bar, bar.length
        if index == 0 and have < want:
            pickup = have
        elif cut + have == want:
            cut = Fraction(0)
        elif cut == 0 and have < want and cuts(bar):
            cut = have
        else:
            before = f" after {cut} before the repeat" if cut else ""
            raise SourceError(
                f"{tune.name}, line {bar.line}, bar {bar.number}: "
                f"{have} quarters{before}, but {bar.meter} wants {want}"
            )
    if cut and cut + pickup != order[-1].meter.bar:
        raise SourceError(
            f"{tune.name}, bar {order[-1].number}: the last bar has {cut} quarters and the pickup {pickup}; "
            f"together they should fill a bar of {order[-1].meter}"
        )


def cuts(bar):
    """Whether a bar may be short because the music turns back, ends or starts a section after it."""
    return bar.repeat_end or bar.double or bar.ending_stop or bar.has("fine") or bar.has("D.C.")
