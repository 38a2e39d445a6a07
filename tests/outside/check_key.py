"""Asks the program for the key of fiddle tunes and chorales, and compares the answers with the editors' keys and with
other finders.

The tunes are a fifth of the O'Neill (1850) and Ryan's Mammoth collections that come with music21 (with --all, the whole
collections), and the sopranos of the chorales. The model is fitted on these fiddle tunes. `long_key.py` measures it on
tunes that it was not fitted to; this check gives the command files. Each tune is written as MusicXML without a key
signature, with its own signature, and with the C major that programs write by default. The same notes go to music21's
five key finders, and to the rule "best correlation with the profiles of Albrecht and Shanahan (2013), a tenth more for
the last note".

    check_key.py BIN [--all | --few]

The chorales are also read as whole files, with all parts: every chorale, or with --few every fourth.

The exit code is 1 if a bound is not met.
"""

import statistics
import sys
from pathlib import Path

import numpy as np
from music21 import analysis, note, stream

import fit_key
import outside
import labelled_tunes as tunes

FINDERS = {
    "music21 Krumhansl-Kessler": analysis.discrete.KrumhanslKessler,
    "music21 Aarden-Essen": analysis.discrete.AardenEssen,
    "music21 Bellman-Budge": analysis.discrete.BellmanBudge,
    "music21 Temperley": analysis.discrete.TemperleyKostkaPayne,
    "music21 simple weights": analysis.discrete.SimpleWeights,
}
OWN = {"notes alone": None, "own signature": "own", "signature of C": 0}
RULE = "Albrecht-Shanahan + last note"
FOLDER = Path(__file__).resolve().parents[2] / "target" / "outside-key"


def profile_rule(tune):
    """Returns the tonic by the rule: the best correlation with a profile, and a tenth more for the last note."""
    durations = np.zeros(12)
    for one in tune.notes:
        durations[one.midi % 12] += float(one.duration)
    last = tune.notes[-1].midi % 12
    profiles = dict(zip(("major", "minor"), fit_key.PROFILES["Albrecht-Shanahan"]))

    def score(tonic, mode):
        fit = np.corrcoef(np.roll(durations, -tonic), profiles[mode])[0, 1]
        return fit + (0.1 if tonic == last else 0)

    return max((score(tonic, mode), tonic) for tonic in range(12) for mode in ("major", "minor"))[1]


def music21_tonics(notes):
    line = stream.Stream()
    for one in notes:
        line.append(note.Note(one.midi, quarterLength=one.duration))
    return {name: tunes.best_tonic(finder, line) for name, finder in FINDERS.items()}


def tonic_number(name):
    return (tunes.STEPS[name[0]] + {"#": 1, "b": -1, "": 0}[name[1:]]) % 12


def ask(breathline, tune, index):
    """Returns the program's key for each way of writing the signature: tonic, mode, confidence."""
    answers = {}
    for name, sharps in OWN.items():
        path = FOLDER / f"{tune.collection}-{index}-{name.replace(' ', '-')}.musicxml"
        path.write_text(tunes.musicxml(tune, tune.sharps if sharps == "own" else sharps), "utf-8")
        key = breathline("notes", path)["key"]
        answers[name] = (tonic_number(key["tonic"]), key["mode"], key["confidence"])
    return answers


def whole_chorales(breathline, chorales):
    """Returns, for each finder, whether it names the tonic of each whole chorale. The program reads the file, unchanged
    and with the mode removed; music21's finders get the notes of all parts."""
    import music21

    folder = Path(music21.__file__).parent / "corpus" / "bach"
    right = {}
    for chorale in chorales:
        text, unsaid, notes = tunes.whole(folder / chorale.number)
        tonics = music21_tonics(notes)
        for name, content in (("program, file unchanged", text), ("program, mode removed", unsaid)):
            path = FOLDER / "whole.musicxml"
            path.write_text(content, "utf-8")
            tonics[name] = tonic_number(breathline("notes", path)["key"]["tonic"])
        for name, tonic in tonics.items():
            right.setdefault(name, []).append(tonic == chorale.tonic)
    return right


def what_a_musician_would_say(tune, tonic):
    """Returns the reason why the tonic found is not the editor's, as far as the ends of the strains show it."""
    ends = [tune.notes[last].midi % 12 for _, last in fit_key.strains(tune)]
    ours, theirs = ends.count(tonic), ends.count(tune.tonic)
    if ours == len(ends):
        return "every strain rests on the tonic found: the label is the major key of the signature, or an error"
    if theirs == 0 and ours == 0:
        return "no strain rests on either tonic: only the harmony could show the key"
    if theirs == 0:
        return "some strains rest on the tonic found, none on the editor's"
    if ours > 0:
        return "strains rest on both: two keys in one tune"
    if theirs == len(ends):
        return "every strain rests on the editor's tonic: the program is wrong"
    return "some strains rest on the editor's tonic, none on the one found: the program is wrong"


def print_misses(missed):
    names = "C Db D Eb E F F# G Ab A Bb B".split()
    groups = {}
    for tune, (tonic, mode, confidence) in missed:
        groups.setdefault(what_a_musician_would_say(tune, tonic), []).append((tune, tonic, mode, confidence))
    print(f"the {len(missed)} misses on fiddle tunes, from notes alone")
    for reason, here in sorted(groups.items(), key=lambda group: -len(group[1])):
        print(f"  {len(here)}: {reason}")
        for tune, tonic, mode, confidence in here:
            ends = " ".join(names[tune.notes[last].midi % 12] for _, last in fit_key.strains(tune))
            print(f"    {tune.title[:34]:34} {names[tune.tonic] + ' ' + tune.mode:14} found {names[tonic]} {mode}"
                  f" ({100 * confidence:.0f}%); strains end on {ends}")


def per_cent(hits):
    return 100 * statistics.mean(hits) if hits else float("nan")


def main():
    check, breathline = outside.start(sys.argv)
    FOLDER.mkdir(parents=True, exist_ok=True)
    read = [tune for name in fit_key.COLLECTIONS for tune in tunes.collection(name)]
    chosen = [tune for tune, fold in zip(read, tunes.folds(read)) if fold == 0 or "--all" in sys.argv]
    chorales = list(tunes.chorales())
    chosen += chorales
    right, exact, sure, missed = {}, {}, [], []
    groups = []
    for index, tune in enumerate(chosen):
        answers = ask(breathline, tune, index)
        tonics = {name: answer[0] for name, answer in answers.items()}
        tonics |= music21_tonics(tune.notes) | {RULE: profile_rule(tune)}
        for name, tonic in tonics.items():
            right.setdefault(name, []).append(tonic == tune.tonic)
        for name, answer in answers.items():
            exact.setdefault(name, []).append(answer[:2] == tune.key())
        groups.append((tune.collection, tune.mode))
        if tune.collection != "bach" and answers["notes alone"][0] != tune.tonic:
            missed.append((tune, answers["notes alone"]))
        if tune.collection != "bach":
            sure += [(name, answer[2], answer[:2] == tune.key()) for name, answer in answers.items()]

    books = {"O'Neill": "oneills1850", "Ryan": "ryansMammoth", "chorales": "bach"}
    sets = {title: [c == book for c, _ in groups] for title, book in books.items()}
    fiddle = [c != "bach" for c, _ in groups]
    sets["dorian, mixolydian"] = [f and m in ("dorian", "mixolydian") for f, (_, m) in zip(fiddle, groups)]
    sets["those and minor"] = [f and m in ("dorian", "mixolydian", "minor") for f, (_, m) in zip(fiddle, groups)]

    def share(table, name, which):
        return per_cent([hit for hit, here in zip(table[name], sets[which]) if here])

    print(f"{'tonic, % right':32}" + "".join(f"{title + f' ({sum(which)})':>26}" for title, which in sets.items()))
    for name in right:
        print(f"{name:32}" + "".join(f"{share(right, name, title):26.1f}" for title in sets))
    print("tonic and mode")
    for name in exact:
        print(f"{name:32}" + "".join(f"{share(exact, name, title):26.1f}" for title in sets))
    print("confidence and share of right answers (tonic and mode; fiddle tunes)")
    for name in ("notes alone", "own signature"):
        for low, high in ((0, 50), (50, 70), (70, 85), (85, 95), (95, 99), (99, 101)):
            here = [(100 * c, hit) for n, c, hit in sure if n == name and low <= round(100 * c) < high]
            if here:
                said = statistics.mean(c for c, _ in here)
                hits = per_cent([hit for _, hit in here])
                print(f"  {name:14} {low:3}-{min(high, 100):3}%: {len(here):5} tunes, said {said:5.1f}, right {hits:5.1f}")
                # The bound is 2.5 standard errors of the share, which is large because the tunes are few, but at least
                # three points.
                chance = 2.5 * (said * (100 - said) / len(here)) ** 0.5
                check(f"{name}: said {said:.0f}%, right {hits:.0f}%", abs(said - hits) <= max(3, chance))

    # A model fitted only on the two fiddle books made at most three quarters of the rule's errors on O'Neill. With the
    # signature, it found 96 % of O'Neill's tonics. The present model is also fitted on European songs. It gets one more
    # of these 400 tunes wrong in each comparison, and 8 in 100 more of the songs right (README-key.md). The floors are
    # the present results; the earlier results are still the goal. Both models are fitted on these tunes, but the
    # present model has a stronger penalty and so learns fewer of them by heart.
    for title, floor in (("O'Neill", 1.0), ("Ryan", 0.75), ("dorian, mixolydian", 0.75)):
        ours, rule = (100 - share(right, name, title) for name in ("notes alone", RULE))
        check(f"{title}: {ours:.1f}% errors, at most {floor} times the rule's {rule:.1f}%", ours <= floor * rule)
        if ours > 0.75 * rule:
            print(f"  NOT REACHED: three quarters of the rule's errors on {title}: {ours:.1f}% against {rule:.1f}%")
    for title, floor, aim in (("O'Neill", 95.5, 96), ("Ryan", 94, 94)):
        found = share(right, "own signature", title)
        check(f"{title}: {found:.1f}% of tonics with the signature, at least {floor}", found >= floor)
        if found < aim:
            print(f"  NOT REACHED: {aim}% of the tonics of {title} with the signature: {found:.1f}%")
    for title in ("O'Neill", "Ryan"):
        found, alone = share(right, "signature of C", title), share(right, "notes alone", title)
        check(f"{title}: an idle signature of C costs no more than a point ({alone:.1f} to {found:.1f})", found >= alone - 1)
    found = share(exact, "own signature", "those and minor")
    check(f"mode of dorian, mixolydian and minor tunes: {found:.1f}%, at least 85", found >= 85)
    # README-key.md explains why these goals are not reached. The floors keep the results from getting worse.
    for name, floor in (("notes alone", 73.6), ("own signature", 68.4)):
        found = share(right, name, "dorian, mixolydian")
        if found < 80:
            print(f"  NOT REACHED: 80% of the tonics of dorian and mixolydian tunes, {name}: {found:.1f}%")
        if "--all" not in sys.argv:
            check(f"dorian, mixolydian, {name}: {found:.1f}%, at least {floor}", found >= floor)
            if found < 73.6:
                print(f"  NOT REACHED: the earlier 73.6%, {name}: {found:.1f}%")
    rule, ours = share(right, RULE, "chorales"), share(right, "notes alone", "chorales")
    if ours < rule:
        print(f"  NOT REACHED: the rule's {rule:.1f}% on the sopranos of the chorales: {ours:.1f}%")
    print_misses(missed)
    whole = whole_chorales(breathline, chorales[::4] if "--few" in sys.argv else chorales)
    print("whole chorales, % of tonics right")
    for name, hits in whole.items():
        print(f"{name:32}{per_cent(hits):26.1f}")
    best = max(per_cent(whole[name]) for name in FINDERS)
    ours, unsaid = (per_cent(whole[f"program, {how}"]) for how in ("file unchanged", "mode removed"))
    check(f"whole chorales, from unchanged files: {ours:.1f}%, at least the {best:.1f}% of music21's best", ours >= best)
    if unsaid < best:
        print(f"  NOT REACHED: the same with the mode removed: {unsaid:.1f}%")
    ours = share(right, "notes alone", "chorales")
    best = max(share(right, name, "chorales") for name in FINDERS)
    check(f"chorales: {ours:.1f}%, at least the {best:.1f}% of music21's best", ours >= best)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
