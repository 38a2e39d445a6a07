#!/usr/bin/env python3
"""Checks that sheet, export and source show the same written notes.

    check_written.py BIN [COUNT]

The tunes are COUNT tunes of O'Neill's collection (100 by default, spread over it), as music21 writes them as MusicXML,
and every MusicXML tune of corpus/ and demo/. For each note and rest the check compares its value, dots, tuplet, ties,
beams, accidental, whether it is a grace note, and whether it is hidden. Sheet and export must agree everywhere. For
every 1,000 notes and rests, the export may differ from the source once in a kind, value, dot, tuplet or tie.
Differences in beams (if the source has any) and in the places of accidentals are only printed. A plain XML reader reads
the files.
"""

import collections
import json
import subprocess
import sys
import tempfile
import warnings
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import music21

from outside import Check

SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


def in_file(source):
    """Returns the notes of each bar of a MusicXML file, as (kind, value, dots, tuplet, tied, beams, sign)."""
    bars = []
    for measure in ElementTree.fromstring(source).iter("measure"):
        notes, pitches = [], []
        for note in measure.iter("note"):
            pitch = note.find("pitch")
            pitches.append(None if pitch is None else tuple(part.text for part in pitch))
            rest, tuplet = note.find("rest"), note.find("time-modification")
            ratio = None if tuplet is None else tuple(int(tuplet.findtext(n)) for n in ("actual-notes", "normal-notes"))
            kind = "grace" if note.find("grace") is not None else "note" if rest is None else "rest"
            if note.get("print-object") == "no":
                kind = "hidden"
            beams = tuple(beam.text for beam in sorted(note.iter("beam"), key=lambda beam: int(beam.get("number", 1))))
            tied = any(tie.get("type") == "start" for tie in note.iter("tied"))
            dots, value = len(note.findall("dot")), note.findtext("type")
            if rest is not None and rest.get("measure") == "yes":
                value, dots = "bar", 0
            notes.append((kind, value, dots, ratio, tied, beams, note.findtext("accidental")))
        # Some programs write a slur between two pitches as a tie.
        for index, note in enumerate(notes):
            main = [i for i in range(index + 1, len(notes)) if notes[i][0] != "grace"]
            if note[4] and main and pitches[main[0]] != pitches[index]:
                notes[index] = (*note[:4], False, *note[5:])
        bars.append(notes)
    return bars


def on_sheet(told):
    bars = []
    for bar in told["bars"]:
        notes = []
        for event in bar["events"]:
            for grace in event["graces"]:
                notes.append(("grace", grace["value"], 0, None, False, tuple(grace["beams"]), SIGNS.get(grace["sign"])))
            kind = "hidden" if event["hidden"] else "rest" if event["rest"] else "note"
            beams = tuple(event["beams"])
            value, dots = ("bar", 0) if event["whole"] else (event["value"], event["dots"])
            ratio = tuple(event["tuplet"]) if event["tuplet"] else None
            notes.append((kind, value, dots, ratio, event["tied"], beams, SIGNS.get(event["sign"])))
        bars.append(notes)
    return bars


def heard(notes):
    """Returns a bar without the hidden rests at its ends, which belong to a split bar; several rests alone become
    one."""
    while notes and notes[0][0] == "hidden":
        notes = notes[1:]
    while notes and notes[-1][0] == "hidden":
        notes = notes[:-1]
    if notes and all(note[0] == "rest" for note in notes):
        return [("rest", "bar", 0, None, False, (), None)]
    return notes


class Differences:
    """Counts the notes that are written differently from the source, by the field that differs."""

    FIELDS = ["kind", "value", "dots", "tuplet", "tied", "beams", "sign"]

    def __init__(self):
        self.notes, self.by, self.examples = 0, collections.Counter(), {}

    def note(self, field, name, bar, ours, theirs):
        self.by[field] += 1
        self.examples.setdefault(field, f"{name}, bar {bar + 1}: {ours}, source {theirs}")

    def compare(self, name, export, source):
        beamed = any(note[5] for bar in source for note in bar)
        for bar, (ours, theirs) in enumerate(zip(map(heard, export), map(heard, source))):
            self.notes += len(theirs)
            if len(ours) != len(theirs):
                self.note("count", name, bar, len(ours), len(theirs))
                continue
            for our, their in zip(ours, theirs):
                for field, ours_is, theirs_is in zip(self.FIELDS, our, their):
                    if field == "sign":
                        ours_is, theirs_is = ours_is is not None, theirs_is is not None
                    if ours_is != theirs_is and (field != "beams" or beamed):
                        self.note(field, name, bar, our, their)


def oneill(count, folder):
    """Writes `count` tunes, spread over the collection, as MusicXML files, and yields their paths."""
    corpus = Path(music21.__file__).parent / "corpus" / "oneills1850"
    files = sorted(corpus.glob("*.abc"))
    at_most = -(-count // len(files))
    written = 0
    for file in files:
        opus = music21.corpus.parse(f"oneills1850/{file.name}")
        scores = list(opus.scores) if isinstance(opus, music21.stream.Opus) else [opus]
        step = max(1, len(scores) // at_most)
        for score in scores[::step][:at_most]:
            path = folder / f"{written}.musicxml"
            try:
                score.write("musicxml", fp=str(path))
            except Exception as error:  # music21 cannot write a few of its own tunes.
                print(f"  skipped a tune of {file.name}: music21 cannot write it: {error}")
                continue
            written += 1
            yield path
            if written == count:
                return


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    warnings.simplefilter("ignore")
    sheets = Path(sys.argv[1]).resolve().parent / "examples" / "sheets"
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 100
    check, found = Check(), Differences()
    with tempfile.TemporaryDirectory() as folder:
        tunes = [*Path("corpus").glob("*.musicxml"), *Path("demo").glob("*.musicxml")]
        for tune in [*sorted(tunes), *oneill(count, Path(folder))]:
            done = subprocess.run([sheets, tune], capture_output=True, text=True, check=False)
            if not check(f"{tune.name}: {done.stderr.strip()}", done.returncode == 0):
                continue
            told = json.loads(done.stdout)
            export, sheet = in_file(told["musicxml"]), on_sheet(told)
            shown = export[told["first"]:][:len(sheet)]
            for bar, (ours, theirs) in enumerate(zip(sheet, shown)):
                check(f"{tune.name}, bar {bar + 1}: on the sheet {ours}, in the export {theirs}", ours == theirs)
            found.compare(tune.stem, export, in_file(tune.read_bytes()))
    print(f"{found.notes} notes and rests; written differently from their source:")
    for field, number in found.by.most_common():
        print(f"  differs in {field}: {number}, first {found.examples[field]}")
    values = sum(found.by[field] for field in ("count", "kind", "value", "dots", "tuplet", "tied"))
    check(f"at least 999 in 1000 values, dots, tuplets and ties match the source: {values} differ", values * 1000 <= found.notes)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
