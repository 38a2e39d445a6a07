"""Fits the weights of key finding and writes them to src/melody/key/weights.rs.

    python fit_key.py              makes the model file from scratch
    python fit_key.py --ablation   prints the results without each group of clues, for README-key.md

The program `key_clues` counts the clues with the library's own code; this script only fits their weights. The score of
a key (12 tonics in major, minor, Dorian, Mixolydian) is a sum of four terms: for each row of shares, the shares rotated
to the tonic times twelve weights, one set for modes with a major third and one for modes with a minor third; five
weights times Pearson's correlation of the durations with the published profiles; six weights times the evidence of the
degrees for the mode; and the mode's habit, a weight for how common the mode is. The softmax of the scores gives
probabilities. The fit maximises the log-probability of the right tonic, summed over its modes, and of the right mode
under this tonic if the collection names the mode (conditional logit, quadratic penalty).

Tunes of eight bars or more have one table of weights, shorter stretches another. Each tune is fitted as several inputs:
with its bars and strains, without them, its first strain alone, and a random cut.
"""

import json
import random
import re
import subprocess
import sys
import zlib
from fractions import Fraction
from pathlib import Path

import numpy as np
from scipy.optimize import minimize, minimize_scalar

import labelled_tunes as tunes
from labelled_tunes import SHARPS_FROM_MAJOR

ROOT = Path(__file__).resolve().parents[2]
MODEL = ROOT / "src" / "melody" / "key" / "weights.rs"
COLLECTIONS = ["oneills1850", "ryansMammoth"]
UNITS = 20160
MODES = ["major", "minor", "dorian", "mixolydian"]
HAS_MINOR_THIRD = np.array([0, 1, 1, 0])
# The rows of shares, in the order of src/melody/key/shares.rs.
ROWS = ["durations", "last note", "ends of strains", "approaches", "first bars", "last bars", "first stress", "lowest",
        "highest"]
# The least number of bars of a whole tune; shorter stretches are fragments. Also in src/melody/key/clues.rs.
LONG_ENOUGH = 8
# The number of signs of a first downbeat. Also in src/melody/key/table.rs.
SIGNS = 12
# Published profiles, major and minor, from the tonic up, as in the reference libraries music21 10.5.1, partitura 1.9.0
# and AMADS 1.4.0.
PROFILES = {
    # J. Albrecht and D. Shanahan, Music Perception 31(1), 2013.
    "Albrecht-Shanahan": ([.238, .006, .111, .006, .137, .094, .016, .214, .009, .080, .008, .081],
                          [.220, .006, .104, .123, .019, .103, .012, .214, .062, .022, .061, .052]),
    # C. Krumhansl and E. Kessler, Psychological Review 89, 1982.
    "Krumhansl-Kessler": ([6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88],
                          [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17]),
    # H. Bellman, About the Determination of Key of a Musical Excerpt, 2005, after H. Budge.
    "Bellman-Budge": ([16.80, .86, 12.95, 1.41, 13.49, 11.93, 1.25, 20.28, 1.80, 8.04, .62, 10.57],
                      [18.16, .69, 12.99, 13.34, 1.07, 11.15, 1.38, 21.07, 7.49, 1.53, .92, 10.21]),
    # D. Temperley, Music and Probability, 2007, after S. Kostka and D. Payne.
    "Temperley": ([.748, .060, .488, .082, .670, .460, .096, .715, .104, .366, .057, .400],
                  [.712, .084, .474, .618, .049, .460, .105, .747, .404, .067, .133, .330]),
    # B. Aarden, Dynamic Melodic Expectancy, thesis, Ohio State University, 2003.
    "Aarden-Essen": ([17.7661, .145624, 14.9265, .160186, 19.8049, 11.3587, .291248, 22.062, .145624, 8.15494, .232998,
                      4.95122],
                     [18.2648, .737619, 14.0499, 16.8599, .702494, 14.4362, .702494, 18.6161, 4.56621, 1.93186, 7.37619,
                      1.75623]),
}
# The two forms of each degree from the second to the seventh, in semitones, and whether each mode has the lower form.
TWINS = [(1, 2), (3, 4), (5, 6), (6, 7), (8, 9), (10, 11)]
HAS_LOWER = np.array([[0, 0, 1, 0, 0, 0], [0, 1, 1, 0, 1, 1], [0, 1, 1, 0, 0, 1], [0, 0, 1, 0, 0, 1]], bool)
# A degree that fills less than about this share of the tune says little about the mode.
FAINT = 0.03
# The weight of the first strain's shares; the whole tune's shares have the remaining weight. HALF_VOTE is for the first
# half of a tune without strains.
VOTE, HALF_VOTE = 0.5, 0.15
# The weight of a Dorian or Mixolydian tune for its tonic, and for its mode: only one fiddle tune in thirty has such a
# mode.
MODAL_TONIC, MODAL_MODE = 6.0, 4.0
# The quadratic penalty of each table, in units of one tune. The habits have a smaller penalty, because many tunes show
# how common each mode is.
PENALTY, HABIT_PENALTY = (20.0, 2.0), 1.0
# The weights of each way of writing a tune, for fiddle tunes and for songs: in the table of whole tunes, then in the
# table of fragments. The first half of a song seldom rests on the tonic, and few people look for its key.
COPIES = {
    "bars": ((0.5, 0.5), (0.5, 0.7)),
    "no bars": ((0.5, 0.5), (0.5, 0.7)),
    "strain": ((0.3, 0.02), (0.3, 0.3)),
    "cut, no bars": ((0.1, 0.03), (0.3, 0.3)),
}
# Further ways of writing a tune, which are only tested.
ASKED = ["repeats written out, no bars", "no meter", "strain, no bars", "cut"]
# The assumed shares of signatures: the key's own; the C major that programs write when nobody states a key; a signature
# that is a fifth or more off.
SIGNATURES = {"own": 0.90, "none": 0.06, "off": 0.04}
POINTS = 1024 / np.log(2)


# Reading: tunes, their copies, and the clues that the program counts in them.

def is_full(tune, bar):
    return 4 * tune.bars[bar].length >= 3 * Fraction(4 * tune.meter[0], tune.meter[1])


def strains(tune):
    """Yields the first and the last note of each strain, by index. A strain ends at a repeat sign, a double bar
    or a da capo."""
    first = 0
    for i, (note, following) in enumerate(zip(tune.notes, tune.notes[1:])):
        if following.bar != note.bar:
            passed = tune.bars[note.bar:following.bar]
            if any(b.repeat_end or b.section_end or b.da_capo for b in passed) or tune.bars[following.bar].repeat_start:
                yield first, i
                first = i + 1
    yield first, len(tune.notes) - 1


def written(tune, notes, marks=True):
    """Returns some of a tune's notes as a line for `key_clues`, with the bars of the file."""
    ends = {tune.notes[last].bar for _, last in strains(tune)} if marks else set()
    bars = [[int(bar.start * UNITS), int(bar.length * UNITS), index in ends] for index, bar in enumerate(tune.bars)]
    return {"meter": tune.meter, "counted": False, "sharps": None, "bars": bars,
            "notes": [[int(n.onset * UNITS), int(n.duration * UNITS), n.midi, n.bar] for n in notes]}


def counted(meter, times):
    """Returns onsets, durations and MIDI numbers as a line for `key_clues`, with bars counted from the first note, as
    for a MIDI file."""
    bar = int(Fraction(4 * meter[0], meter[1]) * UNITS)
    start = times[0][0]
    notes = [[int((onset - start) * UNITS), int(length * UNITS), midi] for onset, length, midi in times]
    notes = [[*note, note[0] // bar] for note in notes]
    bars = [[bar * index, bar, False] for index in range(notes[-1][3] + 1)]
    return {"meter": meter, "counted": True, "sharps": None, "bars": bars, "notes": notes}


def played(tune):
    """Returns onset, duration and MIDI number of each note, with the repeats played."""
    order, start, i, again = [], 0, 0, False
    while i < len(tune.bars) and len(order) < 4 * len(tune.bars):
        bar = tune.bars[i]
        last_of_ending = i + 1 == len(tune.bars) or not tune.bars[i + 1].ending
        if bar.repeat_start and not again:
            start = i
        if again and bar.ending == "1":
            i += 1
            continue
        order.append(i)
        if bar.repeat_end and not again:
            again, i = True, start
            continue
        if again and (bar.repeat_end or bar.section_end or bar.ending) and last_of_ending:
            again, start = False, i + 1
        elif not again and bar.section_end:
            start = i + 1
        i += 1
    by_bar, times, at = {}, [], Fraction(0)
    for note in tune.notes:
        by_bar.setdefault(note.bar, []).append(note)
    for index in order:
        start = tune.bars[index].start
        times += [(at + note.onset - start, note.duration, note.midi) for note in by_bar.get(index, [])]
        at += tune.bars[index].length
    return times


def first_strain(tune):
    """Returns the notes up to the first end of a strain after ten notes or more. Without such an end, returns the first
    half of the tune, or the whole tune if this half has fewer than six notes."""
    for _, last in strains(tune):
        if 9 <= last < len(tune.notes) - 1:
            return tune.notes[:last + 1]
    bar = Fraction(4 * tune.meter[0], tune.meter[1])
    start, end = tune.notes[0].onset, tune.notes[-1].onset + tune.notes[-1].duration
    middle = start + round(float((end - start) / bar)) // 2 * bar
    half = [note for note in tune.notes if note.onset < middle]
    return half if len(half) >= 6 else tune.notes


def cut(tune):
    """Returns 12 to 40 successive notes from a random place, the same in every run, or all notes of a tune with fewer
    than 12."""
    chance = random.Random(zlib.crc32((tune.collection + tune.number + tune.title).encode()))
    length = chance.randint(min(12, len(tune.notes)), min(40, len(tune.notes)))
    start = chance.randint(0, len(tune.notes) - length)
    return tune.notes[start:start + length]


def copies(tune):
    """Returns every way of writing the tune, as lines for `key_clues`."""
    def bare(notes, meter=tune.meter):
        return counted(meter, [(note.onset, note.duration, note.midi) for note in notes])

    strain, part = first_strain(tune), cut(tune)
    return {
        "bars": written(tune, tune.notes),
        "no bars": bare(tune.notes),
        "strain": written(tune, strain, marks=False),
        "cut, no bars": bare(part),
        "repeats written out, no bars": counted(tune.meter, played(tune)),
        "no meter": bare(tune.notes, (4, 4)),
        "strain, no bars": bare(strain),
        "cut": written(tune, part, marks=False),
    }


def ask(program, lines):
    """Returns the answer of `key_clues` to each line."""
    text = "\n".join(map(json.dumps, lines))
    done = subprocess.run([program], input=text, capture_output=True, text=True, check=True)
    return [json.loads(line) for line in done.stdout.splitlines()]


class Input:
    """Many tunes written in one way: the clues that `key_clues` counts in them, rotated to every tonic."""

    def __init__(self, answers):
        self.answers = answers
        self.bars = np.array([answer["bars"] for answer in answers])
        halved = np.array([answer["halved"] for answer in answers])
        whole = np.array([answer["whole"] for answer in answers], float).reshape(-1, len(ROWS), 12)
        opens = np.array([answer["opening"] is not None for answer in answers])
        opening = np.array([answer["opening"] or answer["whole"] for answer in answers], float).reshape(whole.shape)
        vote = np.where(opens, np.where(halved, HALF_VOTE, VOTE), 0.0)[:, None, None]
        self.whole = turned(whole)
        self.voted = turned((1 - vote) * whole + vote * opening)
        self.last = whole[:, ROWS.index("last note")].argmax(1)
        self.durations = whole[:, ROWS.index("durations")]


def roll(rows):
    """Rotates twelve shares from C up to every tonic: (..., 12) becomes (..., 12 tonics, 12 semitones above it)."""
    return rows[..., (np.arange(12)[:, None] + np.arange(12)) % 12]


def unit(profile):
    profile = np.array(profile, float)
    profile = profile - profile.mean(-1, keepdims=True)
    return profile / np.maximum(np.linalg.norm(profile, axis=-1, keepdims=True), 1e-9)


def of_mode(major, minor, mode):
    """Returns the profile of a mode. For Dorian and Mixolydian, it exchanges the two notes in which they differ from
    minor and major."""
    profile = np.array(minor if HAS_MINOR_THIRD[MODES.index(mode)] else major, float)
    for name, lower in (("dorian", 8), ("mixolydian", 10)):
        if mode == name:
            profile[[lower, lower + 1]] = profile[[lower + 1, lower]]
    return profile


MODE_PROFILES = np.array([[unit(of_mode(*pair, mode)) for pair in PROFILES.values()] for mode in MODES])


def turned(counts):
    """Returns two arrays: the shares, by tune, tonic, and row and semitone; and the other clues (correlations, evidence
    of the degrees, habits), by tune, tonic, mode and clue."""
    rolled = roll(counts / 4096)
    rows = rolled.transpose(0, 2, 1, 3).reshape(len(counts), 12, -1).astype(np.float32)
    durations = rolled[:, 0]
    correlations = np.einsum("nts,mps->ntmp", unit(durations), MODE_PROFILES)
    low, high = (durations[:, :, [pair[i] for pair in TWINS]] for i in (0, 1))
    telling = ((low - high) / (low + high + FAINT))[:, :, None] * np.where(HAS_LOWER, 1, -1)
    habits = np.broadcast_to(np.eye(4)[:, 1:], (len(counts), 12, 4, 3))
    return rows, np.concatenate([correlations, telling, habits], 3).astype(np.float32)


# The model.

def scores(weights, rows, others):
    """Returns the scores, by tune, tonic and mode."""
    weights = weights.astype(np.float32)
    k = rows.shape[2]
    return (rows @ weights[:2 * k].reshape(2, k).T)[:, :, HAS_MINOR_THIRD] + others @ weights[2 * k:]


def softmax(points):
    points = np.exp(points - points.max((1, 2), keepdims=True))
    return points / points.sum((1, 2), keepdims=True)


def fit(rows, others, tonic, mode, heavy, heavy_mode, penalty):
    """Returns the weights that best explain the tonics, and the modes under the right tonic; -1 is an unknown mode."""
    k, each = rows.shape[2], np.arange(len(rows))
    is_mode = (mode[:, None] == np.arange(4)).astype(float)
    heavy_mode = heavy_mode * (mode >= 0)
    flat_rows, flat_others = rows.reshape(-1, k), others.reshape(-1, others.shape[3])
    penalties = np.full(2 * k + others.shape[3], penalty)
    penalties[-3:] = HABIT_PENALTY
    # In these units every weight has the same penalty, which makes the search short.
    units = 1 / np.sqrt(penalties)

    def loss(place):
        # The sums have double precision, so that the search ends at the same weights with one thread and with two.
        chances = softmax(scores(place * units, rows, others).astype(float))
        right = chances[each, tonic]
        on_tonic = np.maximum(right.sum(1), 1e-30)
        under = right / on_tonic[:, None]
        named = np.where(mode >= 0, np.maximum((under * is_mode).sum(1), 1e-30), 1)
        total = -heavy @ np.log(on_tonic) - heavy_mode @ np.log(named)
        slope = chances * heavy[:, None, None]
        slope[each, tonic] += heavy_mode[:, None] * (under - is_mode) - heavy[:, None] * under
        slope = slope.astype(np.float32)
        by_third = np.stack([slope[:, :, HAS_MINOR_THIRD == third].sum(2).ravel() for third in (0, 1)])
        slope = np.concatenate([(by_third @ flat_rows).ravel(), slope.ravel() @ flat_others])
        return total + place @ place / 2, slope.astype(float) * units + place

    return minimize(loss, np.zeros(len(units)), jac=True, method="L-BFGS-B", options={"maxiter": 150}).x * units


class Labels:
    """The editors' keys, and masks for groups of tunes."""

    def __init__(self, read):
        self.tonic = np.array([tune.tonic for tune in read])
        self.song = np.array([tune.collection == "essenFolksong" for tune in read])
        # The collection of songs says "major" for every tune, so its mode is unknown.
        known = [MODES.index(t.mode) if t.mode in MODES and not (song and t.mode == "major") else -1
                 for t, song in zip(read, self.song)]
        self.mode = np.array(known)
        self.modal = np.array([tune.mode in ("dorian", "mixolydian") for tune in read])
        self.minor = np.array([tune.mode == "minor" for tune in read]) & ~self.song
        self.sharps = np.array([tune.sharps for tune in read])
        self.book = np.array([tune.collection for tune in read])
        self.fold = np.array(tunes.folds(read))


def fit_tables(inputs, labels, which, groups=None):
    """Returns the two tables of weights, for whole tunes and for fragments, fitted on the tunes of the mask `which`."""
    tables = []
    for table in (0, 1):
        parts = []
        for name, shares in COPIES.items():
            share = np.where(labels.song, shares[table][1], shares[table][0])
            short = inputs[name].bars[:, 0] < LONG_ENOUGH
            mine = np.flatnonzero(which & (short == bool(table)) & (share > 0))
            rows, others = inputs[name].whole
            rows, others = rows[mine], others[mine]
            if groups is not None:
                rows, others = rows * groups[0], others * groups[1]
            heavy = share[mine] * np.where(labels.modal[mine], MODAL_TONIC, 1)
            heavy_mode = share[mine] / 2 * np.where(labels.modal[mine], MODAL_MODE, 1)
            parts.append((rows, others, labels.tonic[mine], labels.mode[mine], heavy, heavy_mode))
        tables.append(fit(*(np.concatenate(part) for part in zip(*parts)), PENALTY[table]))
    return tables


def points(tables, one):
    """Returns the scores of the voted shares, by tune, tonic and mode."""
    whole, short = (scores(table, *one.voted) for table in tables)
    return np.where(one.bars[:, :1, None] < LONG_ENOUGH, short, whole)


def signature_offsets(sharps):
    """Returns the logarithm of the assumed probability of each signature under each key, by tune, tonic and mode."""
    tonics = 7 * np.arange(12)[:, None] + np.array([SHARPS_FROM_MAJOR[mode] for mode in MODES])
    apart = (sharps[:, None, None] - tonics) % 12
    fifths = np.minimum(apart, 12 - apart)
    own, none, off = (SIGNATURES[name] for name in ("own", "none", "off"))
    chance = np.where(fifths == 0, own, off * np.where(fifths == 1, 0.6 / 2, 0.4 / 9))
    return np.log(chance + np.where(sharps == 0, none, 0)[:, None, None])


def sharpness(parts):
    """Returns the factor for the points that calibrates the odds, from (points, offsets, tonic, mode) of many tunes."""
    def loss(factor):
        total = 0.0
        for score, offset, tonic, mode in parts:
            right = softmax(factor * score + offset)[np.arange(len(tonic)), tonic]
            # Half of the loss is for the tonic, and half for the key if the mode is known.
            total -= np.log(right.sum(1) + 1e-300).sum()
            known = np.flatnonzero(mode >= 0)
            total -= np.log(right[known, mode[known]] + 1e-300).sum()
        return total

    return float(minimize_scalar(loss, bounds=(0.3, 3), method="bounded").x)


def sharpnesses(crossed, inputs, labels):
    """Returns the sharpness for whole tunes and for fragments without a signature, and for tunes with their signature,
    from points out of fold."""
    def parts(names, which):
        return [(crossed[n][which(n)], 0.0, labels.tonic[which(n)], labels.mode[which(n)]) for n in names]

    def is_short(name):
        return inputs[name].bars[:, 0] < LONG_ENOUGH

    fiddle = ~labels.song
    signed = [(crossed[name][fiddle], signature_offsets(labels.sharps[fiddle]), labels.tonic[fiddle], labels.mode[fiddle])
              for name in ("bars", "no bars")]
    return {
        "ALONE": sharpness(parts(("bars", "no bars"), lambda name: ~is_short(name))),
        "FRAGMENTS_ALONE": sharpness(parts(("strain", "cut, no bars"), is_short)),
        "SIGNED": sharpness(signed),
    }


def cross(inputs, labels, groups=None, folds=range(5)):
    """Returns the points of every input out of fold, from tables that were fitted on the other folds, and these
    tables."""
    crossed = {name: np.zeros((len(labels.tonic), 12, 4)) for name in inputs}
    tables = []
    for held in folds:
        tables.append(fit_tables(inputs, labels, labels.fold != held, groups))
        for name, one in inputs.items():
            mine = labels.fold == held
            crossed[name][mine] = points(tables[-1], one)[mine]
    return crossed, tables


# The grid: which of the possible pickups is the real one.

def fit_grid(program, read, lines_of):
    """Returns the weights of the signs of a first downbeat, fitted on whole tunes and on cuts."""
    signs, real = [], []
    for name in ("no bars", "cut, no bars"):
        lines = [lines[name] for lines in lines_of]
        kept = [tune.notes if name == "no bars" else cut(tune) for tune in read]
        for tune, notes, answer in zip(read, kept, ask(program, lines)):
            bar = int(Fraction(4 * tune.meter[0], tune.meter[1]) * UNITS)
            full = [int((n.onset - notes[0].onset) * UNITS) % bar for n in notes
                    if is_full(tune, n.bar) and n.onset == tune.bars[n.bar].start]
            pickups = [candidate[0] for candidate in answer["pickups"]]
            pickup = max(set(full), key=lambda place: (full.count(place), -place), default=None)
            if pickup in pickups:
                signs.append(np.array([candidate[1:] for candidate in answer["pickups"]]) / 4096)
                real.append(pickups.index(pickup))
    most = max(map(len, signs))
    table = np.zeros((len(signs), most, signs[0].shape[1]))
    absent = np.full((len(signs), most), -1e9)
    for i, one in enumerate(signs):
        table[i, :len(one)], absent[i, :len(one)] = one, 0
    each = np.arange(len(real))

    def loss(weights):
        score = table @ weights + absent
        chance = np.exp(score - score.max(1, keepdims=True))
        chance /= chance.sum(1, keepdims=True)
        slope = (chance[..., None] * table).sum((0, 1)) - table[each, real].sum(0)
        return -np.log(chance[each, real] + 1e-300).sum() + weights @ weights / 2, slope + weights

    weights = minimize(loss, np.zeros(table.shape[2]), jac=True, method="L-BFGS-B").x
    right = ((table @ weights + absent).argmax(1) == real).mean()
    print(f"first downbeats: {100 * right:.1f} of 100 are found; {len(real)} tunes and cuts")
    return weights


# Writing the model file.

def rust_numbers(values):
    return "[" + ", ".join(str(int(value)) for value in np.rint(values)) + "]"


def rust_table(name, weights):
    k = 12 * len(ROWS)
    rows = weights[:2 * k].reshape(2, len(ROWS), 12) * POINTS
    correlations, telling, habits = np.split(weights[2 * k:], [len(PROFILES), len(PROFILES) + len(TWINS)])
    profiles = [sum(w * unit(pair[third]) for w, pair in zip(correlations, PROFILES.values())) for third in (0, 1)]
    lines = [f"pub(super) const {name}: Table = Table {{", "    rows: ["]
    for third in rows:
        lines += ["        [", *(f"            {rust_numbers(row)}," for row in third), "        ],"]
    lines += ["    ],", "    profiles: [", *(f"        {rust_numbers(p * POINTS)}," for p in profiles), "    ],",
              f"    telling: {rust_numbers(telling * POINTS)},", f"    habits: {rust_numbers([0, *habits * POINTS])},", "};"]
    return "\n".join(lines)


def write_model(grid, tables, sharp):
    width = 12 * len(ROWS) * 2 + len(PROFILES) + len(TWINS) + 3
    tables = tables or [np.zeros(width)] * 2
    notes = {
        "ALONE": "The factor for the points of whole tunes without a signature, in 1024ths; it calibrates the odds.",
        "FRAGMENTS_ALONE": "The same factor for shorter stretches without a signature.",
        "SIGNED": "The same factor for whole tunes with a signature.",
    }
    text = [
        "//! The weights of key finding, in points. `tests/outside/fit_key.py` writes this file; do not edit it.\n",
        "use super::table::{SIGNS, Table};\n",
        "/// The points for each sign of a first downbeat.",
        f"pub(super) const GRID: [i64; SIGNS] = {rust_numbers(grid * 100)};\n",
        *(f"/// {note}\npub(super) const {name}: i64 = {round(1024 * sharp[name])};\n" for name, note in notes.items()),
        "/// The weights for tunes of eight bars or more.", rust_table("TUNE", tables[0]),
        "\n/// The weights for shorter stretches.", rust_table("FRAGMENT", tables[1]), "",
    ]
    MODEL.write_text("\n".join(text), "utf-8")
    subprocess.run(["cargo", "fmt"], cwd=ROOT, check=True)


def numbers(text):
    """Returns the whole numbers in a piece of the model file, except numbers in names."""
    return np.array([int(number) for number in re.findall(r"(?<![\w.])-?\d+\b", text)])


def constant(name):
    """Returns the value of a constant in the model file."""
    return int(re.search(rf"const {name}: i64 = (-?\d+);", MODEL.read_text("utf-8"))[1])


def build():
    """Builds `key_clues` with the present model file, and returns its path."""
    subprocess.run(["cargo", "build", "--quiet", "--example", "key_clues"], cwd=ROOT, check=True)
    return ROOT / "target" / "debug" / "examples" / "key_clues"


def read_inputs(program, lines_of, names):
    """Returns an `Input` for each of the named ways of writing the tunes."""
    return {name: Input(ask(program, [lines[name] for lines in lines_of])) for name in names}


def read_tunes():
    return [tune for name in COLLECTIONS for tune in tunes.collection(name)] + list(tunes.songs())


def right(chances, labels, which):
    """Returns the percentage of right tonics, and of right keys among the tunes whose mode is known."""
    tonic = chances.sum(2).argmax(1)
    mode = chances[np.arange(len(tonic)), tonic].argmax(1)
    hit = tonic == labels.tonic
    known = which & (labels.mode >= 0)
    return 100 * hit[which].mean(), 100 * (hit & (mode == labels.mode))[known].mean()


def ablation(inputs, labels):
    """Prints the percentage of right tonics without each group of clues, on two folds."""
    all_rows, all_others = np.ones(12 * len(ROWS), np.float32), np.ones(len(PROFILES) + len(TWINS) + 3, np.float32)
    cases = [("all", (all_rows, all_others))]
    for names in (["durations"], ["last note", "ends of strains", "approaches", "last bars"], ["first bars", "first stress"],
                  ["lowest", "highest"]):
        rows = all_rows.copy()
        for name in names:
            rows[12 * ROWS.index(name):][:12] = 0
        cases.append((", ".join(names), (rows, all_others)))
    for name, start, end in (("profiles", 0, 5), ("telling degrees", 5, 11), ("habits", 11, 14)):
        others = all_others.copy()
        others[start:end] = 0
        cases.append((name, (all_rows, others)))
    some = {name: inputs[name] for name in COPIES}
    held = labels.fold < 2
    print(f"{'without':48}" + "".join(f"{name:>12}" for name in ("O'Neill", "Ryan", "songs", "modal", "minor", "fragments")))
    for name, groups in cases:
        crossed, _ = cross(some, labels, groups, folds=range(2))
        chances = {key: softmax(value) for key, value in crossed.items()}
        cells = [right(chances["no bars"], labels, held & which)[0] for which in (
            labels.book == "oneills1850", labels.book == "ryansMammoth", labels.song, labels.modal, labels.minor)]
        cells.append(right(chances["cut, no bars"], labels, held)[0])
        print(f"{name:48}" + "".join(f"{cell:12.1f}" for cell in cells), flush=True)


def main():
    read = read_tunes()
    labels, lines_of = Labels(read), [copies(tune) for tune in read]
    if "--ablation" in sys.argv:
        ablation(read_inputs(build(), lines_of, COPIES), labels)
        return
    # The first model file has only zeros, so that `key_clues` compiles even if the old file has another form.
    one = {"ALONE": 1.0, "FRAGMENTS_ALONE": 1.0, "SIGNED": 1.0}
    write_model(np.zeros(SIGNS), None, one)
    grid = fit_grid(build(), read, lines_of)
    write_model(grid, None, one)
    inputs = read_inputs(build(), lines_of, COPIES)
    crossed, _ = cross(inputs, labels)
    sharp = sharpnesses(crossed, inputs, labels)
    tables = fit_tables(inputs, labels, np.full(len(read), True))
    write_model(grid, tables, sharp)
    print(f"written to {MODEL.relative_to(ROOT)}; sharpness {sharp}")


if __name__ == "__main__":
    main()
