"""Fits the weights of key finding and writes them to src/melody/key/weights.rs.

    python fit_key.py              make the model file from scratch: builds the program that counts the clues, fits, writes
    python fit_key.py --ablation   what each group of clues is worth, for the README

The program `key_clues` counts the clues, so they have one owner; this file knows only what is done with them. Every key
(12 tonics in major, minor, Dorian, Mixolydian) has the score: for each row of shares, the shares rolled to the tonic times
twelve weights, one set for modes with a major third and one for those with a minor third; five weights times Pearson's
correlation of the durations with the published profiles; six weights times what the degrees tell of the mode; the mode's
habit. The weights maximise the logarithm of the probability that the softmax of the scores gives to the tonic, over all its
modes, and to the mode under the right tonic where the collection names it (conditional logit, quadratic penalty).

Tunes of eight bars or more have one table of weights, shorter stretches another. Each tune stands for several inputs:
with its bars and strains, without, its first strain alone, a random cut.
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
# From so many bars on, a stretch is a tune: LONG_ENOUGH of src/melody/key/clues.rs.
LONG_ENOUGH = 8
# How many signs speak for a first downbeat: SIGNS of src/melody/key/table.rs.
SIGNS = 12
# Published profiles, major and minor, from the tonic up, as the reference libraries music21 10.5.1, partitura 1.9.0 and
# AMADS 1.4.0 carry them.
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
# The two forms of each degree from the second to the seventh, in semitones, and which of them each mode has.
TWINS = [(1, 2), (3, 4), (5, 6), (6, 7), (8, 9), (10, 11)]
HAS_LOWER = np.array([[0, 0, 1, 0, 0, 0], [0, 1, 1, 0, 1, 1], [0, 1, 1, 0, 0, 1], [0, 0, 1, 0, 0, 1]], bool)
# A degree that takes less of the tune than about this share tells little.
FAINT = 0.03
# How much the shares of the first strain count beside those of the whole tune, and where it is only half of a tune
# without strains.
VOTE, HALF_VOTE = 0.5, 0.15
# How much heavier a Dorian or Mixolydian tune weighs for its tonic, and for its mode: they are one in thirty here.
MODAL_TONIC, MODAL_MODE = 6.0, 4.0
# The quadratic penalty of each table, in units of one tune; that of the habits is less, for how common a mode is stands fast.
PENALTY, HABIT_PENALTY = (20.0, 2.0), 1.0
# How much each way of writing a tune counts: in the table of whole tunes for fiddle tunes and songs, then in that of
# fragments. Half a song rests on another note than the tonic more often than not, and few people bring one.
COPIES = {
    "bars": ((0.5, 0.5), (0.5, 0.7)),
    "no bars": ((0.5, 0.5), (0.5, 0.7)),
    "strain": ((0.3, 0.02), (0.3, 0.3)),
    "cut, no bars": ((0.1, 0.03), (0.3, 0.3)),
}
# Other inputs, that are only asked for.
ASKED = ["repeats written out, no bars", "no meter", "strain, no bars", "cut"]
# What is assumed of signatures: this share is the key's own, this share is the C major that programs write when
# nobody said anything, the rest is a fifth or more off.
SIGNATURES = {"own": 0.90, "none": 0.06, "off": 0.04}
POINTS = 1024 / np.log(2)


# Reading: tunes, their copies, and the clues that the program counts in them.

def is_full(tune, bar):
    return 4 * tune.bars[bar].length >= 3 * Fraction(4 * tune.meter[0], tune.meter[1])


def strains(tune):
    """First and last note of each strain: a strain ends at a repeat or a double bar."""
    first = 0
    for i, (note, following) in enumerate(zip(tune.notes, tune.notes[1:])):
        if following.bar != note.bar:
            passed = tune.bars[note.bar:following.bar]
            if any(b.repeat_end or b.section_end or b.da_capo for b in passed) or tune.bars[following.bar].repeat_start:
                yield first, i
                first = i + 1
    yield first, len(tune.notes) - 1


def written(tune, notes, marks=True):
    """Some of a tune's notes as a line for `key_clues`, with the bars of the file."""
    ends = {tune.notes[last].bar for _, last in strains(tune)} if marks else set()
    bars = [[int(bar.start * UNITS), int(bar.length * UNITS), index in ends] for index, bar in enumerate(tune.bars)]
    return {"meter": tune.meter, "counted": False, "sharps": None, "bars": bars,
            "notes": [[int(n.onset * UNITS), int(n.duration * UNITS), n.midi, n.bar] for n in notes]}


def counted(meter, times):
    """Onsets, durations and numbers as a line for `key_clues`, as MIDI has them: bars are counted from the start."""
    bar = int(Fraction(4 * meter[0], meter[1]) * UNITS)
    start = times[0][0]
    notes = [[int((onset - start) * UNITS), int(length * UNITS), midi] for onset, length, midi in times]
    notes = [[*note, note[0] // bar] for note in notes]
    bars = [[bar * index, bar, False] for index in range(notes[-1][3] + 1)]
    return {"meter": meter, "counted": True, "sharps": None, "bars": bars, "notes": notes}


def played(tune):
    """Onset, duration and number of each note with the repeats played."""
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
    """The notes of the first strain of ten notes or more; of a tune without strains those of the first half."""
    for _, last in strains(tune):
        if 9 <= last < len(tune.notes) - 1:
            return tune.notes[:last + 1]
    bar = Fraction(4 * tune.meter[0], tune.meter[1])
    start, end = tune.notes[0].onset, tune.notes[-1].onset + tune.notes[-1].duration
    middle = start + round(float((end - start) / bar)) // 2 * bar
    half = [note for note in tune.notes if note.onset < middle]
    return half if len(half) >= 6 else tune.notes


def cut(tune):
    """12 to 40 notes from anywhere, the same every time."""
    chance = random.Random(zlib.crc32((tune.collection + tune.number + tune.title).encode()))
    length = chance.randint(min(12, len(tune.notes)), min(40, len(tune.notes)))
    start = chance.randint(0, len(tune.notes) - length)
    return tune.notes[start:start + length]


def copies(tune):
    """The tune as it may come."""
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
    """What `key_clues` says of each line."""
    text = "\n".join(map(json.dumps, lines))
    done = subprocess.run([program], input=text, capture_output=True, text=True, check=True)
    return [json.loads(line) for line in done.stdout.splitlines()]


class Input:
    """Many tunes written in one way: what the program counts in them, turned to every tonic."""

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
    """... x 12 shares from C up, to ... x 12 tonics x 12 semitones above."""
    return rows[..., (np.arange(12)[:, None] + np.arange(12)) % 12]


def unit(profile):
    profile = np.array(profile, float)
    profile = profile - profile.mean(-1, keepdims=True)
    return profile / np.maximum(np.linalg.norm(profile, axis=-1, keepdims=True), 1e-9)


def of_mode(major, minor, mode):
    """The profile of a mode: that of major or minor with the notes that differ exchanged."""
    profile = np.array(minor if HAS_MINOR_THIRD[MODES.index(mode)] else major, float)
    for name, lower in (("dorian", 8), ("mixolydian", 10)):
        if mode == name:
            profile[[lower, lower + 1]] = profile[[lower + 1, lower]]
    return profile


MODE_PROFILES = np.array([[unit(of_mode(*pair, mode)) for pair in PROFILES.values()] for mode in MODES])


def turned(counts):
    """Tune x tonic x (row, semitone), and tune x tonic x mode x (correlations, telling degrees, habits)."""
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
    """Tune x tonic x mode."""
    weights = weights.astype(np.float32)
    k = rows.shape[2]
    return (rows @ weights[:2 * k].reshape(2, k).T)[:, :, HAS_MINOR_THIRD] + others @ weights[2 * k:]


def softmax(points):
    points = np.exp(points - points.max((1, 2), keepdims=True))
    return points / points.sum((1, 2), keepdims=True)


def fit(rows, others, tonic, mode, heavy, heavy_mode, penalty):
    """The weights that explain tonics best, and modes (-1 where none is named) under the right tonic."""
    k, each = rows.shape[2], np.arange(len(rows))
    is_mode = (mode[:, None] == np.arange(4)).astype(float)
    heavy_mode = heavy_mode * (mode >= 0)
    flat_rows, flat_others = rows.reshape(-1, k), others.reshape(-1, others.shape[3])
    penalties = np.full(2 * k + others.shape[3], penalty)
    penalties[-3:] = HABIT_PENALTY
    # In these units the penalty is the same for all, and the search is short.
    units = 1 / np.sqrt(penalties)

    def loss(place):
        # Sums in double precision: the search ends at the same place with one thread and with two.
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
    """What the editors say, and which tunes are which."""

    def __init__(self, read):
        self.tonic = np.array([tune.tonic for tune in read])
        self.song = np.array([tune.collection == "essenFolksong" for tune in read])
        # The song books name the tonic alone, so that "major" means nothing there.
        known = [MODES.index(t.mode) if t.mode in MODES and not (song and t.mode == "major") else -1
                 for t, song in zip(read, self.song)]
        self.mode = np.array(known)
        self.modal = np.array([tune.mode in ("dorian", "mixolydian") for tune in read])
        self.minor = np.array([tune.mode == "minor" for tune in read]) & ~self.song
        self.sharps = np.array([tune.sharps for tune in read])
        self.book = np.array([tune.collection for tune in read])
        self.fold = np.array(tunes.folds(read))


def fit_tables(inputs, labels, which, groups=None):
    """The two tables of weights, whole tunes and fragments, from the tunes of a mask."""
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
    """Tune x tonic x mode: the scores of the voted shares."""
    whole, short = (scores(table, *one.voted) for table in tables)
    return np.where(one.bars[:, :1, None] < LONG_ENOUGH, short, whole)


def signature_offsets(sharps):
    """The logarithm of the assumed probability of a signature under each key: tune x tonic x mode."""
    tonics = 7 * np.arange(12)[:, None] + np.array([SHARPS_FROM_MAJOR[mode] for mode in MODES])
    apart = (sharps[:, None, None] - tonics) % 12
    fifths = np.minimum(apart, 12 - apart)
    own, none, off = (SIGNATURES[name] for name in ("own", "none", "off"))
    chance = np.where(fifths == 0, own, off * np.where(fifths == 1, 0.6 / 2, 0.4 / 9))
    return np.log(chance + np.where(sharps == 0, none, 0)[:, None, None])


def sharpness(parts):
    """By how much points must grow for the odds to come true, from (points, offsets, tonic, mode) of many tunes."""
    def loss(factor):
        total = 0.0
        for score, offset, tonic, mode in parts:
            right = softmax(factor * score + offset)[np.arange(len(tonic)), tonic]
            # Half for the tonic, half for the key, where it is known.
            total -= np.log(right.sum(1) + 1e-300).sum()
            known = np.flatnonzero(mode >= 0)
            total -= np.log(right[known, mode[known]] + 1e-300).sum()
        return total

    return float(minimize_scalar(loss, bounds=(0.3, 3), method="bounded").x)


def sharpnesses(crossed, inputs, labels):
    """The sharpness of whole tunes and fragments alone, and of tunes with their signature, from points out of fold."""
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
    """The points of every input out of fold: from tables that were fitted on the other folds."""
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
    """The weights of the signs of a downbeat, from tunes and their copies."""
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
    """The whole numbers of a piece of the model file, without those in names and comments."""
    return np.array([int(number) for number in re.findall(r"(?<![\w.])-?\d+\b", text)])


def constant(name):
    """A constant of the model file."""
    return int(re.search(rf"const {name}: i64 = (-?\d+);", MODEL.read_text("utf-8"))[1])


def build():
    """The program that counts the clues, with the model file as it stands."""
    subprocess.run(["cargo", "build", "--quiet", "--example", "key_clues"], cwd=ROOT, check=True)
    return ROOT / "target" / "debug" / "examples" / "key_clues"


def read_inputs(program, lines_of, names):
    """The named ways of writing each tune, counted, from the copies of each."""
    return {name: Input(ask(program, [lines[name] for lines in lines_of])) for name in names}


def read_tunes():
    return [tune for name in COLLECTIONS for tune in tunes.collection(name)] + list(tunes.songs())


def right(chances, labels, which):
    """Per cent of tonics, and of keys where the mode is known."""
    tonic = chances.sum(2).argmax(1)
    mode = chances[np.arange(len(tonic)), tonic].argmax(1)
    hit = tonic == labels.tonic
    known = which & (labels.mode >= 0)
    return 100 * hit[which].mean(), 100 * (hit & (mode == labels.mode))[known].mean()


def ablation(inputs, labels):
    """What is lost without each group of clues: two folds, per cent of tonics."""
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
    # Without weights first, so that the program builds whatever form the file had.
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
