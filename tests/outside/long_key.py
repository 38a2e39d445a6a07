"""Tests the key model on tunes that it was not fitted to: makes five fits, and asks each about the fifth of the tunes
that it did not see.

The tunes are fiddle tunes (O'Neill, Ryan) and European songs as music21 has them, and the sopranos of chorales, which
are never used for fitting. The model gets only the notes, with the bars of the file and without. The chorales appear in
two rows: all of them, and those whose bass ends on the stated tonic, because some files name the key of an old
signature. The model is compared with three rules: the tonic is the last note; the best of five published profiles, with
a tenth more for the last note; and music21's five finders. (The finders correlate with a profile; the correlations are
computed here, and compared with music21 itself on every hundredth tune.) The program `key_clues` counts the clues. The
weights are fitted again and compared with the model file, and the program's answers are compared with the answers of
the new fit.

    long_key.py BIN

Goals that are not reached are printed as such. The floors of the checks are the present results. The exit code is 1 if
a result is below its floor.
"""

import sys
from pathlib import Path

import numpy as np
from music21 import analysis, note, stream

import fit_key
import labelled_tunes as tunes
import outside

SIMPLE = ([2, 0, 1, 0, 1, 1, 0, 2, 0, 1, 0, 1], [2, 0, 1, 1, 0, 1, 0, 2, 1, 0, .5, .5])
# music21's finders and the profiles that they correlate with; the last is C. Sapp's.
FINDERS = {
    "Krumhansl-Kessler": (analysis.discrete.KrumhanslKessler, fit_key.PROFILES["Krumhansl-Kessler"]),
    "Aarden-Essen": (analysis.discrete.AardenEssen, fit_key.PROFILES["Aarden-Essen"]),
    "Bellman-Budge": (analysis.discrete.BellmanBudge, fit_key.PROFILES["Bellman-Budge"]),
    "Temperley": (analysis.discrete.TemperleyKostkaPayne, fit_key.PROFILES["Temperley"]),
    "simple weights": (analysis.discrete.SimpleWeights, SIMPLE),
}
FOR_LAST = 0.10
# For each row: the goals with bars and without, then the floors, in per cent of tonics.
ROWS = {
    "O'Neill": ((95.5, 95.0), (94.2, 93.8)),
    "Ryan": ((94.0, 92.5), (94.0, 92.5)),
    "songs": ((97.5, 97.0), (95.8, 96.0)),
    "Dorian, Mixolydian": ((80.0, 80.0), (71.5, 70.5)),
    "minor": ((89.9, 89.9), (89.0, 88.1)),
    "chorale sopranos": ((80.0, 80.0), (76.3, 75.5)),
    "the bass ends there too": ((80.0, 80.0), (95.1, 95.4)),
}
MOST_ERROR = 0.03


def profile_tonics(one, profiles, for_last):
    """Returns for each tune the tonic with the best correlation in major or minor; the last note gets `for_last`
    more."""
    fit = np.einsum("nts,ms->ntm", fit_key.unit(fit_key.roll(one.durations)), fit_key.unit(np.array(profiles))).max(2)
    fit[np.arange(len(fit)), one.last] += for_last
    return fit.argmax(1)


def music21_tonic(finder, times):
    line = stream.Stream()
    for one in times:
        line.append(note.Note(one.midi, quarterLength=one.duration))
    return tunes.best_tonic(finder, line)


def calibration_error(said, right):
    """Returns the expected calibration error: stated confidence against actual success, over ten classes of equal
    width."""
    classes = np.minimum((10 * said).astype(int), 9)
    return sum(abs(said[here].sum() - right[here].sum()) for here in (classes == c for c in range(10))) / len(said)


def share(tonics, truth, which):
    """Returns the percentage of right tonics among the tunes of the mask `which`."""
    return 100 * (tonics == truth)[which].mean()


def print_tonics(check, inputs, found, truth, groups):
    """Prints, for each group of tunes, our result beside those of the other rules and finders; checks the floors and
    prints the goals that are not reached."""
    print(f"{'tonic, % right':24}{'input':>10}{'ours':>8}{'last note':>11}{'profile + 0.10':>32}{'music21':>28}")
    for row, which in groups.items():
        for name, aim, floor in zip(("bars", "no bars"), *ROWS[row]):
            one = inputs[name]
            value, last = share(found[name], truth, which), share(one.last, truth, which)
            rule = max((share(profile_tonics(one, pair, FOR_LAST), truth, which), title)
                       for title, pair in fit_key.PROFILES.items())
            other = max((share(profile_tonics(one, pair, 0), truth, which), title) for title, (_, pair) in FINDERS.items())
            title = f"{row} ({which.sum()})"
            others = f"{f'{rule[1]} {rule[0]:.1f}':>32}{f'{other[1]} {other[0]:.1f}':>28}"
            print(f"{title:24}{name:>10}{value:8.1f}{last:11.1f}{others}")
            check(f"{row}, {name}: {value:.1f} of 100 tonics, at least {floor}", value >= floor)
            if value < aim:
                print(f"  NOT REACHED: {aim} for {row}, {name}")
            best = max(last, rule[0], other[0])
            if value <= best:
                print(f"  NOT REACHED: better than all others, which have {best:.1f}, for {row}, {name}")


def main():
    check, _ = outside.start(sys.argv)
    program = Path(sys.argv[1]).resolve().parent / "examples" / "key_clues"
    read, chorales = fit_key.read_tunes(), list(tunes.chorales())
    labels = fit_key.Labels(read)
    names = [*fit_key.COPIES, *fit_key.ASKED]
    inputs = fit_key.read_inputs(program, [fit_key.copies(tune) for tune in read], names)
    sung = fit_key.read_inputs(program, [fit_key.copies(tune) for tune in chorales], ("bars", "no bars"))
    crossed, tables = fit_key.cross(inputs, labels)
    sharp = fit_key.sharpnesses(crossed, inputs, labels)

    def chances(name):
        short = inputs[name].bars[:, 0] < fit_key.LONG_ENOUGH
        factor = np.where(short, sharp["FRAGMENTS_ALONE"], sharp["ALONE"])
        return fit_key.softmax(crossed[name] * factor[:, None, None])

    ours = {name: chances(name) for name in names}
    found = {name: chance.sum(2).argmax(1) for name, chance in ours.items()}
    # All five fits are asked about a chorale, and their odds are averaged.
    chorale_tonic = np.array([tune.tonic for tune in chorales])
    chorale_found = {name: np.mean([fit_key.softmax(fit_key.points(pair, one)) for pair in tables], 0).sum(2).argmax(1)
                     for name, one in sung.items()}
    groups = {"O'Neill": labels.book == "oneills1850", "Ryan": labels.book == "ryansMammoth", "songs": labels.song,
              "Dorian, Mixolydian": labels.modal, "minor": labels.minor}
    sure = np.array([tune.bass_end == tune.tonic for tune in chorales])
    print_tonics(check, inputs, found, labels.tonic, groups)
    print_tonics(check, sung, chorale_found, chorale_tonic, {"chorale sopranos": sure | True, "the bass ends there too": sure})

    print("\nother inputs, tonic, % right")
    for name in names:
        cells = [f"{title} {share(found[name], labels.tonic, which):.1f}" for title, which in groups.items()]
        print(f"  {name:30}{', '.join(cells)}")
    for row in ("O'Neill", "Ryan", "songs"):
        whole, part = (share(found[name], labels.tonic, groups[row]) for name in ("bars", "strain"))
        if part < whole - 3:
            print(f"  NOT REACHED: the first strain alone within 3 of the whole, {row}: {part:.1f} against {whole:.1f}")
    check("half a song: at least 82 of 100 tonics", share(found["strain"], labels.tonic, labels.song) >= 82)

    print("\nkeys (tonic and mode), % right, fiddle tunes")
    fiddle = np.flatnonzero(~labels.song)
    signed = fit_key.softmax(
        crossed["bars"][fiddle] * sharp["SIGNED"] + fit_key.signature_offsets(labels.sharps[fiddle]))
    both = np.zeros((len(read), 12, 4))
    both[fiddle] = signed
    for title, odds in (("bars, with the signature", both), *((name, ours[name]) for name in ("bars", "no bars"))):
        cells = [f"{row} {fit_key.right(odds, labels, which & ~labels.song)[1]:.1f}" for row, which in groups.items()
                 if row != "songs"]
        print(f"  {title:30}{', '.join(cells)}")

    print("\nexpected calibration error")
    kinds = {"with signature": [(signed, fiddle)], "bars": [(ours["bars"], slice(None))],
             "neither": [(ours["no bars"], slice(None))],
             "fragment": [(ours[name], slice(None)) for name in ("strain", "cut, no bars", "strain, no bars", "cut")]}
    for kind, parts in kinds.items():
        said, right, key_said, key_right = [], [], [], []
        for odds, which in parts:
            tonic, mode = labels.tonic[which], labels.mode[which]
            best = odds.sum(2).argmax(1)
            each = np.arange(len(best))
            best_mode = odds[each, best].argmax(1)
            said.append(odds.sum(2).max(1))
            right.append(best == tonic)
            known = mode >= 0
            key_said.append(odds[each, best, best_mode][known])
            key_right.append(((best == tonic) & (best_mode == mode))[known])
        errors = [calibration_error(np.concatenate(s), np.concatenate(r)) for s, r in ((said, right), (key_said, key_right))]
        print(f"  {kind:16} tonic {errors[0]:.3f}   key {errors[1]:.3f}")
        for what, error in zip(("tonic", "key"), errors):
            check(f"{kind}, {what}: expected calibration error {error:.3f}, at most {MOST_ERROR}", error <= MOST_ERROR)

    sample = range(0, len(read), 100)
    for title, (finder, profiles) in FINDERS.items():
        here = profile_tonics(inputs["bars"], profiles, 0)
        same = [here[i] == music21_tonic(finder, read[i].notes) for i in sample]
        check(f"{title}: the tonic is music21's for {sum(same)} of {len(same)} tunes", np.mean(same) > 0.97)

    model = fit_key.fit_tables(inputs, labels, np.full(len(read), True))
    text = fit_key.MODEL.read_text("utf-8")
    for title, table in zip(("TUNE", "FRAGMENT"), model):
        part = text[text.index(f"const {title}: Table"):]
        numbers = fit_key.numbers(part[part.index("{"):part.index("};")])
        again = fit_key.numbers(fit_key.rust_table(title, table).split("{", 1)[1])
        worst = np.abs(numbers - again).max()
        check(f"the table {title} of the model file equals the fitted table to within {worst} points", worst <= 20)
    for name in ("bars", "no bars", "cut, no bars"):
        short = inputs[name].bars[:, 0] < fit_key.LONG_ENOUGH
        factor = np.where(short, fit_key.constant("FRAGMENTS_ALONE"), fit_key.constant("ALONE")) / 1024
        odds = fit_key.softmax(fit_key.points(model, inputs[name]) * factor[:, None, None]).sum(2)
        answers = inputs[name].answers
        same = np.mean(odds.argmax(1) == [answer["tonic"] for answer in answers])
        near = np.mean(np.abs(100 * odds.max(1) - [answer["tonic_confidence"] for answer in answers]) <= 2)
        check(f"{name}: the program's tonic equals the model's, {100 * same:.2f} of 100", same >= 0.997)
        check(f"{name}: the program's confidence is within 2 points of the model's for {100 * near:.2f}% of the answers", near >= 0.997)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
