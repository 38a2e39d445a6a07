#!/usr/bin/env python3
"""Writes `outlines.txt`, the outlines that a sheet needs, from two fonts.

    python3 -m pip install verovio fonttools matplotlib
    python3 src/sheet/glyphs/extract.py

The music glyphs come from Leland (SIL Open Font License 1.1) in the PyPI package verovio. The figures of the tab come
from DejaVu Sans Bold (Bitstream Vera licence) in matplotlib. Units are 1/250 of a staff space, and the y axis points
down. `tests/outside/check_glyphs.py` compares the file with the fonts.
"""

import pathlib
import re
import sys
import xml.etree.ElementTree as xml

GLYPHS = {
    "clef": "E050", "clef_8_below": "E052", "clef_8_above": "E053", "clef_15_above": "E054",
    **{f"time_{n}": f"E08{n}" for n in range(10)}, "time_common": "E08A", "time_cut": "E08B",
    "head_double_whole": "E0A0", "head_whole": "E0A2", "head_half": "E0A3", "head_black": "E0A4",
    "flag_1_up": "E240", "flag_1_down": "E241", "flag_2_up": "E242", "flag_2_down": "E243",
    "flag_3_up": "E244", "flag_3_down": "E245", "flag_4_up": "E246", "flag_4_down": "E247",
    "flag_5_up": "E248", "flag_5_down": "E249",
    "flat": "E260", "natural": "E261", "sharp": "E262", "double_sharp": "E263", "double_flat": "E264",
    "dot": "E1E7", "repeat_dot": "E044", "segno": "E047", "coda": "E048", "breath": "E4CE", "fermata": "E4C0",
    "rest_double_whole": "E4E2", "rest_whole": "E4E3", "rest_half": "E4E4", "rest_quarter": "E4E5", "rest_1": "E4E6",
    "rest_2": "E4E7", "rest_3": "E4E8", "rest_4": "E4E9", "rest_5": "E4EA",
    **{f"tuplet_{n}": f"E88{n}" for n in range(10)},
}

# The characters in tab, and the height of its figures.
TAB = "0123456789'/bo"
FIGURE_HEIGHT = 330

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
ARGUMENTS = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "z": 0}


def flipped(path):
    """Returns an SVG path turned upside down, in whole numbers."""
    out = []
    for command, arguments in re.findall(r"([a-zA-Z])([^a-zA-Z]*)", path):
        numbers = [float(n) for n in NUMBER.findall(arguments)]
        kind = command.lower()
        step = ARGUMENTS[kind]
        for index, number in enumerate(numbers):
            vertical = kind == "v" or (kind != "h" and index % 2 == 1)
            numbers[index] = round(-number if vertical else number)
        assert step == 0 or len(numbers) % step == 0, (command, arguments)
        out.append(command + " ".join(str(n) for n in numbers).replace(" -", "-"))
    return "".join(out)


def music(data):
    """Yields name, advance, box (left, top, right, bottom) and path of each music glyph."""
    boxes = {}
    for glyph in xml.parse(data / "Leland.xml").getroot().iter("g"):
        boxes[glyph.get("c")] = [round(float(glyph.get(key))) for key in ("x", "y", "w", "h", "h-a-x")]
    for name, code in GLYPHS.items():
        [file] = (data / "Leland").glob(f"{code}*")
        path = xml.parse(file).getroot().find(".//{*}path").get("d")
        x, y, width, height, advance = boxes[code]
        yield name, advance, (x, -y - height, x + width, -y), flipped(path)


def tab(font_file):
    """Yields the same data for each figure of the tab."""
    from fontTools.misc.transform import Scale
    from fontTools.pens.boundsPen import BoundsPen
    from fontTools.pens.svgPathPen import SVGPathPen
    from fontTools.pens.transformPen import TransformPen
    from fontTools.ttLib import TTFont

    font = TTFont(font_file)
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    one = BoundsPen(glyphs)
    glyphs[names[ord("1")]].draw(one)
    scale = FIGURE_HEIGHT / one.bounds[3]
    for char in TAB:
        glyph = glyphs[names[ord(char)]]
        path, bounds = SVGPathPen(glyphs, ntos=lambda n: str(round(n))), BoundsPen(glyphs)
        for pen in (path, bounds):
            glyph.draw(TransformPen(pen, Scale(scale, -scale)))
        # The pen already writes y upside down.
        left, top, right, bottom = (round(edge) for edge in bounds.bounds)
        yield f"tab_{ord(char)}", round(glyph.width * scale), (left, top, right, bottom), path.getCommands()


def table(data, font_file):
    lines = [
        "# Outlines from Leland (SIL Open Font License 1.1) and DejaVu Sans Bold (Bitstream Vera licence); see LICENCES.md.",
        "# Written by extract.py: name, advance, box (left top right bottom), path; 1/250 of a staff space, y down.",
    ]
    for name, advance, box, path in [*music(data), *tab(font_file)]:
        lines.append(f"{name} {advance} {' '.join(str(edge) for edge in box)} {path}")
    return "\n".join(lines) + "\n"


def found_fonts():
    import matplotlib
    import verovio

    fonts = pathlib.Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans-Bold.ttf"
    return pathlib.Path(verovio.__file__).parent / "data", fonts


if __name__ == "__main__":
    target = pathlib.Path(__file__).with_name("outlines.txt")
    target.write_text(table(*found_fonts()), encoding="utf-8")
    print(f"{target}: {target.stat().st_size} bytes", file=sys.stderr)
