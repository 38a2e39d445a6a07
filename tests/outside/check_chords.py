"""Compares the chords, intervals and splits of harps with music21's naming.

    check_chords.py path/to/breathline

Every chord symbol of ours, read by music21, must mean exactly the notes that sound, with the same root and bass. If we
give notes no symbol, music21 must not give them one of the names in NAMED. Intervals and octaves must have music21's
names.
"""

import sys

from music21 import chord, harmony, interval, note
from outside import start

HARPS = ["C", "G", "low-F", "Bb", "F#", "D:country", "A:paddy-richter", "Am:natural-minor", "Am:harmonic-minor",
         "C:solo", "C:circular", "C:diminished", "C:major-seventh"]

# Our abbreviations of chords that differ from music21's, each with music21's.
SPELLED = {"m(maj7)": "mM7", "aug": "+", "maj9": "M9", "dim7": "o7", "m7b5": "ø7"}

# Our names of a tritone, alone and above an octave, by the width in semitones.
TRITONES = {6: "tritone", 18: "octave and a tritone"}

# music21's names of the triads and seventh chords that must have a symbol.
NAMED = {
    "major triad", "minor triad", "diminished triad", "augmented triad", "dominant seventh chord",
    "minor seventh chord", "major seventh chord", "half-diminished seventh chord", "diminished seventh chord",
}


def symbol(text):
    """Returns music21's chord for our symbol, and the name of the symbol's bass. music21 writes a flat as `-`."""
    body, _, bass = text.partition("/")
    letter, rest = body[0], body[1:]
    if rest.startswith("b"):
        letter, rest = letter + "-", rest[1:]
    elif rest.startswith("#"):
        letter, rest = letter + "#", rest[1:]
    figure = letter + SPELLED.get(rest, rest)
    return harmony.ChordSymbol(figure), bass.replace("b", "-")


def main(argv):
    check, breathline = start(argv)
    widths = set()
    for harp in HARPS:
        answer = breathline("harp", harp, "--chords")
        grips = answer["chords"]
        reeds = {(a["hole"], a["breath"]): a["midi"] for a in breathline("harp", harp, "--bends", "none")["actions"]}
        for grip in grips:
            where = f"{harp}: {grip['breath']} {grip['holes']}"
            check(f"{where} sounds {grip['midi']}",
                  [reeds[hole, grip["breath"]] for hole in grip["holes"]] == grip["midi"])
            classes = {midi % 12 for midi in grip["midi"]}
            if len(classes) <= 2:
                low, high = min(grip["midi"]), max(grip["midi"])
                if len(grip["midi"]) == 2:
                    # music21 would call six semitones an augmented fourth or a diminished fifth.
                    theirs = TRITONES.get(high - low) or interval.Interval(high - low).niceName
                    theirs = theirs.lower().replace("perfect ", "").replace("-", " ")
                    check(f"{where}: {grip['name']} is {theirs}", grip["name"] == theirs)
                    widths.add(high - low)
                check(f"{where}: two notes form no chord, but the answer names {grip['chord']}", grip["chord"] is None)
                continue
            theirs = chord.Chord(sorted(grip["midi"]))
            if grip["chord"] is None:
                check(f"{where} has no name, but music21 calls it {theirs.commonName}", theirs.commonName not in NAMED)
                continue
            named, bass = symbol(grip["chord"])
            check(f"{where}: {grip['chord']} means {sorted(named.pitchClasses)}, not {sorted(classes)}",
                  set(named.pitchClasses) == classes)
            lowest = min(grip["midi"]) % 12
            if bass:
                check(f"{where}: the bass of {grip['chord']}", note.Note(bass).pitch.pitchClass == lowest)
            else:
                check(f"{where}: the root of {grip['chord']}", named.root().pitchClass == lowest)
            if theirs.commonName in {"major triad", "minor triad", "dominant seventh chord", "diminished triad"}:
                check(f"{where}: the root of {grip['chord']} is {theirs.root()}",
                      theirs.root().pitchClass == named.root().pitchClass)
    check(f"the widths include octaves and wider splits: {sorted(widths)}", {12, 14, 15, 16, 17} <= widths)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main(sys.argv))
