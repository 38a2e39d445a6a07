"""Fits the weights of src/melody/key/model.rs on the fiddle tunes that music21 carries, and prints them.

    python fit_key.py            fit on four fifths, print the figures and the Rust table
    python fit_key.py --cross    five-fold cross-validation as well

Every key (12 tonics times 7 modes) has the score: a weight times Pearson's correlation of the durations with the
mode's published profile, plus, for each of seven clues, the shares of the notes that the clue looks at, each
times the weight of the note's degree in the mode (eighth: not in the scale), plus the mode's habit, plus, with a
signature, what its distance costs. The weights maximise the logarithm of the probability that the softmax of
the scores gives to the key in the K: field (multinomial logistic regression with a quadratic penalty).
"""

import sys
from collections import defaultdict
from fractions import Fraction

import numpy as np
from scipy.optimize import minimize, minimize_scalar

import labelled_tunes as tunes
from labelled_tunes import MODES, SHARPS_FROM_MAJOR

COLLECTIONS = ["oneills1850", "ryansMammoth"]
# Albrecht and Shanahan, Music Perception 31(1), 2013.
MAJOR = [238, 6, 111, 6, 137, 94, 16, 214, 9, 80, 8, 81]
MINOR = [220, 6, 104, 123, 19, 103, 12, 214, 62, 22, 61, 52]
SCALE = [0, 2, 4, 5, 7, 9, 11]
CLUES = ["durations", "bar_starts", "first_stress", "first_bars", "last_bars", "ends", "approaches"]
# How much heavier a dorian or mixolydian tune weighs: they are one in thirty here, and elsewhere common.
MODAL = 3.0
# The quadratic penalty, in units of one tune.
PENALTY = 6.0
# What is assumed of signatures: this share is the key's own, this share is the C major that programs write when
# nobody said anything, the rest is a fifth or more off.
SIGNATURES = {"own": 0.90, "none": 0.06, "off": 0.04}
# The two forms of each degree from the second to the seventh, in semitones: what tells modes apart.
TWINS = [(1, 2), (3, 4), (5, 6), (6, 7), (8, 9), (10, 11)]
# A degree that takes less of the tune than about this share tells little.
FAINT = 0.03
HABITS = 1 + 8 * len(CLUES)
TELLING = HABITS + 6
COLUMNS = TELLING + 6
POINTS = 1024 / np.log(2)


def exchanged(profile, *lower):
    profile = list(profile)
    for i in lower:
        profile[i], profile[i + 1] = profile[i + 1], profile[i]
    return np.array(profile, float)


PROFILES = {
    "major": exchanged(MAJOR), "lydian": exchanged(MAJOR, 5), "mixolydian": exchanged(MAJOR, 10),
    "minor": exchanged(MINOR), "dorian": exchanged(MINOR, 8), "phrygian": exchanged(MINOR, 1),
    "locrian": exchanged(MINOR, 1, 6),
}


def degrees(mode):
    """The degree (0 to 6, 7 outside) of each semitone above the tonic, as a 12 x 8 matrix."""
    start = SCALE[MODES.index(mode)]
    scale = [(SCALE[(MODES.index(mode) + i) % 7] - start) % 12 for i in range(7)]
    return np.eye(8)[[scale.index(semitone) if semitone in scale else 7 for semitone in range(12)]]


DEGREES = {mode: degrees(mode) for mode in MODES}
KEYS = [(tonic, mode) for tonic in range(12) for mode in MODES]


def share(histogram):
    return histogram / histogram.sum() if histogram.sum() else histogram


def bar_full(tune):
    return Fraction(4 * tune.meter[0], tune.meter[1])


def is_full(tune, bar):
    return 4 * tune.bars[bar].length >= 3 * bar_full(tune)


def strains(tune, marks=True):
    """First and last note of each strain: a strain ends at a repeat or a double bar."""
    first = 0
    for i, (note, following) in enumerate(zip(tune.notes, tune.notes[1:])):
        if marks and following.bar != note.bar:
            passed = tune.bars[note.bar:following.bar]
            if any(b.repeat_end or b.section_end for b in passed) or tune.bars[following.bar].repeat_start:
                yield first, i
                first = i + 1
    yield first, len(tune.notes) - 1


def clues(tune, marks=True):
    """The shares of the twelve notes for each clue."""
    found = {clue: np.zeros(12) for clue in CLUES}
    notes = tune.notes
    for note in notes:
        found["durations"][note.midi % 12] += float(note.duration)
    starts = [n for n in notes if n.onset == tune.bars[n.bar].start and is_full(tune, n.bar)]
    for note in starts:
        found["bar_starts"][note.midi % 12] += 1
    found["first_stress"][(starts or notes)[0].midi % 12] = 1
    for first, last in strains(tune, marks):
        strain = notes[first:last + 1]
        opening = next((n.bar for n in strain if is_full(tune, n.bar)), strain[0].bar)
        for name, bar in (("first_bars", opening), ("last_bars", strain[-1].bar)):
            histogram = np.zeros(12)
            for note in strain:
                if note.bar == bar:
                    histogram[note.midi % 12] += float(note.duration)
            found[name] += share(histogram)
        end = notes[last]
        found["ends"][end.midi % 12] += 1
        before = next((n for n in reversed(strain) if n.midi % 12 != end.midi % 12), None)
        if before is not None:
            found["approaches"][before.midi % 12] += 1
    return {clue: share(histogram) for clue, histogram in found.items()}


def features(tune, marks=True):
    """84 rows (keys), the columns: correlation, clue x degree, habit of six modes, telling degrees."""
    found = clues(tune, marks)
    rows = np.zeros((84, COLUMNS), np.float32)
    for row, (tonic, mode) in zip(rows, KEYS):
        turned = {clue: np.roll(found[clue], -tonic) for clue in CLUES}
        row[0] = np.corrcoef(turned["durations"], PROFILES[mode])[0, 1]
        for i, clue in enumerate(CLUES):
            row[1 + 8 * i:9 + 8 * i] = turned[clue] @ DEGREES[mode]
        if mode != "major":
            row[HABITS + MODES.index(mode) - 1] = 1
        durations = turned["durations"]
        for i, (low, high) in enumerate(TWINS):
            here, twin = (low, high) if DEGREES[mode][low][i + 1] else (high, low)
            row[TELLING + i] = (durations[here] - durations[twin]) / (durations[here] + durations[twin] + FAINT)
    return rows


def signature_offsets(sharps):
    """The logarithm of the assumed probability of a signature under each of the 84 keys."""
    offsets = []
    for tonic, mode in KEYS:
        apart = (sharps - 7 * tonic - SHARPS_FROM_MAJOR[mode]) % 12
        fifths = min(apart, 12 - apart)
        chance = SIGNATURES["own"] if fifths == 0 else SIGNATURES["off"] * (0.6 / 2 if fifths == 1 else 0.4 / 9)
        offsets.append(np.log(chance + (SIGNATURES["none"] if sharps == 0 else 0)))
    return np.array(offsets)


def probabilities(x, weights, offsets=0.0):
    scores = x @ weights + offsets
    scores = np.exp(scores - scores.max(1, keepdims=True))
    return scores / scores.sum(1, keepdims=True)


def fit(x, offsets, truth, heavy, penalty=PENALTY):
    """The weights that explain the tunes best, each tune once without and once with its signature."""
    rows, flat = np.arange(len(x)), x.reshape(-1, x.shape[2])

    def loss(weights):
        total, slope = penalty * weights @ weights / 2, penalty * weights
        scores = (flat @ weights.astype(np.float32)).astype(float).reshape(x.shape[:2])
        for offset in (0.0, offsets):
            p = np.exp(scores + offset - (scores + offset).max(1, keepdims=True))
            p /= p.sum(1, keepdims=True)
            total -= heavy @ np.log(p[rows, truth] + 1e-300) / 2
            p *= heavy[:, None]
            p[rows, truth] -= heavy
            slope = slope + p.reshape(-1).astype(np.float32) @ flat / 2
        return total, slope

    return minimize(loss, np.zeros(x.shape[2]), jac=True, method="L-BFGS-B", options={"maxiter": 300}).x


def sharpness(x, offsets, truth, weights):
    """By how much the points must grow so that the odds come true: the fit's heavy tunes and penalty blur them."""
    rows = np.arange(len(x))

    def loss(factor):
        chances = [probabilities(x, factor * weights, offset)[rows, truth] for offset in (0.0, offsets)]
        return -sum(np.log(chance + 1e-300).sum() for chance in chances)

    return minimize_scalar(loss, bounds=(0.5, 3), method="bounded").x


def figures(tunes, chances, title):
    """One line: how many tonics and keys are right, by book and by mode."""
    best = [KEYS[i] for i in chances.argmax(1)]
    tonic = np.array([key[0] == tune.tonic for key, tune in zip(best, tunes)])
    exact = np.array([key == tune.key() for key, tune in zip(best, tunes)])
    book = np.array([tune.collection for tune in tunes])
    mode = np.array([tune.mode for tune in tunes])
    modal = np.isin(mode, ["dorian", "mixolydian"])
    parts = [f"{name} {100 * hit[which].mean():5.1f}" for name, hit, which in (
        ("tonic O'Neill", tonic, book == "oneills1850"), ("Ryan", tonic, book == "ryansMammoth"),
        ("dorian+mixolydian", tonic, modal), ("minor", tonic, mode == "minor"),
        ("| key O'Neill", exact, book == "oneills1850"), ("Ryan", exact, book == "ryansMammoth"),
        ("dorian+mixolydian+minor", exact, modal | (mode == "minor")))]
    print(f"{title:24}", *parts)


def calibration(tunes, chances, title):
    sure = chances.max(1)
    right = np.array([KEYS[i] == tune.key() for i, tune in zip(chances.argmax(1), tunes)])
    print(title)
    for low, high in ((0, 50), (50, 70), (70, 85), (85, 95), (95, 99), (99, 101)):
        here = (100 * sure >= low) & (100 * sure < high)
        if here.any():
            print(f"  said {low:2}-{min(high, 100):3}%: {here.sum():5} tunes, mean {100 * sure[here].mean():5.1f},"
                  f" right {100 * right[here].mean():5.1f}")


def rust(weights):
    points = np.rint(weights * POINTS).astype(int)
    print(f"const CORRELATION: i64 = {points[0]};")
    for i, clue in enumerate(CLUES):
        print(f"{clue}: {list(map(int, points[1 + 8 * i:9 + 8 * i]))},")
    print(f"habit: {[0, *map(int, points[HABITS:TELLING])]}\ntelling: {list(map(int, points[TELLING:]))}")
    own, none, off = SIGNATURES["own"], SIGNATURES["none"], SIGNATURES["off"]
    for name, chance, base in (("a fifth off", off * 0.3, own), ("further", off * 0.4 / 9, own),
                               ("no sharps, a fifth off", none + off * 0.3, own + none),
                               ("no sharps, further", none + off * 0.4 / 9, own + none)):
        print(f"signature {name}: {round(float(np.log(chance / base) * POINTS))}")


def main():
    tunes_read = [tune for name in COLLECTIONS for tune in tunes.collection(name)]
    fold = np.array(tunes.folds(tunes_read))
    x = np.array([features(tune) for tune in tunes_read])
    offsets = np.array([signature_offsets(tune.sharps) for tune in tunes_read])
    nothing = np.array([signature_offsets(0)] * len(tunes_read))
    truth = np.array([KEYS.index(tune.key()) for tune in tunes_read])
    heavy = np.array([MODAL if tune.mode in ("dorian", "mixolydian") else 1.0 for tune in tunes_read])
    crossed = {name: np.zeros((len(x), 84)) for name in ("notes alone", "with signature", "signature of C")}
    for held in range(5 if "--cross" in sys.argv else 1):
        known, asked = fold != held, fold == held
        weights = fit(x[known], offsets[known], truth[known], heavy[known])
        weights *= sharpness(x[known], offsets[known], truth[known], weights)
        for name, offset in zip(crossed, (0.0, offsets[asked], nothing[asked])):
            crossed[name][asked] = probabilities(x[asked], weights, offset)
        if held == 0:
            rust(weights)
    asked = np.isin(fold, range(5 if "--cross" in sys.argv else 1))
    asked_tunes = [tune for tune, yes in zip(tunes_read, asked) if yes]
    for name, chances in crossed.items():
        figures(asked_tunes, chances[asked], name)
    for name in ("notes alone", "with signature"):
        calibration(asked_tunes, crossed[name][asked], name)


if __name__ == "__main__":
    main()
