#!/usr/bin/env python3
"""Compares the best bags of harps with HiGHS, a solver of integer programs (in scipy: Huangfu and Hall 2018).

    check_bags.py BIN

In twenty random books of 36 harps and up to 300 tunes (invented), HiGHS must find the same number of tunes for every
number of harps up to seven. In ten further books the harps have different prices. For bags of up to five harps, HiGHS
must find the same number of tunes for the price of each bag, and no more tunes just below the price of the next bag.
The choice of seven among 36 harps for 1,800 tunes must take at most a second, with one price and with many.
"""

import random
import sys
import time
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

import outside


def covered(harps, tunes, size, prices, money):
    """Returns the most tunes that up to `size` harps play for the money. The integer program has a variable x for each
    harp and y for each tune, and each y is at most the sum of the x whose harps play the tune."""
    columns = len(harps) + tunes
    matrix = lil_matrix((tunes + 2, columns))
    for harp, plays in enumerate(harps):
        for tune in plays:
            matrix[tune, harp] = 1
    for tune in range(tunes):
        matrix[tune, len(harps) + tune] = -1
    matrix[tunes, :len(harps)] = -1
    matrix[tunes + 1, :len(harps)] = -np.array(prices)
    lowest = np.concatenate([np.zeros(tunes), [-size, -money]])
    gain = np.concatenate([np.zeros(len(harps)), -np.ones(tunes)])
    answer = milp(gain, constraints=LinearConstraint(matrix.tocsr(), lb=lowest), bounds=Bounds(0, 1),
                  integrality=np.ones(columns), options={"mip_rel_gap": 0})
    return round(-answer.fun)


def book(tunes, dice):
    """Returns the tunes of each harp in a random book. A few harps near its key play each tune, as in real books."""
    harps = [[] for _ in range(36)]
    for tune in range(tunes):
        home = dice.choice([0, 0, 1, 1, 1, 2, 3, 5, 7, 10])
        for _ in range(dice.randint(0, 4)):
            near = (home + dice.choice([0, 0, 1, 2, 11])) % 12 + 12 * dice.choice([0, 0, 1, 2])
            if tune not in harps[near][-1:]:
                harps[near].append(tune)
    return harps


def check_prices(check, program, dice, prices):
    """Checks every bag: no bag for its price plays more tunes, and no bag below the price of the next one does
    either."""
    tunes = dice.randint(60, 200)
    harps = book(tunes, dice)
    answer, = outside.ask_all(program, [{"harps": harps, "most": 5, "prices": prices}])
    curve = list(zip([0] + answer["prices"], [0] + answer["tunes"]))
    check("every bag is exact", answer["tunes"] == answer["at_most"])
    for (price, plays), (after, _) in zip(curve, curve[1:] + [(sum(prices) + 1, None)]):
        best = {covered(harps, tunes, 5, prices, money) for money in (price, after - 1)}
        check(f"{tunes} tunes, for {after - 1}: {best}, not {plays}", best == {plays})


def main():
    check, _ = outside.start(sys.argv)
    program = str(Path(sys.argv[1]).resolve().parent / "examples" / "bags")
    dice = random.Random(7)
    books = [(tunes, book(tunes, dice)) for tunes in (dice.randint(60, 300) for _ in range(20))]
    answers = outside.ask_all(program, ({"harps": harps, "most": 7} for _, harps in books))
    for number, ((tunes, harps), answer) in enumerate(zip(books, answers)):
        for size, ours in enumerate(answer["tunes"], 1):
            check(f"book {number}, {size} harps", ours == answer["at_most"][size - 1] == covered(harps, tunes, size, [1] * 36, size))
    for prices in ([dice.randint(30, 60) for _ in range(36)] for _ in range(5)):
        check_prices(check, program, dice, prices)
    for few in ([dice.choice([38, 40, 55]) for _ in range(36)] for _ in range(5)):
        check_prices(check, program, dice, few)
    for prices in [1] * 36, [dice.randint(30, 60) for _ in range(36)], [38 + 2 * (harp % 12) for harp in range(36)]:
        begun = time.monotonic()
        outside.ask_all(program, [{"harps": book(1800, dice), "most": 7, "prices": prices}])
        check("the choice of seven among 36 harps for 1,800 tunes takes at most a second", time.monotonic() - begun < 1)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
