#!/usr/bin/env python3
"""The best bags of harps against HiGHS, a solver of integer programs (in scipy: Huangfu and Hall 2018).

    check_bags.py BIN

Twenty random books of 36 harps and up to 300 tunes (invented): for every size up to seven HiGHS must find as many tunes.
Then seven of 36 harps over 1,800 tunes must take at most a second.
"""

import random
import sys
import time
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

import outside


def covered(harps, tunes, size):
    """The most tunes of any `size` harps, as an integer program: harps x, tunes y, y at most the x that play it."""
    columns = len(harps) + tunes
    matrix = lil_matrix((tunes + 1, columns))
    for harp, plays in enumerate(harps):
        for tune in plays:
            matrix[tune, harp] = 1
    for tune in range(tunes):
        matrix[tune, len(harps) + tune] = -1
    matrix[tunes, :len(harps)] = -1
    lowest = np.concatenate([np.zeros(tunes), [-size]])
    gain = np.concatenate([np.zeros(len(harps)), -np.ones(tunes)])
    answer = milp(gain, constraints=LinearConstraint(matrix.tocsr(), lb=lowest), bounds=Bounds(0, 1),
                  integrality=np.ones(columns))
    return round(-answer.fun)


def book(tunes, dice):
    """Tunes lie on a few harps near their key, as real ones do."""
    harps = [[] for _ in range(36)]
    for tune in range(tunes):
        home = dice.choice([0, 0, 1, 1, 1, 2, 3, 5, 7, 10])
        for _ in range(dice.randint(0, 4)):
            near = (home + dice.choice([0, 0, 1, 2, 11])) % 12 + 12 * dice.choice([0, 0, 1, 2])
            if tune not in harps[near][-1:]:
                harps[near].append(tune)
    return harps


def main():
    check, _ = outside.start(sys.argv)
    program = str(Path(sys.argv[1]).resolve().parent / "examples" / "bags")
    dice = random.Random(7)
    books = [(tunes, book(tunes, dice)) for tunes in (dice.randint(60, 300) for _ in range(20))]
    answers = outside.ask_all(program, ({"harps": harps, "most": 7} for _, harps in books))
    for number, ((tunes, harps), answer) in enumerate(zip(books, answers)):
        for size, ours in enumerate(answer["tunes"], 1):
            check(f"book {number}, {size} harps", ours == answer["at_most"][size - 1] == covered(harps, tunes, size))
    begun = time.process_time(), time.monotonic()
    outside.ask_all(program, [{"harps": book(1800, dice), "most": 7}])
    check("seven of 36 harps over 1,800 tunes take at most a second", time.monotonic() - begun[1] < 1)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
