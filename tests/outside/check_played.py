"""Plays tunes unevenly and asks the program for the places where the notes were written.

The tunes are the tunes of check_tunes.py, at 120 quarters a minute. In each row of the table below, onsets and ends are
early or late by a normally distributed time, and notes sound for a share of their length. The program must find their
written places.

    check_played.py BIN [COUNT]

The check calls BIN as `BIN notes FILE --json`. The exit code is 1 if the program finds fewer onsets, or fewer notes
with their onset and duration, than the table below demands. The table has the measured values, rounded down.
"""

import argparse
import json
import pathlib
import random
import subprocess
import sys
import warnings

import mido

from check_bands import line_of
from check_tunes import sample

QUARTER = 480
MILLISECONDS = 500
# The least percentages of onsets, and of notes with onset and duration, that the program must find: by the spread in
# milliseconds, and by the share of its length for which a note sounds.
NEEDED = {
    (0, 1.0): (100, 100),
    (0, 0.93): (100, 99.9),
    (0, 0.85): (100, 99.5),
    (4, 0.93): (99, 99),
    (8, 0.93): (99, 98),
    (15, 0.93): (97, 95),
}


def play(tune, spread, gate, choice, path):
    events, last = [], -1
    for onset, duration, pitch in tune:
        early_or_late = (choice.gauss(0, spread / MILLISECONDS) for _ in range(2))
        start = max(last + 1, round((onset + next(early_or_late)) * QUARTER))
        end = max(start + 1, round((onset + duration * gate + next(early_or_late)) * QUARTER))
        events += [(start, 1, pitch), (end, 0, pitch)]
        last = start
    file, track, now = mido.MidiFile(type=0, ticks_per_beat=QUARTER), mido.MidiTrack(), 0
    file.tracks.append(track)
    for tick, on, pitch in sorted(events):
        kind = "note_on" if on else "note_off"
        track.append(mido.Message(kind, note=pitch, velocity=80, time=tick - now))
        now = tick
    file.save(path)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", metavar="BIN")
    parser.add_argument("count", nargs="?", type=int, default=100)
    arguments = parser.parse_args()
    warnings.simplefilter("ignore")
    folder = pathlib.Path("target/outside/played")
    folder.mkdir(parents=True, exist_ok=True)
    path = str(folder / "played.mid")
    tunes = [line_of(score.parts[0] if score.parts else score) for _, score in sample(arguments.count)]
    choice = random.Random(4)
    passed = failed = 0
    for (spread, gate), needed in NEEDED.items():
        total = onsets = whole = 0
        for tune in tunes:
            play(tune, spread, gate, choice, path)
            run = subprocess.run([arguments.program, "notes", path, "--json"], capture_output=True, text=True)
            notes = json.loads(run.stdout)["notes"] if run.returncode == 0 else []
            found = {(round(note["onset"], 3), note["midi"]): note["duration"] for note in notes}
            for onset, duration, pitch in tune:
                length = found.get((round(onset, 3), pitch))
                total += 1
                onsets += length is not None
                whole += length is not None and abs(length - duration) < 1e-3
        shares = 100 * onsets / total, 100 * whole / total
        good = all(share >= least for share, least in zip(shares, needed))
        passed, failed = passed + good, failed + (not good)
        mark = "good" if good else "LESS THAN NEEDED"
        print(f"spread {spread} ms, length {gate:.0%}: onsets {shares[0]:.1f} %, with durations {shares[1]:.1f} %: {mark}")
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
