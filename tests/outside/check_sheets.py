"""Makes sheets of 200 tunes and checks them.

The tunes come from the O'Neill (1850) collection in music21, which writes them as MusicXML. On each sheet, no item
overlaps another, no item is off the page, every note has its tab, and the values drawn in a bar sum to its length.
`tests/outside/sheets.rs` draws the sheets, and shares its geometric test with the crate's own tests. `check_written.py`
compares the written notes with those of the source.

    check_sheets.py BIN [COUNT]
"""

import fractions
import json
import pathlib
import subprocess
import sys
import tempfile
import warnings

from check_tunes import sample
from outside import Check


def value(event):
    """Returns the length of a drawn note or rest, in quarters."""
    plain = fractions.Fraction(4) / fractions.Fraction(2) ** event["halvings"]
    dotted = plain * (2 - fractions.Fraction(1, 2 ** event["dots"]))
    number, usual = event["tuplet"] or (1, 1)
    return dotted * usual / number


def drawn_well(check, name, told):
    """Checks that `sheets` found no fault, and that the drawn values fill every bar."""
    for fault in told["faults"]:
        check(f"{name}: {fault}", False)
    check(f"{name}: {told['pages']} pages without a fault", not told["faults"])
    for bar in told["bars"]:
        events, length = bar["events"], fractions.Fraction(bar["length"])
        silent = len(events) == 1 and events[0]["rest"] and events[0]["halvings"] == 0
        total = length if silent else sum(value(event) for event in events)
        check(f"{name}, bar {bar['number']}: {total} drawn in {length}", total == length)


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    sheets = pathlib.Path(sys.argv[1]).resolve().parent / "examples" / "sheets"
    wanted = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    check = Check()
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "tune.musicxml"
        # Half of a sample comes from O'Neill, so twice as many tunes are sampled.
        tunes = (tune for tune in sample(2 * wanted) if tune[0].startswith("oneills1850"))
        for name, score in tunes:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                score.write("musicxml", path)
            done = subprocess.run([sheets, path], capture_output=True, text=True, check=False)
            if not check(f"{name}: {done.stderr.strip()}", done.returncode == 0):
                continue
            told = json.loads(done.stdout)
            drawn_well(check, name, told)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
