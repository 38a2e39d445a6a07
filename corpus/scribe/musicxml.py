"""Writes a tune as partwise MusicXML 4.0, as plain text and in the zip container."""

import io
import re
import zipfile
from fractions import Fraction
from math import lcm
from xml.sax.saxutils import escape, quoteattr

from .tune import SourceError, Tune

TYPES = {
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
}
# The kinds of chord that the tunes use: the text after the root, and MusicXML's word.
CHORD_KINDS = {"": "major", "m": "minor", "7": "dominant", "m7": "minor-seventh"}
HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
"""
CONTAINER = """<?xml version="1.0" encoding="UTF-8"?>
<container>
  <rootfiles>
    <rootfile full-path={} media-type="application/vnd.recordare.musicxml+xml"/>
  </rootfiles>
</container>
"""


class Writer:
    """Collects indented lines of XML."""

    def __init__(self):
        self.lines = []
        self.depth = 0

    def put(self, tag, content=None, **attributes):
        """Adds an element without children."""
        start = self.start(tag, attributes)
        self.line(f"<{start}/>" if content is None else f"<{start}>{escape(str(content))}</{tag}>")

    def open(self, tag, **attributes):
        self.line(f"<{self.start(tag, attributes)}>")
        self.depth += 1

    def close(self, tag):
        self.depth -= 1
        self.line(f"</{tag}>")

    def start(self, tag, attributes):
        return tag + "".join(f" {key.replace('_', '-')}={quoteattr(str(value))}" for key, value in attributes.items())

    def line(self, text):
        self.lines.append("  " * self.depth + text)


def musicxml(tune: Tune) -> str:
    out = Writer()
    out.open("score-partwise", version="4.0")
    out.open("work")
    out.put("work-title", tune.title)
    out.close("work")
    out.open("identification")
    out.put("creator", tune.composer, type="composer")
    out.close("identification")
    out.open("part-list")
    out.open("score-part", id="P1")
    out.put("part-name", "Melody")
    out.close("score-part")
    out.close("part-list")
    out.open("part", id="P1")
    divisions = lcm(*(note.length.denominator for note in tune.notes))
    before = None
    for bar in tune.bars:
        measure(out, tune, bar, before, divisions)
        before = bar
    out.close("part")
    out.close("score-partwise")
    return HEAD + "\n".join(out.lines) + "\n"


def measure(out, tune, bar, before, divisions):
    if bar.second_half:
        out.open("measure", number=f"X{bar.number}", implicit="yes")
    elif bar.number == 0:
        out.open("measure", number=0, implicit="yes")
    else:
        out.open("measure", number=bar.number)
    if bar.repeat_start or bar.ending_start:
        out.open("barline", location="left")
        if bar.repeat_start:
            out.put("bar-style", "heavy-light")
        if bar.ending_start:
            out.put("ending", f"{bar.ending}.", number=bar.ending, type="start")
        if bar.repeat_start:
            out.put("repeat", direction="forward")
        out.close("barline")
    attributes(out, bar, before, divisions)
    if before is None:
        tempo(out, tune.tempo)
    for note in bar.notes:
        if note.chord:
            harmony(out, note.chord)
        for pitch, accidental in note.graces:
            out.open("note")
            out.put("grace", slash="yes")
            put_pitch(out, pitch)
            out.put("voice", 1)
            out.put("type", "eighth" if len(note.graces) == 1 else "16th")
            if accidental:
                out.put("accidental", accidental)
            out.close("note")
        put_note(out, note, divisions, bar)
    if bar.has("fine"):
        direction(out, "Fine", fine="yes")
    if bar.has("D.C."):
        direction(out, "D.C. al Fine", dacapo="yes")
    last = bar is tune.bars[-1]
    if bar.repeat_end or bar.ending_stop or bar.double or last:
        out.open("barline", location="right")
        if bar.repeat_end or last:
            out.put("bar-style", "light-heavy")
        elif bar.double:
            out.put("bar-style", "light-light")
        if bar.ending_stop:
            out.put("ending", number=bar.ending, type="stop" if bar.repeat_end or last else "discontinue")
        if bar.repeat_end:
            out.put("repeat", direction="backward")
        out.close("barline")
    out.close("measure")


def attributes(out, bar, before, divisions):
    new_key = before is None or before.key != bar.key
    new_meter = before is None or before.meter != bar.meter
    if not (new_key or new_meter):
        return
    out.open("attributes")
    if before is None:
        out.put("divisions", divisions)
    if new_key:
        out.open("key")
        out.put("fifths", bar.key.fifths)
        out.put("mode", bar.key.mode)
        out.close("key")
    if new_meter:
        symbol = {"symbol": "cut"} if (bar.meter.beats, bar.meter.unit) == (2, 2) else {}
        out.open("time", **symbol)
        out.put("beats", bar.meter.beats)
        out.put("beat-type", bar.meter.unit)
        out.close("time")
    if before is None:
        out.open("clef")
        out.put("sign", "G")
        out.put("line", 2)
        out.close("clef")
    out.close("attributes")


def tempo(out, tempo):
    out.open("direction", placement="above")
    out.open("direction-type")
    out.open("metronome")
    kind, dots = look(tempo.beat)
    out.put("beat-unit", kind)
    for _ in range(dots):
        out.put("beat-unit-dot")
    out.put("per-minute", tempo.per_minute)
    out.close("metronome")
    out.close("direction-type")
    out.put("sound", tempo=decimal(tempo.quarters_per_minute))
    out.close("direction")


def direction(out, words, **sound):
    out.open("direction", placement="above")
    out.open("direction-type")
    out.put("words", words)
    out.close("direction-type")
    out.put("sound", **sound)
    out.close("direction")


def harmony(out, chord):
    root, kind, bass = split_chord(chord)
    out.open("harmony")
    out.open("root")
    put_chord_note(out, "root", root)
    out.close("root")
    out.put("kind", CHORD_KINDS[kind], text=kind)
    if bass:
        out.open("bass")
        put_chord_note(out, "bass", bass)
        out.close("bass")
    out.close("harmony")


def split_chord(chord):
    """Returns the root, the kind (a key of `CHORD_KINDS`) and the bass of a chord symbol such as `Am7/C`."""
    match = re.fullmatch(r"([A-G][#b]?)([^/]*)(?:/([A-G][#b]?))?", chord)
    if not match or match[2] not in CHORD_KINDS:
        raise SourceError(f"chord symbol {chord!r} is not known; its kind must be one of {sorted(CHORD_KINDS)}")
    return match.groups()


def put_chord_note(out, what, name):
    out.put(f"{what}-step", name[0])
    if name[1:]:
        out.put(f"{what}-alter", 1 if name[1] == "#" else -1)


def put_pitch(out, pitch):
    out.open("pitch")
    out.put("step", pitch.step)
    if pitch.alter:
        out.put("alter", pitch.alter)
    out.put("octave", pitch.octave)
    out.close("pitch")


def put_note(out, note, divisions, bar):
    out.open("note")
    if note.pitch:
        put_pitch(out, note.pitch)
    else:
        out.put("rest")
    out.put("duration", note.length * divisions)
    if note.tie_stop:
        out.put("tie", type="stop")
    if note.tie_start:
        out.put("tie", type="start")
    out.put("voice", 1)
    if note.written not in TYPES and note.written / Fraction(3, 2) not in TYPES:
        raise SourceError(f"line {bar.line}, bar {bar.number}: {note.written} quarters cannot be written as one note")
    kind, dots = look(note.written)
    out.put("type", kind)
    for _ in range(dots):
        out.put("dot")
    if note.accidental:
        out.put("accidental", note.accidental)
    if note.tuplet:
        out.open("time-modification")
        out.put("actual-notes", 3)
        out.put("normal-notes", 2)
        out.close("time-modification")
    notations(out, note)
    for verse, lyric in sorted(note.lyrics.items()):
        out.open("lyric", number=verse)
        syllabic = {(False, False): "single", (False, True): "begin", (True, True): "middle", (True, False): "end"}
        out.put("syllabic", syllabic[lyric.hyphen_before, lyric.hyphen_after])
        out.put("text", lyric.text)
        if lyric.extend:
            out.put("extend")
        out.close("lyric")
    out.close("note")


def notations(out, note):
    marks = []
    if note.tie_stop:
        marks.append(("tied", {"type": "stop"}))
    if note.tie_start:
        marks.append(("tied", {"type": "start"}))
    for number in range(1, note.slurs_stop + 1):
        marks.append(("slur", {"type": "stop", "number": number}))
    for number in range(1, note.slurs_start + 1):
        marks.append(("slur", {"type": "start", "number": number}))
    if note.tuplet in ("start", "stop"):
        marks.append(("tuplet", {"type": note.tuplet}))
    if not marks and not note.marks & {"breath", "fermata"}:
        return
    out.open("notations")
    for tag, attributes in marks:
        out.put(tag, **attributes)
    if "breath" in note.marks:
        out.open("articulations")
        out.put("breath-mark", "comma")
        out.close("articulations")
    if "fermata" in note.marks:
        out.put("fermata", type="upright")
    out.close("notations")


def look(length):
    """Returns the note type and the number of dots for a length in quarters."""
    if length in TYPES:
        return TYPES[length], 0
    return TYPES[length / Fraction(3, 2)], 1


def decimal(number):
    return str(int(number)) if number.denominator == 1 else str(float(number))


def compressed(name, text):
    """Returns the text in MusicXML's zip container. The same text and the same zlib give the same bytes."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for path, content, method in (
            # The media type comes first and unpacked, so that programs recognise the file by its first bytes.
            ("mimetype", "application/vnd.recordare.musicxml", zipfile.ZIP_STORED),
            ("META-INF/container.xml", CONTAINER.format(quoteattr(f"{name}.musicxml")), zipfile.ZIP_DEFLATED),
            (f"{name}.musicxml", text, zipfile.ZIP_DEFLATED),
        ):
            entry = zipfile.ZipInfo(path, date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = method
            archive.writestr(entry, content.encode())
    return packed.getvalue()
