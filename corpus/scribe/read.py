"""Reads a tune from text in a small part of ABC 2.1 (the open standard for tunes as text).

The reader knows the header fields X, T, R, O, S, C, M, L, Q, K; comments, and `%%also` with further files to write;
notes, rests, accidentals, lengths, broken rhythm, triplets `(3`, ties, slurs, grace notes, chord symbols, `[K:]` and
`[M:]`, repeats, first and second endings; `!fine!`, `!D.C.!`, `!fermata!`, and `!breath!`, written before the note
after which the player breathes; and `w:` lines, one for each verse, with `-`, `_`, `*` and `~`. Anything else is an
error.
"""

import re
from fractions import Fraction

from .tune import MODE_FIFTHS, Bar, Key, Lyric, Meter, Note, Pitch, SourceError, Tempo, Tune, check_bars

MODES = {"": "major", "m": "minor", "min": "minor", "dor": "dorian", "mix": "mixolydian", "aeo": "aeolian"}
MARKS = {"fine", "D.C.", "fermata", "breath"}
LINEBREAK = re.compile(r"(?<!\\)%.*")
TOKEN = re.compile(
    r"""
    (?P<space>\s+)
  | "(?P<chord>[^"]+)"
  | !(?P<mark>[^!]+)!
  | \[(?P<field>[KM]):(?P<value>[^\]]+)\]
  | \{(?P<graces>[^}]+)\}
  | (?P<bar>:\||\|:|::|\|\||\|\]|\|)
  | \[?(?P<ending>[12])(?=[^\d/])
  | (?P<triplet>\(3)
  | (?P<slur>\()
  | (?P<note>[\^_=]?[A-Ga-g][,']*|z)(?P<length>\d*/*\d*)
  | (?P<broken>[<>])
  | (?P<tie>-)
  | (?P<unslur>\))
    """,
    re.VERBOSE,
)


def read(text, name):
    """Returns the tune in `text`; `name` is the name of its files, and errors begin with it. Raises `SourceError`."""
    return Reader(name).read(text)


class Reader:
    def __init__(self, name):
        self.name = name
        self.line = 0
        self.header = {}
        self.also = []
        self.unit = Fraction(1, 2)
        self.meter = self.key = None
        self.bars = []
        self.bar = None
        self.line_notes = []  # the notes of the last music line, for the words under it
        self.verse = 0
        self.in_word = {}  # the verses whose last syllable ends with a hyphen
        self.accidentals = {}  # those that hold until the next bar line
        # What the next note needs from the signs before it.
        self.waiting = Note(None, Fraction(0), Fraction(0))
        self.triplet_left = 0
        self.broken = None
        self.tied = None
        self.repeat_start = False
        self.ending = None

    def fail(self, what):
        raise SourceError(f"{self.name}, line {self.line}: {what}")

    def read(self, text):
        for self.line, line in enumerate(text.splitlines(), 1):
            if line.startswith("%%also "):
                self.also += line.split()[1:]
                continue
            line = LINEBREAK.sub("", line).rstrip()
            if not line:
                continue
            field, colon, value = line[0], line[1:2], line[2:].strip()
            if colon == ":" and field == "w":
                self.words(value)
            elif colon == ":" and field.isalpha():
                self.field(field, value)
            else:
                self.music(line)
        self.close_bar()
        if self.tied or self.triplet_left or self.broken:
            self.fail("the tune ends in the middle of a tie, a triplet or a broken rhythm")
        if self.bars[-1].ending:
            self.bars[-1].ending_stop = True
        self.number_bars()
        head = self.header
        for wanted, what in (("T", "title"), ("R", "form"), ("S", "source"), ("Q", "tempo")):
            if wanted not in head:
                self.fail(f"no {wanted}: field ({what})")
        tune = Tune(
            self.name, head["T"], head["R"], head.get("O", ""), head["S"], head.get("C", "Traditional"),
            head["Q"], self.bars, self.also,
        )
        check_bars(tune)
        return tune

    def field(self, field, value):
        if field == "M":
            self.meter = self.parsed_meter(value)
        elif field == "L":
            self.unit = 4 * Fraction(value)
        elif field == "K":
            self.key = self.parsed_key(value)
        elif field == "Q":
            beat, per_minute = value.split("=")
            self.header["Q"] = Tempo(4 * Fraction(beat), int(per_minute))
        elif field in "TROSCX":
            self.header[field] = value
        else:
            self.fail(f"field {field}: is not known here")

    def parsed_meter(self, value):
        beats, slash, unit = value.partition("/")
        if not slash:
            self.fail(f"meter {value!r}: write it as two numbers, such as 4/4")
        return Meter(int(beats), int(unit))

    def parsed_key(self, value):
        match = re.fullmatch(r"([A-G][#b]?) ?([a-z]*)", value)
        if not match or match[2] not in MODES:
            self.fail(f"key {value!r}: write it such as D, Bb, Em, Ador, Dmix")
        return Key(match[1], MODES[match[2]])

    def music(self, line):
        self.line_notes, self.verse = [], 0
        at = 0
        while at < len(line):
            token = TOKEN.match(line, at)
            if not token:
                self.fail(f"column {at + 1}: {line[at:at + 8]!r} is not understood")
            at = token.end()
            kind = token.lastgroup
            text = token[kind]
            if kind == "chord":
                self.waiting.chord = text
            elif kind == "mark":
                if text not in MARKS:
                    self.fail(f"the mark !{text}! is not known; known are {', '.join(sorted(MARKS))}")
                self.waiting.marks.add(text)
            elif kind == "value" and token["field"] == "K":
                self.key, self.accidentals = self.parsed_key(text), {}
            elif kind == "value":
                self.meter = self.parsed_meter(text)
            elif kind == "graces":
                for grace in re.findall(r"[\^_=]?[A-Ga-g][,']*", text):
                    self.waiting.graces.append(self.pitch(grace))
            elif kind == "bar":
                self.bar_line(text)
            elif kind == "ending":
                if self.bar is not None:
                    self.fail("an ending starts at a bar line")
                self.ending = int(text)
            elif kind == "triplet":
                self.triplet_left = 3
            elif kind == "slur":
                self.waiting.slurs_start += 1
            elif kind == "length":
                self.note(token["note"], self.parsed_length(text))
            elif kind == "broken":
                if not self.line_notes or self.broken:
                    self.fail("a broken rhythm stands between two notes")
                longer, shorter = Fraction(3, 2), Fraction(1, 2)
                before, after = (longer, shorter) if text == ">" else (shorter, longer)
                last = self.line_notes[-1]
                last.written *= before
                last.length *= before
                self.broken = after
            elif kind == "tie":
                self.tied = self.line_notes[-1]
                self.tied.tie_start = True
            elif kind == "unslur":
                self.line_notes[-1].slurs_stop += 1

    def parsed_length(self, text):
        above, slashes, below = re.fullmatch(r"(\d*)(/*)(\d*)", text).groups()
        divisor = int(below) if below else 2 ** len(slashes)
        return self.unit * int(above or 1) / divisor

    def pitch(self, text):
        sign, letter, marks = re.fullmatch(r"([\^_=]?)([A-Ga-g])([,']*)", text).groups()
        step = letter.upper()
        octave = (5 if letter.islower() else 4) + marks.count("'") - marks.count(",")
        if sign:
            alter = {"^": 1, "_": -1, "=": 0}[sign]
            self.accidentals[step, octave] = alter
        else:
            alter = self.accidentals.get((step, octave), self.key.alter(step))
        printed = {"^": "sharp", "_": "flat", "=": "natural"}.get(sign)
        return Pitch(step, alter, octave), printed

    def note(self, text, length):
        if self.bar is None:
            self.open_bar()
        note, self.waiting = self.waiting, Note(None, Fraction(0), Fraction(0))
        if text != "z":
            note.pitch, note.accidental = self.pitch(text)
        if self.broken:
            length, self.broken = length * self.broken, None
        note.written = note.length = length
        if self.triplet_left:
            note.tuplet = {3: "start", 2: "inside", 1: "stop"}[self.triplet_left]
            note.length = length * Fraction(2, 3)
            self.triplet_left -= 1
        if self.tied:
            if note.pitch and note.pitch != self.tied.pitch and not note.accidental:
                # A tie carries an accidental over the bar line.
                note.pitch = self.tied.pitch if note.pitch.step == self.tied.pitch.step else note.pitch
            if note.pitch != self.tied.pitch:
                self.fail(f"a tie leads from {self.tied.pitch} to {note.pitch}")
            note.tie_stop, self.tied = True, None
        self.bar.notes.append(note)
        self.line_notes.append(note)

    def open_bar(self):
        if not self.key or not self.meter:
            self.fail("M: and K: must come before the notes")
        inherited = self.bars[-1].ending if self.bars and not self.bars[-1].ending_stop else None
        self.bar = Bar(self.line, self.key, self.meter, repeat_start=self.repeat_start)
        self.bar.ending = self.ending or inherited
        self.bar.ending_start = self.ending is not None
        self.repeat_start, self.ending = False, None
        self.bars.append(self.bar)

    def close_bar(self):
        self.bar, self.accidentals = None, {}

    def bar_line(self, text):
        if text != "|:":
            if not self.bars:
                self.fail(f"{text} before the first note")
            last = self.bars[-1]
            last.repeat_end |= text in (":|", "::")
            last.double |= text in ("||", "|]")
            if text != "|" and last.ending:
                last.ending_stop = True
        elif self.bars and self.bars[-1].ending:
            self.bars[-1].ending_stop = True
        self.repeat_start |= text in ("|:", "::")
        self.close_bar()

    def words(self, text):
        """Lays a line of words under the notes of the music line above it."""
        self.verse += 1
        notes = [note for note in self.line_notes if note.pitch]
        under = 0
        last = None  # the note of the last syllable
        after_syllable = False
        for token in re.findall(r"[^\s\-_*|]+|[-_*]", text):
            if token == "-" and after_syllable:
                last.lyrics[self.verse].hyphen_after = self.in_word[self.verse] = True
                after_syllable = False
                continue
            if under == len(notes):
                self.fail(f"more syllables than the {len(notes)} notes of the line above, from {token!r} on")
            after_syllable = token not in "-_*"
            if after_syllable:
                last = notes[under]
                last.lyrics[self.verse] = Lyric(
                    token.replace("~", " "), hyphen_before=self.in_word.pop(self.verse, False)
                )
            elif token == "_":
                if last is None or last.lyrics[self.verse].hyphen_after:
                    self.fail("`_` holds the end of a word; within a word write one more `-` for each note")
                last.lyrics[self.verse].extend = True
            under += 1
        if under != len(notes):
            self.fail(f"verse {self.verse} has {under} syllables for the {len(notes)} notes of the line above")

    def number_bars(self):
        number = 0 if self.bars[0].length < self.bars[0].meter.bar else 1
        before = None
        for bar in self.bars:
            bar.second_half = bool(
                before and before.number > 0 and not before.second_half
                and before.length + bar.length == bar.meter.bar and bar.length < bar.meter.bar
            )
            if bar.second_half:
                number -= 1
            bar.number = number
            number += 1
            before = bar


assert set(MODES.values()) <= set(MODE_FIFTHS)
