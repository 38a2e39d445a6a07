"""Twice the notes cost twice: each family of inputs, with the commands and outputs, from 4,000 to 16,000 notes.

Usage: growth_all.py BREATHLINE [FAMILY [COMMAND]]

Not all of it is reached yet: a wide tuning on one long bar, --adapt on a bar of 16,000 notes, and the memory of some pages. So it is run by hand, and
says where each family stands. A plain tune, and one of a single long bar, go through every command; the other families through those that do different work.
"""

import sys

import growth

SIZES = (4_000, 8_000, 16_000)
PLAIN = ("bars", "notes in a bar")
COMMANDS = ("suggest", "sheet svg", "sheet html", "export musicxml", "check choice")


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    measure = growth.Growth(sys.argv[1], SIZES)
    for family in sys.argv[2:3] or (*growth.XML, *growth.MIDI):
        measure.family(family, sys.argv[3:4] or (tuple(growth.COMMANDS) if family in PLAIN else COMMANDS))
    sys.exit(measure.finish())


if __name__ == "__main__":
    main()
