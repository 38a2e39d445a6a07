"""Checks that twice the notes cost twice as much, for each family of inputs, with the commands and outputs, from 4,000
to 16,000 notes.

Usage: growth_all.py BREATHLINE [FAMILY [COMMAND]]

Some bounds are not met yet: a wide tuning, pictures as PNG, and the memory of some pages. Therefore it is run by hand, and prints the state of each family. A plain tune and a tune of a single long bar go
through every command; the other families go through the commands that do different work for them.
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
