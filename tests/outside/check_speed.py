"""How long the whole command takes on a 32-bar tune, all twelve harps tried, as a process.

Usage: check_speed.py BREATHLINE

The bound is 20 ms for the median of 31 runs, a player's "at once"; the tune is demo/nets-on-the-railing (18 bars as
written, twice) with its repeats written out.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import mido

import outside

BOUND_MS = 20
TUNE = Path(__file__).resolve().parent.parent.parent / "demo" / "nets-on-the-railing.mid"


def written_out(path, folder):
    """The tune twice, so that it has at least 32 bars."""
    midi = mido.MidiFile(path)
    for index, track in enumerate(midi.tracks):
        played = [message for message in track if message.type != "end_of_track"]
        again = [message.copy() for message in played if not message.is_meta]
        bars = 18 * 4 * midi.ticks_per_beat
        length = sum(message.time for message in played)
        if again:
            again[0].time += max(0, bars - length)
        midi.tracks[index] = mido.MidiTrack([*played, *again])
    target = Path(folder) / "twice.mid"
    midi.save(target)
    return target


def main():
    check, breathline = outside.start(sys.argv)
    with tempfile.TemporaryDirectory() as folder:
        tune = written_out(TUNE, folder)
        bars = breathline("notes", tune)["notes"][-1]["bar"]
        check(f"the tune has at least 32 bars: {bars}", bars >= 32)
        times = []
        for _ in range(31):
            start = time.perf_counter()
            subprocess.run([sys.argv[1], "suggest", tune], check=True, stdout=subprocess.DEVNULL)
            times.append(1000 * (time.perf_counter() - start))
        median = statistics.median(times)
        print(f"  {min(times):.1f} to {max(times):.1f} ms, median {median:.1f} ms, bound {BOUND_MS} ms")
        check(f"the median is under {BOUND_MS} ms", median < BOUND_MS)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
