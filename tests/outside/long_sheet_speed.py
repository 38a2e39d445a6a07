"""Compares the time for a sheet with verovio (PyPI), which engraves the same MusicXML to SVG.

    long_sheet_speed.py BIN

Our time runs from the melody and its winner to the SVG of all pages (tests/outside/sheets.rs). verovio's time is for
loadData and renderToSVG of all pages, without the start of its toolkit. Both are the shortest of several runs. Each
sheet must take less than 5 ms, and no longer than verovio.
"""

import json
import pathlib
import subprocess
import sys
import time

import verovio

from outside import Check


def engraved(path):
    """Returns the shortest time that verovio takes for all pages, in milliseconds."""
    toolkit = verovio.toolkit()
    toolkit.setOptions({"pageWidth": 2100, "pageHeight": 2970, "scale": 40})
    text = path.read_text(encoding="utf-8")
    runs = []
    for _ in range(10):
        start = time.perf_counter()
        toolkit.loadData(text)
        for page in range(1, toolkit.getPageCount() + 1):
            toolkit.renderToSVG(page)
        runs.append(time.perf_counter() - start)
    return 1000 * min(runs)


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    sheets = pathlib.Path(sys.argv[1]).resolve().parent / "examples" / "sheets"
    corpus = pathlib.Path(__file__).resolve().parents[2] / "corpus"
    check = Check()
    for name in ("two-jigs", "amazing-grace", "korobeiniki"):
        path = corpus / f"{name}.musicxml"
        told = json.loads(subprocess.run([sheets, path], capture_output=True, text=True, check=True).stdout)
        ours, theirs = told["micros"] / 1000, engraved(path)
        bars = len(told["bars"])
        print(f"{name}: {bars} bars, {ours:.2f} ms, verovio {theirs:.2f} ms, {theirs / ours:.1f} times as long")
        check(f"{name}: {ours:.2f} ms for {bars} bars", ours < 5)
        check(f"{name}: takes no longer than verovio", ours <= theirs)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
