#!/usr/bin/env python3
"""Measures how well a printed page is used: the share of its height that is filled, the share of strains that start a
line, and the height of the figures of the tab.

    check_filled.py BIN

The sheets are those of every tune of corpus/ and demo/ on A4, as PDF for pdftoppm and as SVG. A player reads a sheet on
a stand, at 70 cm. The goals for tunes of one page are, on average, 85 % of the page, figures of 4 mm, and 95 % of the
strains at the start of a line. We found no published height for tab, so the goals are our judgement (common practice,
no source).
"""

import re
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from xml.etree import ElementTree

import outside

ROOT = Path(__file__).resolve().parents[2]
GOAL_SHARE, GOAL_FIGURE, GOAL_STRAINS = 0.85, 4.0, 0.95
# The bounds, from the present state: the least means over all tunes of one page, and the least height of the figures on
# any sheet in mm, which is their height on a staff of 7 mm.
FLOOR_SHARE, FLOOR_FIGURE, FLOOR_STRAINS, LEAST_FIGURE = 0.88, 4.0, 0.94, 2.95
# The height of a figure's outline before it is scaled, in thousandths of a staff.
FIGURE = 330
MARGIN_MM, HEIGHT_MM, DPI = 14, 297, 40


def used(pdf):
    """Returns the share of the first page's height, between its margins, that is above the last ink."""
    picture = subprocess.run(["pdftoppm", "-r", str(DPI), "-f", "1", "-l", "1", "-gray", str(pdf)], check=True, capture_output=True).stdout
    header = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", picture)
    width, height = int(header[1]), int(header[2])
    rows = [picture[header.end() + row * width : header.end() + (row + 1) * width] for row in range(height)]
    inked = [row for row, pixels in enumerate(rows) if min(pixels) < 128]
    mm = 25.4 / DPI
    return (inked[-1] * mm - MARGIN_MM) / (HEIGHT_MM - 2 * MARGIN_MM)


def figure_mm(svg):
    """Returns the height of the tab's figures for main notes, in millimetres."""
    paper = float(re.search(r'height="([\d.]+)mm"', svg)[1])
    units = float(re.search(r'viewBox="0 0 \d+ (\d+)"', svg)[1])
    scales = [float(scale) for scale in re.findall(r'href="#tab_\d+" transform="[^"]*scale\(([\d.]+)\)"', svg)]
    return max(scales) * FIGURE * paper / units


def strains(score):
    """Yields, for each strain after the first, the set of the bars (by their indices) at which its line may start: its
    first bar, and also the next bar if the first is an upbeat."""
    measures = list(ElementTree.parse(score).getroot().find("part").iter("measure"))
    left = [measure.find("barline[@location='left']/repeat[@direction='forward']") is not None for measure in measures]
    closed = [
        measure.find("barline[@location='right']/repeat") is not None
        or measure.findtext("barline[@location='right']/bar-style") in {"light-light", "light-heavy"}
        for measure in measures
    ]
    ending = [measure.find("barline/ending") is not None for measure in measures]

    def length(measure):
        return sum(int(note.findtext("duration") or 0) for note in measure.iter("note") if note.find("chord") is None)

    full = statistics.mode(map(length, measures))
    for index in range(1, len(measures)):
        upbeat_before = length(measures[index - 1]) <= full // 2 and (index == 1 or closed[index - 2])
        starts = closed[index - 1] or left[index]
        if starts and not (ending[index - 1] and ending[index]) and not upbeat_before:
            short = length(measures[index]) <= full // 2
            yield {index, index + 1} if short else {index}


def lines(svg):
    """Returns the first bar of each line of music."""
    return {int(bar) for bar in re.findall(r'<g class="system".*?data-bar="(\d+)"', svg, re.DOTALL)}


def main():
    check, _ = outside.start(sys.argv)
    if shutil.which("pdftoppm") is None:
        sys.exit("check_filled.py: there is no pdftoppm; apt-get install poppler-utils brings it")
    binary = str(Path(sys.argv[1]).resolve())
    shares, figures = [], []
    on_line = at_all = 0
    with tempfile.TemporaryDirectory() as folder:
        for tune in sorted([*ROOT.glob("corpus/*.musicxml"), *ROOT.glob("demo/*.musicxml")]):
            pdf, svg = Path(folder) / f"{tune.stem}.pdf", Path(folder) / f"{tune.stem}.svg"
            for path in (pdf, svg):
                subprocess.run([binary, "sheet", str(tune), "-o", str(path)], check=True, capture_output=True)
            if not svg.exists():
                # If a sheet has several pages, the name of each file has a number.
                check(f"{tune.stem}: several pages", len(list(Path(folder).glob(f"{tune.stem}-*.svg"))) > 1)
                continue
            share, figure = used(pdf), figure_mm(svg.read_text("utf-8"))
            first, starts = lines(svg.read_text("utf-8")), list(strains(tune))
            begun = sum(bool(first & bars) for bars in starts)
            on_line, at_all = on_line + begun, at_all + len(starts)
            print(f"  {tune.stem}: {share:.0%} of the page, figures of {figure:.1f} mm, {begun} of {len(starts)} strains start a line")
            check(f"{tune.stem}: figures of {figure:.1f} mm", figure >= LEAST_FIGURE)
            shares.append(share)
            figures.append(figure)
    share, figure = sum(shares) / len(shares), sum(figures) / len(figures)
    started = on_line / at_all
    for name, value, goal, floor in [
        ("share of the page", share, GOAL_SHARE, FLOOR_SHARE),
        ("figures in mm", figure, GOAL_FIGURE, FLOOR_FIGURE),
        ("strains that start a line", started, GOAL_STRAINS, FLOOR_STRAINS),
    ]:
        reached = "" if value >= goal else " NOT REACHED"
        print(f"  mean {name}: {value:.2f}, goal {goal}{reached}")
        check(f"mean {name}", value >= floor)
    check(f"{len(shares)} sheets of one page", len(shares) > 30)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
