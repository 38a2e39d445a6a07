"""Counts which tunes of O'Neill (1850) and Ryan's Mammoth Collection, two books of fiddle tunes that come with music21,
the twelve standard Richter harps play in full, in which positions they play them, and which position wins.

    long_collections.py BIN [--write]

The results must equal an independent count in this file, from the reeds and the tunes alone, and be within a point of
earlier figures. With --write, the table in docs/collections.md and the picture docs/collections.svg are rewritten;
without it, they must show the present results. The exit code is 1 if they do not, or if a result differs.
"""

import collections
import sys
from pathlib import Path

import labelled_tunes as tunes
import outside

HOME = Path(__file__).resolve().parents[2]
BOOKS = {"O'Neill": "oneills1850", "Ryan": "ryansMammoth"}
TECHNIQUES = ("no bends", "all bends", "overbends")
NAMES = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
# The positions that have a column each; the others share the column "other".
POSITIONS = (1, 2, 3, 4, 5, 12)
MODES = ("major", "mixolydian", "dorian", "minor")

# Earlier counts by another reader of the same books, in per cent of the tunes. "written" are the tunes that the twelve
# standard harps play in full at written pitch, for each technique; "octave" are those that the harps play in full if
# the tune may move by an octave; "unbent" are the tunes that need no bend in a position, in some key.
BEFORE = {
    "O'Neill": {"tunes": 2009, "written": (15.3, 82.9, 100.0), "octave": (45.8, 91.6, 100.0),
                "unbent": {1: 41.5, 2: 3.1, 3: 0.9, 4: 1.2, 5: 0.0, 12: 3.1}},
    "Ryan": {"tunes": 1059, "written": (13.4, 77.1, 100.0), "octave": (40.9, 87.8, 100.0),
             "unbent": {1: 36.4, 2: 2.3, 3: 1.5, 4: 0.8, 5: 0.1, 12: 3.1}},
}

# The reeds of a Richter harp, in semitones above its key note, hole by hole.
BLOW = (0, 4, 7, 12, 16, 19, 24, 28, 31, 36)
DRAW = (2, 7, 11, 14, 17, 21, 23, 26, 29, 33)


def reach(technique):
    """Returns the notes above the key note that a Richter harp has with a technique, from its reeds alone."""
    notes = set(BLOW) | set(DRAW)
    for blow, draw in zip(BLOW, DRAW):
        high, low = max(blow, draw), min(blow, draw)
        if technique != "no bends":
            notes |= set(range(low + 1, high))
        if technique == "overbends":
            # An overbend sounds a semitone above the higher reed.
            notes.add(high + 1)
    return frozenset(notes)


def oracle(tune):
    """Returns the part of the program's answer that does not depend on its weights, computed from the reeds alone."""
    pitches = {note.midi for note in tune.notes}
    written, octave, positions, unbent = [], [], [], set()
    for technique in TECHNIQUES:
        notes = reach(technique)
        # Key notes of the standard harps: from G below middle C to F sharp above.
        plays = {(root, by) for root in range(55, 67) for by in range(-10, 11)
                 if all(pitch + 12 * by - root in notes for pitch in pitches)}
        written.append(any(by == 0 for _, by in plays))
        octave.append(any(abs(by) <= 1 for _, by in plays))
        positions.append(sorted({1 + 7 * (tune.tonic - root) % 12 for root, _ in plays}))
    natural = reach("no bends")
    for move in range(-120, 121):
        if all(pitch + move - 60 in natural for pitch in pitches):
            unbent.add(1 + 7 * (tune.tonic + move) % 12)
    return {"written": written, "octave": octave, "positions": positions, "unbent_in_any_key": sorted(unbent)}


def share(hits, of):
    return 100 * hits / of if of else 0.0


def shares(answers):
    """Returns the number of tunes and their percentages, as in BEFORE."""
    count = len(answers)
    return {
        "tunes": count,
        **{name: tuple(share(sum(answer[name][t] for answer in answers), count) for t in range(3))
           for name in ("written", "octave")},
        "unbent": {p: share(sum(p in answer["unbent_in_any_key"] for answer in answers), count) for p in POSITIONS},
    }


def compare(check, book, found, before):
    """Prints the earlier and the present figures, and checks that they differ by at most a point."""
    rows = [(f"{name}, {technique}", before[name][t], found[name][t])
            for name in ("written", "octave") for t, technique in enumerate(TECHNIQUES)]
    rows += [(f"unbent in some key, position {p}", before["unbent"][p], found["unbent"][p]) for p in POSITIONS]
    for what, was, now in rows:
        print(f"  {book:8} {what:34} {was:6.1f} {now:6.1f}  {now - was:+.1f}")
        check(f"{book}, {what}: {now:.1f} % is within a point of {was:.1f} %", abs(now - was) <= 1)


def won(rows, technique):
    """Returns the percentage of the tunes for which each position wins."""
    counts = collections.Counter(answer["winners"][technique] for _, answer in rows)
    return {p: share(counts[p], len(rows)) for p in POSITIONS} | {
        "other": share(sum(n for p, n in counts.items() if p not in POSITIONS), len(rows))}


def full(rows, technique):
    """Returns the percentage of the tunes that can be played in full in each position."""
    return {p: share(sum(p in answer["positions"][technique] for _, answer in rows), len(rows)) for p in POSITIONS}


def markdown(rows):
    """Returns the table for the docs: winners by mode, and the tunes that can be played in full."""
    heads = ["1st", "2nd", "3rd", "4th", "5th", "12th", "other"]
    lines = ["| | tunes | " + " | ".join(heads) + " |", "|---|--:|" + "--:|" * len(heads)]
    cell = lambda value: f"{value:.0f}" if value >= 0.5 or value == 0 else "<1"
    for technique in (0, 1):
        for mode in MODES:
            of_mode = [row for row in rows if row[0].mode == mode]
            cells = [cell(value) for value in won(of_mode, technique).values()]
            lines.append(f"| {mode}, {TECHNIQUES[technique]} | {len(of_mode)} | " + " | ".join(cells) + " |")
    for technique in (0, 1):
        cells = [cell(value) for value in full(rows, technique).values()]
        lines.append(f"| *in full*, {TECHNIQUES[technique]} | {len(rows)} | " + " | ".join(cells) + " | |")
    return "\n".join(lines) + "\n"


COLOURS = {1: "#1b6ca8", 2: "#d1495b", 3: "#2e8b57", 4: "#8d5fb0", 5: "#c98b1d", 12: "#4f9fa8", "other": "#9a9a9a"}


def picture(rows):
    """Returns a bar chart of the winning positions by mode and technique, as SVG."""
    bars = [(f"{mode}, {TECHNIQUES[t]}", won([row for row in rows if row[0].mode == mode], t))
            for mode in MODES for t in (0, 1)]
    left, wide, high, step = 180, 480, 22, 34
    bottom = 64 + step * len(bars)
    out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {left + wide + 40} {bottom + 40}" '
           'font-family="sans-serif" font-size="13" role="img">',
           "<title>Which position wins, by the mode of the tune</title>",
           f'<rect width="{left + wide + 40}" height="{bottom + 40}" fill="white"/>']
    at = left
    for position, colour in COLOURS.items():
        name = {1: "1st", 2: "2nd", 3: "3rd"}.get(position, position if position == "other" else f"{position}th")
        out.append(f'<rect x="{at}" y="16" width="14" height="14" fill="{colour}"/>'
                   f'<text x="{at + 19}" y="28">{name}</text>')
        at += 66
    for index, (name, values) in enumerate(bars):
        y = 52 + step * index + 8 * (index // 2)
        out.append(f'<text x="{left - 10}" y="{y + 16}" text-anchor="end">{name}</text>')
        x = float(left)
        for position, value in values.items():
            width = wide * value / 100
            if width == 0:
                continue
            out.append(f'<rect x="{x:.1f}" y="{y}" width="{width:.1f}" height="{high}" fill="{COLOURS[position]}"/>')
            if width >= 28:
                out.append(f'<text x="{x + width / 2:.1f}" y="{y + 16}" fill="white" text-anchor="middle">'
                           f"{value:.0f}</text>")
            x += width
    y = 52 + step * len(bars) + 8 * (len(bars) // 2)
    for tick in range(0, 101, 25):
        out.append(f'<text x="{left + wide * tick / 100:.0f}" y="{y + 6}" text-anchor="middle" fill="#555">{tick} %</text>')
    out.append("</svg>")
    out[0] = out[0].replace(f"{bottom + 40}\"", f"{y + 20}\"")
    out[2] = out[2].replace(f"height=\"{bottom + 40}\"", f"height=\"{y + 20}\"")
    return "\n".join(out) + "\n"


START, END = "<!-- long_collections.py --write -->\n", "<!-- end -->\n"


def main():
    check, _ = outside.start(sys.argv)
    program = str(Path(sys.argv[1]).resolve().parent / "examples" / "approaches")
    read = {book: list(tunes.collection(folder)) for book, folder in BOOKS.items()}
    every = [tune for book in read.values() for tune in book]
    questions = ({"key": f"{NAMES[tune.tonic]} {tune.mode}", "xml": tunes.musicxml(tune, tune.sharps)} for tune in every)
    answers = outside.ask_all(program, questions)
    rows = list(zip(every, answers))
    differ = [tune.title for tune, answer in rows
              if any(answer[name] != value for name, value in oracle(tune).items())]
    check(f"the count from the reeds alone gives the same for all {len(rows)} tunes, except {differ[:5]}", not differ)
    print("tunes played in full, per cent: before, now")
    for book, folder in BOOKS.items():
        found = shares([answer for tune, answer in rows if tune.collection == folder])
        print(f"  {book}: {found['tunes']} tunes, before {BEFORE[book]['tunes']}")
        compare(check, book, found, BEFORE[book])
    table, svg = markdown(rows), picture(rows)
    print(table)
    document, drawn = HOME / "docs" / "collections.md", HOME / "docs" / "collections.svg"
    text = document.read_text("utf-8")
    before, _, rest = text.partition(START)
    after = rest.partition(END)[2]
    renewed = before + START + table + END + after
    if "--write" in sys.argv:
        document.write_text(renewed, "utf-8")
        drawn.parent.mkdir(exist_ok=True)
        drawn.write_text(svg, "utf-8")
    hint = "long_collections.py BIN --write rewrites it"
    check(f"the table in docs/collections.md equals the one above; {hint}", START in text and renewed == document.read_text("utf-8"))
    check(f"docs/collections.svg shows the same table; {hint}", drawn.exists() and drawn.read_text("utf-8") == svg)
    sys.exit(check.finish())


if __name__ == "__main__":
    main()
