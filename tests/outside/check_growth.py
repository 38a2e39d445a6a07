"""Checks that the cost of a tune grows in proportion to its notes, within the bounds of growth.py. This check is a
shorter form of growth_all.py, and takes about a minute.

Usage: check_growth.py BREATHLINE
"""

import sys

import growth

SIZES = (4_000, 8_000)
COMMANDS = ("suggest", "sheet svg", "export musicxml", "check choice")


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    measure = growth.Growth(sys.argv[1], SIZES, rounds=4)
    for family in (*growth.XML, *growth.MIDI):
        measure.family(family, COMMANDS)
    sys.exit(measure.finish())


if __name__ == "__main__":
    main()
