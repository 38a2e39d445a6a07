"""Checks that the cost of a tune grows in proportion to its notes, for each family of inputs, from 4,000 to 16,000
notes, within the bounds of growth.py.

Usage: growth_all.py BREATHLINE [FAMILY [COMMAND]]

A wide tuning, pictures as PNG and the memory of some pages do not meet their bounds yet. This script is therefore run
by hand, and prints the state of each family. The families PLAIN are given to every command; the other families are
given to COMMANDS.
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
