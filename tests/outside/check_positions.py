"""Compares positions and bends with the circle of fifths, music21's scales and published layouts.

Usage: check_positions.py BREATHLINE
"""

import sys

from music21 import interval, pitch, scale

import outside

# Reeds of the Richter layout, blow 1, draw 1, blow 2 …, in semitones above hole 1 blow.
# Source: OEIS A291810, "Diatonic harmonica standard Richter tone layout" (2017).
RICHTER = [0, 2, 4, 7, 7, 11, 12, 14, 16, 17, 19, 21, 24, 23, 28, 26, 31, 29, 36, 33]

# The key note of each standard harp. Source: Wikipedia, "Richter-tuned harmonica": harps labelled G, Ab, A, Bb, B start
# below middle C, those labelled Db to F# above it.
KEY_NOTES = {
    "G": 55, "Ab": 56, "A": 57, "Bb": 58, "B": 59, "C": 60,
    "Db": 61, "D": 62, "Eb": 63, "E": 64, "F": 65, "F#": 66,
}  # fmt: skip

# The number of half-step bends of each hole: draw bends from 1 to 6, and blow bends from 7 to 10. Source: the lists in
# Wikipedia, "Harmonica techniques" and "Richter-tuned harmonica" (holes 5 and 7 bend by less than a half step).
BENDS = {1: 1, 2: 2, 3: 3, 4: 1, 5: 0, 6: 1, 7: 0, 8: 1, 9: 1, 10: 2}
OVERBLOWS = [1, 4, 5, 6]
OVERDRAWS = [7, 9, 10]

# Common practice, no source: the mode of the natural notes in the seven positions that have one.
MODES = {
    1: ("major", scale.MajorScale),
    2: ("mixolydian", scale.MixolydianScale),
    3: ("dorian", scale.DorianScale),
    4: ("minor", scale.MinorScale),
    5: ("phrygian", scale.PhrygianScale),
    6: ("locrian", scale.LocrianScale),
    12: ("lydian", scale.LydianScale),
}


def music21_name(name):
    """Returns the name of a key as music21 writes it, with minus signs for flats."""
    return name[0] + name[1:].replace("b", "-")


def check_table(check, breathline):
    """Checks that every harp in every position plays in the key given by the circle of fifths."""
    rows = breathline("positions")["positions"]
    check("there are 12 x 12 rows", len(rows) == 144)
    fifth = interval.Interval("P5")
    for harp in KEY_NOTES:
        tonic = pitch.Pitch(music21_name(harp))
        for position in range(1, 13):
            row = next(r for r in rows if (r["harp"], r["position"]) == (harp, position))
            check(
                f"{harp} harp, position {position}: the tonic is {tonic.name}",
                pitch.Pitch(music21_name(row["song_key"])).pitchClass == tonic.pitchClass,
            )
            if position in MODES:
                name, kind = MODES[position]
                notes = kind(tonic).pitches
                degrees = sorted({(p.pitchClass - tonic.pitchClass) % 12 for p in notes})
                check(f"{harp} harp, position {position}: {name}", (row["mode"], row["degrees"]) == (name, degrees))
            else:
                check(f"{harp} harp, position {position}: no mode", row["mode"] is None)
            tonic = fifth.transposePitch(tonic)


def check_gaps(check, breathline):
    """Checks which notes of a position's scale no reed sounds, from the published reeds and music21's scales alone."""
    reeds = set(RICHTER)
    for row in breathline("positions", "--harp", "C")["positions"]:
        if row["position"] not in MODES:
            continue
        name, kind = MODES[row["position"]]
        tonic = pitch.Pitch(music21_name(row["song_key"]))
        classes = [p.pitchClass for p in kind(tonic).pitches[:7]]
        expected = [classes.index(note % 12) + 1 for note in range(0, 37) if note % 12 in classes and note not in reeds]
        found = [int(gap["degree"].lstrip("b#")) for gap in row["missing"]["notes"]]
        where = f"position {row['position']}"
        check(f"{where}: {name} lacks {expected}, not {found}", row["missing"]["mode"] == name and found == expected)
        bent = [note for note in range(0, 37) if note % 12 == tonic.pitchClass and note not in reeds]
        check(f"{where}: {len(bent)} tonics need a bend", len(row["tonic_bent_at"]) == len(bent))


# The scales of the styles in semitones (common practice, no source).
FEELS = {"blues": (0, 2, 3, 4, 5, 6, 7, 9, 10), "minor-blues": (0, 3, 5, 6, 7, 10), "country": (0, 2, 4, 7, 9),
         "folk": (0, 2, 4, 5, 7, 9, 11)}


def check_feels(check, breathline):
    """Checks how many notes of a style's scale are on the published reeds, and that positions with more of them, tonics
    counted twice, come first."""
    for feel, steps in FEELS.items():
        rows = breathline("positions", "--harp", "C", "--feel", feel)["positions"]
        orders = []
        for row in rows:
            tonic = pitch.Pitch(music21_name(row["song_key"])).pitchClass
            notes = [note for note in range(0, 37) if (note - tonic) % 12 in steps]
            natural = [note for note in notes if note in RICHTER]
            where = f"{feel}, position {row['position']}"
            check(where, (row["feel"]["notes"], row["feel"]["natural"]) == (len(notes), len(natural)))
            orders.append(len(natural) + sum((note - tonic) % 12 == 0 for note in natural))
        check(f"{feel}: the position with the most natural notes comes first: {orders}", orders == sorted(orders, reverse=True))


def check_lookups(check, breathline):
    """Checks that any two of harp, position and song key give the third."""
    for row in breathline("positions")["positions"]:
        harp, position, song = row["harp"], str(row["position"]), row["song_key"]
        for asked in (
            ["--harp", harp, "--position", position],
            ["--harp", harp, "--key", song],
            ["--position", position, "--key", song],
        ):
            check(f"positions {' '.join(asked)}", breathline("positions", *asked)["positions"] == [row])


def check_bends(check, breathline):
    """Checks the reeds, bends and overbends of a Richter harp in every key."""
    for harp, root in KEY_NOTES.items():
        actions = {}
        for action in breathline("harp", harp)["actions"]:
            actions[action["hole"], action["breath"], action["over"], action["bend"]] = action["midi"]
        expected = {}
        for hole in range(1, 11):
            blow, draw = (root + offset for offset in RICHTER[2 * hole - 2 : 2 * hole])
            expected[hole, "blow", False, 0] = blow
            expected[hole, "draw", False, 0] = draw
            bent, high, over = ("draw", draw, "blow") if hole <= 6 else ("blow", blow, "draw")
            for depth in range(1, BENDS[hole] + 1):
                expected[hole, bent, False, depth] = high - depth
            expected[hole, over, True, 0] = high + 1
        for key in sorted(expected.keys() | actions.keys()):
            check(f"{harp} harp, {key}", expected.get(key) == actions.get(key))
        # With bends and the overbends that players use, the harp has every semitone of three octaves.
        used = {
            midi
            for (hole, breath, over, _), midi in actions.items()
            if not over or hole in (OVERBLOWS if breath == "blow" else OVERDRAWS)
        }
        check(f"{harp} harp is chromatic", used >= set(range(root, root + 38)))


def main():
    check, breathline = outside.start(sys.argv)
    check_table(check, breathline)
    check_gaps(check, breathline)
    check_feels(check, breathline)
    check_lookups(check, breathline)
    check_bends(check, breathline)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
