"""Compares the outlines of `src/sheet/glyphs/outlines.txt` with the fonts that they come from.

The font of the music glyphs is in the PyPI package verovio, the font of the figures in matplotlib;
`src/sheet/glyphs/extract.py` reads both fonts again.

    check_glyphs.py BIN
"""

import pathlib
import sys

from outside import Check

GLYPHS = pathlib.Path(__file__).resolve().parents[2] / "src" / "sheet" / "glyphs"
sys.path.insert(0, str(GLYPHS))

import extract  # noqa: E402


def main():
    check = Check()
    ours = (GLYPHS / "outlines.txt").read_text(encoding="utf-8").splitlines()
    theirs = extract.table(*extract.found_fonts()).splitlines()
    check("as many lines", len(ours) == len(theirs))
    for line, expected in zip(ours, theirs):
        check(line.split()[0], line == expected)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
