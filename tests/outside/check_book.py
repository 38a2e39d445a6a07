#!/usr/bin/env python3
"""Reads a book of many tunes with other programs.

    check_book.py BIN

The CSV of O'Neill's 1850 tunes from music21's corpus, read by Python's csv module (RFC 4180), must agree with the lines
of JSON. Answers for parts of the list, joined, must equal the answer for the whole list. Ctrl-C must leave the lines of
the finished tunes. The whole collection must take less than ten seconds.
"""

import csv
import io
import json
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import music21

import outside

TUNES = Path(music21.__file__).parent / "corpus" / "oneills1850"


def run(binary, *arguments):
    return subprocess.run([binary, "book", *map(str, arguments)], capture_output=True, check=False)


def main():
    check, _ = outside.start(sys.argv)
    binary = str(Path(sys.argv[1]).resolve())
    files = sorted(TUNES.glob("*.abc"))
    begun = time.monotonic()
    whole = run(binary, *files, "--json").stdout
    took = time.monotonic() - begun
    lines = [json.loads(line) for line in whole.splitlines()]
    check(f"{len(lines)} tunes in {took:.1f} s", len(lines) > 1800 and took < 10)
    rows = list(csv.DictReader(io.StringIO(run(binary, *files, "--csv").stdout.decode("utf-8"), newline="")))
    check("CSV and JSON have the same number of tunes", len(rows) == len(lines))
    for row, line in zip(rows, lines):
        best = line["approach"]
        same = (row["title"], row["key"].lower(), row["harp"]) == (
            line["title"], f"{line['key']['tonic']} {line['key']['mode']}".lower(), line["harp"])
        same &= [int(row[name]) for name in ("notes", "lacks", "bends", "effort")] == [
            best["notes"], len(best["missing"]), sum(best["bends"].values()), best["effort"]["total"] // best["notes"]]
        check(f"CSV and JSON agree on {line['title']}", same)

    dice = random.Random(11)
    with tempfile.TemporaryDirectory() as folder:
        cuts = sorted(dice.sample(range(1, len(files)), 3))
        parts = []
        for number, (start, end) in enumerate(zip([0, *cuts], [*cuts, len(files)])):
            parts.append(Path(folder) / f"{number}.jsonl")
            parts[-1].write_bytes(run(binary, *files[start:end], "--json").stdout)
        for question in (["--json"], ["--csv", "--sort", "title"], ["--next", "15"], ["--easiest", "20"]):
            merged = run(binary, *parts, "--merge", *question)
            check(f"joined partial answers equal the answer for the whole: {question}", merged.stdout == run(binary, *files, *question).stdout)

    # The list of tunes is given six times, so that the signal comes before the end.
    begun = subprocess.Popen([binary, "book", *map(str, files * 6), "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    time.sleep(0.7)
    begun.send_signal(signal.SIGINT)
    out, err = begun.communicate()
    known = {line["file"] for line in lines}
    left = [json.loads(line) for line in out.splitlines()]
    check(f"Ctrl-C leaves {len(left)} finished tunes, exit {begun.returncode}", begun.returncode == 130 and left
          and len(left) < 6 * len(lines) and all(line["file"] in known for line in left) and b"stopped" in err)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
