"""Compares the order of performance with music21's expandRepeats().

Usage: check_repeats.py BREATHLINE

The material has three sources: the files on repeats in music21's copy of the MusicXML test suite (45a to 45g, with
notes in place of their rests); the scores of music21's corpus that have repeats or jumps; and forms that this script
builds with music21 from repeats, counts, endings, D.C., D.S., Fine and Coda. The check compares onset and pitch of the
top line of the first part.

A score that music21 finds badly formed, or already reads differently as written (several voices, chords), proves
nothing and is only counted. No form here has both endings and a jump, because music21 forgets endings next to a jump.
If music21 is known to play a case differently from players, KNOWN names the case with the reason, and the case must
still differ.
"""

import random
import re
import sys
import tempfile
import warnings
import zipfile
from pathlib import Path

import music21
from music21 import bar, converter, meter, note, repeat, spanner, stream

import outside
from check_tunes import BadlyFormed, TOLERANCE, begin_repeats, notes_of

SUITE = Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite"
CORPUS = Path(music21.__file__).parent / "corpus"
# The most characters of a score. music21 takes minutes for larger ones.
LARGEST = 400_000
FORMS = 60

KNOWN = {
    "schumann_clara/polonaise_op1n1.mxl": "its D.C. al Fine spans two lines",
    "schumann_clara/polonaise_op1n2.mxl": "its D.C. al Fine spans two lines",
    "45e-Repeats-Nested-Alternatives.xml": "a first ending without a second is left out on the second pass",
}


def read(path):
    """Returns onset and pitch of the top line of the first part, as written and in the order of performance."""
    part = converter.parse(path, forceSource=True).parts[0]
    part = part if part.atSoundingPitch is True else part.toSoundingPitch()
    written, _ = notes_of(part)
    begin_repeats(part)
    try:
        played, _ = notes_of(part.expandRepeats())
    except repeat.ExpanderException as error:
        raise BadlyFormed(str(error)) from error
    return [[(onset, midi) for onset, _, midi in line] for line in (written, played)]


def is_same(ours, theirs):
    close = lambda our, their: abs(our[0] - their[0]) < TOLERANCE and our[1] == their[1]
    return len(ours) == len(theirs) and all(map(close, ours, theirs))


def with_notes(path, folder):
    """Returns a copy of a score of rests in which each rest is a note, with a pitch other than its neighbours'."""
    pieces = re.split(r"<rest[^>]*/>|<rest[^>]*></rest>", path.read_text(encoding="utf-8"))
    text = pieces[0]
    for number, piece in enumerate(pieces[1:]):
        step, octave = "CDEFGAB"[number % 7], 2 + number // 7 % 6
        text += f"<pitch><step>{step}</step><octave>{octave}</octave></pitch>{piece}"
    copy = folder / path.name
    copy.write_text(text, encoding="utf-8")
    return copy


def has_order(text):
    marks = ("<repeat ", "<segno", "<coda", "dacapo=", "dalsegno=", "D.C.", "D.S.")
    return any(mark in text for mark in marks)


def scores():
    """Yields name and path of each MusicXML file of the corpus that has repeats or jumps and is not too large."""
    for path in sorted([*CORPUS.rglob("*.mxl"), *CORPUS.rglob("*.xml"), *CORPUS.rglob("*.musicxml")]):
        try:
            if path.suffix == ".mxl":
                with zipfile.ZipFile(path) as archive:
                    inside = [name for name in archive.namelist() if not name.startswith("META") and name.endswith("ml")]
                    text = archive.read(inside[0]).decode("utf-8", "replace")
            else:
                text = path.read_text(encoding="utf-8", errors="replace")
        except (IndexError, zipfile.BadZipFile):
            continue
        if len(text) <= LARGEST and has_order(text):
            yield f"{path.parent.name}/{path.name}", path


class Builder:
    """Builds a part of bars with one note each. A pitch comes back only after 60 bars."""

    def __init__(self):
        self.part, self.count = stream.Part(), 0

    def bars(self, count):
        made = []
        for _ in range(count):
            self.count += 1
            measure = stream.Measure(number=self.count)
            if self.count == 1:
                measure.append(meter.TimeSignature("1/4"))
            measure.append(note.Note(36 + self.count % 60, quarterLength=1))
            self.part.append(measure)
            made.append(measure)
        return made

    def repeated(self, count, times=2):
        made = self.bars(count)
        made[0].leftBarline = bar.Repeat(direction="start")
        made[-1].rightBarline = bar.Repeat(direction="end", times=None if times == 2 else times)
        return made

    def endings(self, count, *numbers):
        made = self.bars(count)
        made[0].leftBarline = bar.Repeat(direction="start")
        for index, number in enumerate(numbers):
            ending = self.bars(1)
            self.part.insert(0, spanner.RepeatBracket(ending[0], number=number))
            if index + 1 < len(numbers):
                ending[0].rightBarline = bar.Repeat(direction="end")
            made += ending
        return made


def form(choice):
    """Returns the name of a random form, and a part that has this form."""
    builder, words = Builder(), []

    jump = choice.choice(["none"] * 5 + ["da capo", "da capo al fine", "dal segno al fine", "dal segno al coda", "da capo al coda"])
    words.append(f"{jump}:")

    def some(most=3):
        for _ in range(choice.randint(1, most)):
            kind = choice.choice(["bars", "bars", "repeat", "times", *(["endings", "three"] if jump == "none" else [])])
            words.append(kind)
            size = choice.randint(1, 3)
            {
                "bars": lambda: builder.bars(size),
                "repeat": lambda: builder.repeated(size),
                "times": lambda: builder.repeated(size, 3),
                "endings": lambda: builder.endings(size, "1", "2"),
                "three": lambda: builder.endings(size, "1, 2", "3"),
            }[kind]()

    # music21 jumps by whole bars, so each sign gets a separate bar.
    some()
    if "segno" in jump:
        builder.bars(1)[0].insert(0, repeat.Segno())
        some(1)
    if "fine" in jump:
        builder.bars(1)[0].append(repeat.Fine())
        some(1)
    if "coda" in jump:
        builder.bars(1)[0].append(repeat.Coda("To Coda"))
        some(1)
    if jump != "none":
        command = {
            "da capo": repeat.DaCapo,
            "da capo al fine": repeat.DaCapoAlFine,
            "da capo al coda": repeat.DaCapoAlCoda,
            "dal segno al fine": repeat.DalSegnoAlFine,
            "dal segno al coda": repeat.DalSegnoAlCoda,
        }[jump]
        builder.bars(1)[0].append(command())
    if "coda" in jump:
        builder.bars(1)[0].insert(0, repeat.Coda())
        builder.bars(2)
    return " ".join(words), builder.part


def main():
    check, breathline = outside.start(sys.argv)
    warnings.simplefilter("ignore")
    badly_formed = otherwise = 0

    def ask(path, *options):
        notes = breathline("notes", path, "--part", 1, *options)["notes"]
        return [(note["onset"], note["midi"]) for note in notes if not note.get("grace")]

    def compare(name, path):
        nonlocal badly_formed, otherwise
        try:
            written, played = read(str(path))
        except BadlyFormed:
            badly_formed += 1
            return
        except Exception as error:
            print(f"  skipped: {name}: music21 cannot read it: {error}")
            return
        if not is_same(ask(path), written):
            otherwise += 1
            return
        ours = ask(path, "--unfold")
        if name in KNOWN:
            check(f"{name} is known to differ: {KNOWN[name]}", not is_same(ours, played))
        else:
            first = next((pair for pair in zip(ours, played) if pair[0] != pair[1]), (len(ours), len(played)))
            check(f"{name}: {first[0]}, music21 has {first[1]}", is_same(ours, played))

    with tempfile.TemporaryDirectory() as folder:
        for path in sorted(SUITE.glob("45*.xml")):
            compare(path.name, with_notes(path, Path(folder)))
    for name, path in scores():
        compare(name, path)
    choice = random.Random(1850)
    with tempfile.TemporaryDirectory() as folder:
        for number in range(FORMS):
            name, part = form(choice)
            path = Path(folder) / f"{number}.musicxml"
            part.write("musicxml", fp=path)
            compare(f"form {number} ({name})", path)
    print(f"  in addition, music21 finds {badly_formed} scores badly formed and reads {otherwise} differently as written")
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
