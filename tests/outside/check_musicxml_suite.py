#!/usr/bin/env python3
"""Compares the MusicXML reader with two independent readers, music21 and partitura.

    check_musicxml_suite.py BIN [--limit N] [--also FOLDER] [--verbose]

The check tests the reading before the choice of a voice (the tests of `pick` and check_bands.py test the choice). It
runs the example `first_part`, which is built beside BIN and prints an object whose "notes" have "onset" (quarters),
"midi" and "grace". The check compares the top line of the first part: for each onset the highest sounding pitch,
without grace notes, with ties merged. The files are the MusicXML test suite and the chorales that the Python package
music21 installs; nothing is downloaded.

Files about which music21 and partitura disagree, or that one of them cannot read, prove nothing and are only counted.
The check prints each of the other files that `first_part` reads differently. The exit code is 0 if at least 98 % of
these files agree, and 1 if not.
"""

import argparse
import json
import subprocess
import sys
import warnings
from fractions import Fraction
from pathlib import Path

warnings.filterwarnings("ignore")

WANTED = 0.98
# Onsets may differ by less than this, because some readers store them as floats or in ticks.
TOLERANCE = Fraction(1, 64)


def top_line(notes):
    """Returns the highest pitch at each onset, from (onset, midi) pairs. Onsets are rounded to a grid, because readers
    round them differently."""
    top = {}
    for onset, midi in notes:
        slot = round(Fraction(onset).limit_denominator(1000) / TOLERANCE)
        if midi > top.get(slot, -1):
            top[slot] = midi
    return sorted(top.items())


def with_music21(path):
    from music21 import converter, harmony, stream

    score = converter.parse(path, forceSource=True)
    parts = list(score.parts) if getattr(score, "parts", None) else [score]
    # music21 makes a part of each staff of a piano; the file and partitura have one part for both.
    staves = [part for part in parts if isinstance(part, stream.PartStaff)]
    if isinstance(parts[0], stream.PartStaff):
        first = str(parts[0].id).split("-Staff")[0]
        chosen = [part for part in staves if str(part.id).split("-Staff")[0] == first]
    else:
        chosen = parts[:1]
    notes = []
    for part in chosen:
        sounding = part if part.atSoundingPitch is True else part.toSoundingPitch()
        for element in sounding.stripTies().flatten().notes:
            if isinstance(element, harmony.Harmony) or element.duration.isGrace:
                continue
            pitches = getattr(element, "pitches", ())
            if pitches:
                notes.append((element.offset, max(round(pitch.ps) for pitch in pitches)))
    return top_line(notes)


def with_partitura(path):
    import partitura
    from partitura import score as ps

    part = list(partitura.load_musicxml(str(path)).parts)[0]
    quarters = part.quarter_map
    origin = quarters(part.first_point.t)
    # partitura ignores the octave change of a transposition, so files that have one are counted as undecided.
    shifts = sorted((change.start.t, change.chromatic) for change in part.iter_all(ps.Transposition))
    notes = []
    for note in part.notes_tied:
        if isinstance(note, (ps.GraceNote, ps.UnpitchedNote)):
            continue
        shift = [chromatic for start, chromatic in shifts if start <= note.start.t][-1:] or [0]
        notes.append((float(quarters(note.start.t) - origin), note.midi_pitch + shift[0]))
    return top_line(notes)


def with_binary(binary, path):
    run = subprocess.run([Path(binary).parent / "examples" / "first_part", str(path)], capture_output=True, text=True)
    if run.returncode != 0:
        raise RuntimeError(run.stderr.strip() or f"exit code {run.returncode}")
    notes = json.loads(run.stdout)["notes"]
    return top_line([(note["onset"], note["midi"]) for note in notes if not note.get("grace")])


def files(limit, also):
    import music21

    home = Path(music21.__file__).parent
    suite = home / "musicxml" / "lilypondTestSuite"
    yield from sorted([*suite.glob("*.xml"), *suite.glob("*.mxl")])
    chorales = sorted((home / "corpus" / "bach").glob("*.mxl"))
    yield from chorales[:limit]
    for folder in also:
        yield from sorted(path for path in Path(folder).rglob("*") if path.suffix in {".xml", ".mxl", ".musicxml"})


def difference(ours, theirs):
    for index, (a, b) in enumerate(zip(ours, theirs)):
        if a != b:
            show = lambda pair: f"{float(pair[0] * TOLERANCE):g}:{pair[1]}"
            return f"note {index + 1}: {show(a)}, the other readers have {show(b)}"
    return f"{len(ours)} notes, the other readers have {len(theirs)}"


def attempt(read, *arguments):
    try:
        return read(*arguments), None
    except Exception as error:  # a reader that fails on a file is a finding, and the check continues
        return None, f"{type(error).__name__}: {error}"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("binary")
    parser.add_argument("--limit", type=int, default=120, help="how many chorales (default 120)")
    parser.add_argument("--also", action="append", default=[], metavar="FOLDER", help="more files to compare")
    parser.add_argument("--verbose", action="store_true", help="also print files about which the other two readers disagree")
    options = parser.parse_args()

    judged = agreed = undecided = 0
    for path in files(options.limit, options.also):
        one, why_one = attempt(with_music21, path)
        two, why_two = attempt(with_partitura, path)
        ours, why_ours = attempt(with_binary, options.binary, path)
        if one is None or two is None or one != two or not one:
            undecided += 1
            if options.verbose:
                sides = [name for name, other in (("music21", one), ("partitura", two)) if other == ours and ours]
                reason = why_one or why_two or (difference(one, two) if one or two else "no notes")
                print(f"undecided {path.parent.name}/{path.name}: we agree with {' and '.join(sides) or 'neither'}; {reason[:160]}")
            continue
        judged += 1
        if ours == one:
            agreed += 1
        else:
            print(f"DIFFERS {path.parent.name}/{path.name}: {why_ours or difference(ours, one)}")
    share = agreed / judged if judged else 0.0
    print(f"{agreed} of {judged} agree ({share:.1%}); the other two readers disagree about {undecided} files or cannot read them")
    return 0 if share >= WANTED else 1


if __name__ == "__main__":
    sys.exit(main())
