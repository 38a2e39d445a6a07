"""Twice the notes cost twice: each family of inputs, with every command and every output, from 1,000 to 16,000 notes.

Usage: long_growth.py BREATHLINE [FAMILY [COMMAND]]
"""

import sys

import growth

SIZES = (1_000, 2_000, 4_000, 8_000, 16_000)


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    measure = growth.Growth(sys.argv[1], SIZES)
    families, commands = (*growth.XML, *growth.MIDI), tuple(growth.COMMANDS)
    for family in sys.argv[2:3] or families:
        measure.family(family, sys.argv[3:4] or commands)
    sys.exit(measure.finish())


if __name__ == "__main__":
    main()
