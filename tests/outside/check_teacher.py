"""Counts for how many tunes a teacher would refuse the first row of the ranking, for each of the three built-in
players.

    check_teacher.py BIN [--list] [--write FILE]

The tunes are a fixed sample: every nth tune of O'Neill (1850), Ryan's Mammoth Collection, the Essen files altdeu and
boehme, and the sopranos of the chorales, and all tunes of `corpus/`. music21 reads the sample except `corpus/`, and
writes it as MusicXML. What a teacher refuses is our own judgement, in tests/teacher/refusal.rs; no published source for
it is known to us. The example `teacher` applies this definition.

With --list, each refused tune is printed with the first row and the row that the teacher would choose. With --write,
the answers are written to a file, one line of JSON for each tune. The exit code is 1 if more first rows, or more edits
of a tune, are refused than the bounds allow.
"""

import collections
import json
import re
import sys
from pathlib import Path

import outside

HOME = Path(__file__).resolve().parents[2]
CACHE = HOME / "target" / "teacher"
LEVELS = ("beginner", "improver", "advanced")
CODES = ("bends", "many", "blow/over", "high", "lacks", "much", "odd")
# The highest percentage of first rows that may be refused, and the highest percentage of one-note edits of accepted
# tunes that may turn a first row into a refused one.
REFUSED, TURNED = 5, 6
# Name, folder, beginnings of the file names, number of tunes.
COLLECTIONS = (
    ("O'Neill", "oneills1850", ("",), 24),
    ("Ryan", "ryansMammoth", ("",), 18),
    ("Essen", "essenFolksong", ("altdeu", "boehme"), 24),
)
CHORALES = 14


def spread(things, count):
    """Returns `count` of the things, at even distances in their list."""
    step = len(things) // count
    return things[step // 2::step][:count]


def blocks(folder, beginnings):
    """Yields a name and the text of each ABC tune of a folder that has a key, in the order of the files."""
    for path in sorted(folder.glob("*.abc")):
        if not path.name.startswith(beginnings):
            continue
        for block in re.split(r"^(?=X:)", path.read_text("utf-8", "replace"), flags=re.M):
            if block.startswith("X:") and re.search(r"^K:", block, flags=re.M):
                yield f"{path.stem}-{block[2:].split()[0]}", block


def written():
    """Returns the collection, the name and the MusicXML file of each tune in the sample; writes the files that are
    missing."""
    import music21

    corpus = Path(music21.__file__).parent / "corpus"
    CACHE.mkdir(parents=True, exist_ok=True)
    sample = []

    def keep(collection, name, score):
        path = CACHE / f"{re.sub(r'[^A-Za-z]', '', collection)}-{name}.musicxml"
        if not path.exists():
            score().write("musicxml", fp=path)
        sample.append((collection, name, path))

    for collection, folder, beginnings, count in COLLECTIONS:
        for name, block in spread(list(blocks(corpus / folder, beginnings)), count):
            keep(collection, name, lambda: music21.converter.parse(block, format="abc"))
    for path in spread(sorted((corpus / "bach").glob("*.mxl")), CHORALES):
        keep("chorales", path.stem, lambda: music21.stream.Score([music21.converter.parse(path).parts[0]]))
    sample += [("corpus", path.stem, path) for path in sorted((HOME / "corpus").glob("*.musicxml"))]
    return sample


def list_refused(sample, answers):
    for level in LEVELS:
        print(f"\nrefused for the {level} player")
        for (collection, name, _), answer in zip(sample, answers):
            row = answer["levels"][level]
            for refusal in row["refusals"]:
                print(f"  {collection:8} {name:36} {answer['key']:12} {refusal['code']:9} {row['first']}")
                print(f"  {'':68} rather {refusal['rather']}")


def main():
    check, _ = outside.start(sys.argv)
    program = str(Path(sys.argv[1]).resolve().parent / "examples" / "teacher")
    sample = written()
    questions = ({"name": name, "xml": path.read_text("utf-8")} for _, name, path in sample)
    answers = outside.ask_all(program, questions)
    if "--write" in sys.argv:
        Path(sys.argv[sys.argv.index("--write") + 1]).write_text("".join(json.dumps(a) + "\n" for a in answers))
    names = list(dict.fromkeys(collection for collection, _, _ in sample))
    sizes = collections.Counter(collection for collection, _, _ in sample)
    print(f"refused first rows of {len(sample)} tunes, by collection (with its number of tunes) and code (a row may have several)")
    print(f"  {'':9} {'all':>12} " + " ".join(f"{f'{name} {sizes[name]}':>12}" for name in names)
          + "  " + " ".join(f"{code:>9}" for code in CODES))
    for level in LEVELS:
        refused = [(one[0], answer["levels"][level]["refusals"]) for one, answer in zip(sample, answers)
                   if answer["levels"][level]["refusals"]]
        by_collection = collections.Counter(collection for collection, _ in refused)
        codes = collections.Counter(refusal["code"] for _, refusals in refused for refusal in refusals)
        share = 100 * len(refused) / len(sample)
        print(f"  {level:9} {f'{len(refused)} = {share:.1f} %':>12} "
              + " ".join(f"{by_collection[name]:>12}" for name in names)
              + "  " + " ".join(f"{codes[code]:>9}" for code in CODES))
        check(f"at most {REFUSED} % of the {level}'s first rows are refused: {share:.1f} %", share <= REFUSED)
    print("one note sharpened: accepted first rows that become refused")
    for level in LEVELS:
        accepted = [answer["levels"][level] for answer in answers if not answer["levels"][level]["refusals"]]
        edits = [codes for row in accepted for codes in row["edits"]]
        turned = [codes for codes in edits if codes]
        by_code = collections.Counter(code for codes in turned for code in codes)
        share = 100 * len(turned) / len(edits) if edits else 100
        print(f"  {level:9} {len(turned):4} of {len(edits)} = {share:.1f} %   "
              + ", ".join(f"{code} {by_code[code]}" for code in CODES if by_code[code]))
        check(f"at most {TURNED} % of the {level}'s edits turn into a refusal: {share:.1f} %", share <= TURNED)
    if "--list" in sys.argv:
        list_refused(sample, answers)
    sys.exit(check.finish())


if __name__ == "__main__":
    main()
