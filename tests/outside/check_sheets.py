"""Makes sheets of 200 tunes and looks at them.

The tunes are those of the O'Neill (1850) collection that comes with music21, written by it as MusicXML. Of each sheet:
nothing lies on anything else, nothing is off the page, every note has its tab, and the values that are drawn in a bar sum to
the bar (all this from `tests/outside/sheets.rs`, whose geometric test the crate's own tests share). Against music21, which
has the notes as the editor wrote them: the same bars, of the same lengths; how many notes have the same value, dots and
tuplet is printed, and must be 99 in 100.

    check_sheets.py BIN [COUNT]
"""

import fractions
import json
import pathlib
import subprocess
import sys
import tempfile
import warnings

import music21

from check_tunes import sample
from outside import Check

HALVINGS = {"breve": -1, "whole": 0, "half": 1, "quarter": 2, "eighth": 3, "16th": 4, "32nd": 5, "64th": 6, "128th": 7}
# Of so many notes, as many are written as their editor wrote them.
ALIKE = 0.99


def value(event):
    """How long what is drawn lasts, in quarters."""
    plain = fractions.Fraction(4) / fractions.Fraction(2) ** event["halvings"]
    dotted = plain * (2 - fractions.Fraction(1, 2 ** event["dots"]))
    number, usual = event["tuplet"] or (1, 1)
    return dotted * usual / number


def drawn_well(check, name, told):
    """The laws that need no other program."""
    for fault in told["faults"]:
        check(f"{name}: {fault}", False)
    check(f"{name}: {told['pages']} pages without a fault", not told["faults"])
    for bar in told["bars"]:
        events, length = bar["events"], fractions.Fraction(bar["length"])
        silent = len(events) == 1 and events[0]["rest"] and events[0]["halvings"] == 0
        total = length if silent else sum(value(event) for event in events)
        check(f"{name}, bar {bar['number']}: {total} drawn in {length}", total == length)


def written(path):
    """The notes of a MusicXML file as they are written: for each bar its length and its notes' values."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = music21.converter.parse(path, forceSource=True).parts[0]
    bars = []
    for measure in part.getElementsByClass("Measure"):
        notes = []
        for note in measure.recurse().notes:
            if note.duration.isGrace:
                continue
            ratio = fractions.Fraction(1)
            for tuplet in note.duration.tuplets:
                ratio *= fractions.Fraction(tuplet.numberNotesActual, tuplet.numberNotesNormal)
            at = fractions.Fraction(note.getOffsetInHierarchy(measure)).limit_denominator(1000)
            notes.append((at, HALVINGS.get(note.duration.type), note.duration.dots, ratio))
        length = fractions.Fraction(measure.duration.quarterLength).limit_denominator(1000)
        bars.append((length, notes))
    return bars


def alike(told, bars):
    """How many notes are drawn as they were written, how many there are; `None` if the bars differ."""
    drawn = [
        [
            (fractions.Fraction(event["at"]), event["halvings"], event["dots"], fractions.Fraction(*(event["tuplet"] or (1, 1))))
            for event in bar["events"]
            if not event["rest"]
        ]
        for bar in told["bars"]
    ]
    filled = [notes for _, notes in bars]
    while filled and not filled[0]:
        filled.pop(0)
    while filled and not filled[-1]:
        filled.pop()
    if len(filled) != len(drawn):
        return None
    same = sum(len(set(ours) & set(theirs)) for ours, theirs in zip(drawn, filled))
    return same, sum(map(len, filled))


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    sheets = pathlib.Path(sys.argv[1]).resolve().parent / "examples" / "sheets"
    wanted = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    check = Check()
    same = notes = compared = 0
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "tune.musicxml"
        # Half of a sample are O'Neill's.
        tunes = (tune for tune in sample(2 * wanted) if tune[0].startswith("oneills1850"))
        for name, score in tunes:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                score.write("musicxml", path)
            done = subprocess.run([sheets, path], capture_output=True, text=True, check=False)
            if not check(f"{name}: {done.stderr.strip()}", done.returncode == 0):
                continue
            told = json.loads(done.stdout)
            drawn_well(check, name, told)
            pair = alike(told, written(path))
            if pair is not None:
                compared += 1
                same, notes = same + pair[0], notes + pair[1]
    print(f"{same} of {notes} notes in {compared} tunes are written as their editor wrote them")
    check(f"{ALIKE:.0%} of the notes as written", same >= ALIKE * notes)
    check("most tunes compared", compared * 10 >= wanted * 9)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
