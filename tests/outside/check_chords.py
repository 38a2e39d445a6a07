"""The chords, intervals and splits of harps against music21's naming.

    check_chords.py path/to/breathline

Every name that is given must mean the notes that sound, root and bass included, by music21's own reading of the symbol;
what is given no name must have none among music21's names of triads and sevenths; intervals and octaves must be called
what music21 calls them.
"""

import sys

from music21 import chord, harmony, interval, note
from outside import start

HARPS = ["C", "G", "low-F", "Bb", "F#", "D:country", "A:paddy-richter", "Am:natural-minor", "Am:harmonic-minor",
         "C:solo", "C:circular", "C:diminished", "C:major-seventh"]

# What these are called in music21's abbreviations, where it has others.
SPELLED = {"m(maj7)": "mM7", "aug": "+", "maj9": "M9", "dim7": "o7", "m7b5": "ø7"}

# What has six semitones more than octaves, by its width.
TRITONES = {6: "tritone", 18: "octave and a tritone"}

# music21's common names of what a song sheet has a symbol for.
NAMED = {
    "major triad", "minor triad", "diminished triad", "augmented triad", "dominant seventh chord",
    "minor seventh chord", "major seventh chord", "half-diminished seventh chord", "diminished seventh chord",
}


def symbol(text):
    """music21's chord symbol; it writes a flat as `-`."""
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
                    # As bare numbers, music21 spells six semitones as one of two intervals.
                    theirs = TRITONES.get(high - low) or interval.Interval(high - low).niceName
                    theirs = theirs.lower().replace("perfect ", "").replace("-", " ")
                    check(f"{where}: {grip['name']} is {theirs}", grip["name"] == theirs)
                    widths.add(high - low)
                check(f"{where}: two notes are no chord, but {grip['chord']}", grip["chord"] is None)
                continue
            theirs = chord.Chord(sorted(grip["midi"]))
            if grip["chord"] is None:
                check(f"{where} has the name {theirs.commonName}", theirs.commonName not in NAMED)
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
    check(f"octaves and wider splits are among them: {sorted(widths)}", {12, 14, 15, 16, 17} <= widths)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main(sys.argv))
