"""Reads all 12,978 tunes of the ABC files in music21 in the same way as `check_abc.py`; then measures time.

Reading all tunes and finding the best row of each must take at most five seconds on two cores. It must take no longer
than abc2midi takes to convert the same files, although abc2midi does not search for a harp.

    long_abc.py BIN
"""

import json
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import check_abc

LONGEST = 5.0


def speed(binary, check):
    program = Path(binary).resolve().parent / "examples" / "abc_tunes"
    run = subprocess.run([program, "--best", *check_abc.files()], capture_output=True, text=True, check=True)
    found = json.loads(run.stdout)
    print(f"  {found['tunes']} tunes, {found['rows']} with a best row, in {found['seconds']:.2f} s")
    check(f"all tunes are read and ranked in {LONGEST} s", found["tunes"] == 12_978 and found["seconds"] <= LONGEST)
    if not shutil.which("abc2midi"):
        return
    with tempfile.TemporaryDirectory() as folder:
        # abc2midi writes its output beside its input, so it reads copies.
        copies = [shutil.copy(path, Path(folder) / f"{number}.abc") for number, path in enumerate(check_abc.files())]
        started = time.monotonic()
        # Two processes run at a time, because the program works on both cores too.
        command = ["xargs", "-0", "-P", "2", "-n", "1", "abc2midi"]
        subprocess.run(command, input="\0".join(map(str, copies)), text=True, cwd=folder, capture_output=True)
        took = time.monotonic() - started
    print(f"  abc2midi converts them in {took:.2f} s; the ratio is {found['seconds'] / took:.2f}")
    check("reading and ranking take no longer than abc2midi", found["seconds"] <= took)


if __name__ == "__main__":
    checked = check_abc.main(sys.argv, step=1, examples=20)
    speed(sys.argv[1], checked)
    sys.exit(checked.finish())
