"""Reads tunes with the program and with independent readers, and compares the notes one by one.

The tunes come from the O'Neill (1850) and Ryan's Mammoth collections in music21. music21 writes each tune as MusicXML
and as MIDI. The program's reading of the MusicXML is compared with music21's reading of the same file, as written and
in the order of performance (music21's expandRepeats). Its reading of the MIDI is compared with mido's events, paired
here in a few lines.

    check_tunes.py BIN [COUNT] [--only musicxml|unfolded|midi]

The check calls BIN as `BIN notes FILE --part 1 [--unfold] --json`. It takes COUNT tunes, half from each collection.
The exit code is 1 if fewer than 99.5 % of the readings of a kind agree. A tune whose repeats music21 finds badly formed
is only counted, because there is nothing to compare with.
"""

import argparse
import collections
import concurrent.futures
import json
import pathlib
import random
import subprocess
import sys
import warnings

import mido
import music21

COLLECTIONS = ("oneills1850", "ryansMammoth")
# Ends of notes and onsets are floats in JSON. A ten-thousandth of a quarter is much shorter than any note value.
TOLERANCE = 1e-4
NEEDED = 0.995
# The causes of known differences, each examined by hand. A difference without a line here is printed as not yet
# explained.
REASONS = {
    "JarnovichesStrathspey": "two grace notes at the end of a bar have no note after them: left out, with a warning",
    "CalisthenicHornpipe": "a first ending without a second: the program leaves it out on the second pass, music21 plays it twice",
    "The Banks of Dunmore": "a tie to the same pitch whose other half is not marked: the program joins the notes, with a warning",
    "SirGeorgeClargsStrathspey": "sevenths of a beat in whole ticks, rounded differently",
}


def sample(count):
    """Yields names and scores of `count` tunes, half from each collection."""
    for collection in COLLECTIONS:
        yield from sample_of(collection, count // len(COLLECTIONS))


def sample_of(collection, count):
    """Yields names and scores of `count` tunes of a collection, spread over a seeded choice of its files."""
    corpus = pathlib.Path(music21.__file__).parent / "corpus"
    choice = random.Random(1850)
    files = sorted(path.name for path in (corpus / collection).glob("*.abc"))
    choice.shuffle(files)
    # O'Neill's files contain many tunes. Up to a tenth of the sample comes from one file, so that few files need
    # parsing.
    at_most = max(1, count // 10)
    for file in files:
        if count == 0:
            break
        opus = music21.corpus.parse(f"{collection}/{file}")
        scores = list(opus.scores) if isinstance(opus, music21.stream.Opus) else [opus]
        choice.shuffle(scores)
        for score in scores[: min(at_most, count)]:
            count -= 1
            title = score.metadata.title if score.metadata else None
            yield f"{collection} {file.removesuffix('.abc')} {title or ''}".strip(), score


class BadlyFormed(Exception):
    """Raised if music21 cannot tell the order in which the bars of a tune are played."""


def unfolded_from_musicxml(path):
    """Returns the main notes and the grace notes of the first part, in the order of performance that music21's
    expandRepeats() gives. Raises BadlyFormed if music21 cannot expand the repeats."""
    part = without_fillers(music21.converter.parse(path, forceSource=True).parts[0])
    begin_repeats(part)
    try:
        return notes_of(part.expandRepeats())
    except music21.repeat.ExpanderException as error:
        raise BadlyFormed(str(error)) from error


def begin_repeats(part):
    """Gives each repeat that lacks a start sign one, right after the previous repeat.

    Players begin the repeat there; music21 goes back to the start of the tune, and plays the earlier repeats again.
    """
    brackets = part.getElementsByClass(music21.spanner.RepeatBracket)
    endings = {id(measure): bracket for bracket in brackets for measure in bracket.getSpannedElements()}
    begun, behind, measures = True, None, list(part.getElementsByClass(music21.stream.Measure))
    for index, measure in enumerate(measures):
        starts = isinstance(measure.leftBarline, music21.bar.Repeat) and measure.leftBarline.direction == "start"
        if starts:
            begun = True
        ends = isinstance(measure.rightBarline, music21.bar.Repeat)
        bracket = endings.get(id(measure))
        is_first = bracket is None or 1 in bracket.numberRange
        if ends and is_first and not begun and behind is not None:
            measures[behind].leftBarline = music21.bar.Repeat(direction="start")
        if ends and is_first:
            begun = False
        if ends or (bracket is not None and not is_first and not begun):
            behind = index + 1


def from_musicxml(path):
    """Returns the main notes and the grace notes of the first part as music21 reads them."""
    return notes_of(without_fillers(music21.converter.parse(path, forceSource=True).parts[0]))


def without_fillers(part):
    """Returns the part without the hidden rests with which music21 fills the last bar of a strain, which is short by
    the pickup of the next. Such a rest is in the first or the last bar of the tune, or in a bar beside a repeat sign or
    a double bar."""

    def divides(before, after):
        right, left = before.rightBarline, after.leftBarline
        double = any(line is not None and line.type in ("double", "final") for line in (right, left))
        starts = isinstance(left, music21.bar.Repeat) and left.direction == "start"
        return double or starts or isinstance(right, music21.bar.Repeat)

    measures, cut = list(part.getElementsByClass(music21.stream.Measure)), 0
    for index, measure in enumerate(measures):
        part.setElementOffset(measure, measure.getOffsetBySite(part) - cut)
        rests = [rest for rest in measure.getElementsByClass(music21.note.Rest) if rest.style.hideObjectOnPrint]
        seen = [element for element in measure.notesAndRests if element not in rests]
        if not rests or not seen:
            continue
        first, last = min(e.offset for e in seen), max(e.offset + e.quarterLength for e in seen)
        opens = index == 0 or divides(measures[index - 1], measure)
        closes = index + 1 == len(measures) or divides(measure, measures[index + 1])
        lead = first if opens else 0
        for rest in rests:
            if (opens and rest.offset < first) or (closes and rest.offset >= last):
                measure.remove(rest)
                cut += rest.quarterLength
        for element in measure:
            measure.setElementOffset(element, max(element.offset - lead, 0))
    return part


def notes_of(part):
    mains, graces, tied = [], [], {}
    for element in part.flatten().notes:
        if isinstance(element, music21.harmony.ChordSymbol):
            continue
        onset, length = float(element.offset), float(element.quarterLength)
        for note in getattr(element, "notes", (element,)):
            midi = note.pitch.midi
            if element.duration.isGrace:
                graces.append((onset, midi))
                continue
            # music21's own stripTies also joins notes of different pitch if somebody typed a tie for a slur.
            tie, open_note = note.tie.type if note.tie else None, tied.pop(midi, None)
            if open_note and tie in ("stop", "continue") and abs(open_note[0] + open_note[1] - onset) < TOLERANCE:
                open_note[1] += length
            else:
                open_note = [onset, length, midi]
                mains.append(open_note)
            if tie in ("start", "continue"):
                tied[midi] = open_note
    return top_line(mains), graces


def from_midi(path):
    """Returns the main notes and the grace notes of the first track and channel with notes. An end belongs to the
    oldest note of its pitch, and a grace note begins and ends at one tick."""
    file = mido.MidiFile(path)
    parts = collections.defaultdict(list)

    def add(track, message, onset, end):
        quarter = file.ticks_per_beat
        parts[track, message.channel].append((onset / quarter, (end - onset) / quarter, message.note))

    for number, track in enumerate(file.tracks):
        now, sounding, early = 0, collections.defaultdict(list), {}
        for message in track:
            now += message.time
            if message.type not in ("note_on", "note_off"):
                continue
            key = (number, message.channel, message.note)
            if message.type == "note_on" and message.velocity > 0:
                if early.get(key) == now:
                    # music21 writes both events of a grace note at one tick, the end first.
                    del early[key]
                    add(number, message, now, now)
                else:
                    sounding[key].append(now)
            elif sounding[key]:
                add(number, message, sounding[key].pop(0), now)
            else:
                early[key] = now
    notes = parts[min(parts)]
    return top_line([note for note in notes if note[1] > 0]), [note for note in notes if note[1] == 0]


def top_line(notes):
    """Returns the highest note at each onset, no longer than to the next onset."""
    top = {}
    for onset, duration, midi in sorted(notes, key=lambda note: note[2]):
        top[onset] = [onset, duration, midi]
    line = [top[onset] for onset in sorted(top)]
    for note, following in zip(line, line[1:]):
        note[1] = min(note[1], following[0] - note[0])
    return line


def difference(program, path, reader):
    """Returns the difference between the program's and another reading of a file, or None."""
    unfold = ["--unfold"] if reader is unfolded_from_musicxml else []
    command = [program, "notes", path, "--part", "1", *unfold, "--json"]
    run = subprocess.run(command, capture_output=True, text=True)
    if run.returncode != 0:
        return f"exit code {run.returncode}: {run.stderr.strip()}"
    notes = json.loads(run.stdout)["notes"]
    ours = [[note["onset"], note["duration"], note["midi"]] for note in notes if not note.get("grace")]
    our_graces = sum(1 for note in notes if note.get("grace"))
    theirs, graces = reader(path)
    for index, (our, their) in enumerate(zip(ours, theirs)):
        if any(abs(a - b) > TOLERANCE for a, b in zip(our, their)):
            return f"note {index + 1} is {our}, expected {their} (onset, duration, midi)"
    if len(ours) != len(theirs):
        return f"{len(ours)} notes, expected {len(theirs)}"
    if our_graces != len(graces):
        return f"{our_graces} grace notes, expected {len(graces)}"
    return None


def compare(program, collection, count, kinds):
    """Compares the readings of `count` tunes of a collection. Returns the numbers of agreements and differences by
    kind, and of badly formed tunes."""
    warnings.simplefilter("ignore")
    folder = pathlib.Path("target/outside/tunes")
    folder.mkdir(parents=True, exist_ok=True)
    counts = collections.Counter()
    for number, (name, score) in enumerate(sample_of(collection, count)):
        written = set()
        for kind in kinds:
            format, reader = READERS[kind]
            path = str(folder / f"{collection}-{number}.{format}")
            try:
                if format not in written:
                    score.write(format, fp=path)
                    written.add(format)
            except Exception as error:  # music21 cannot write a few of its own tunes.
                print(f"skipped: {name} ({format}): music21 cannot write it: {error}", flush=True)
                continue
            try:
                why = difference(program, path, reader)
            except BadlyFormed:
                counts["badly formed"] += 1
                continue
            counts[kind, "agree" if why is None else "differ"] += 1
            if why is not None:
                reason = next((text for word, text in REASONS.items() if word in name), "not yet explained")
                print(f"differs: {name} ({path}, {kind}): {why}: {reason}", flush=True)
    return counts


READERS = {
    "musicxml": ("musicxml", from_musicxml),
    "unfolded": ("musicxml", unfolded_from_musicxml),
    "midi": ("midi", from_midi),
}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", metavar="BIN")
    parser.add_argument("count", nargs="?", type=int, default=800)
    parser.add_argument("--only", choices=READERS)
    arguments = parser.parse_args()
    kinds = [kind for kind in READERS if arguments.only in (None, kind)]

    # Each collection has its own process, because music21's reading and writing takes nearly all of the time.
    with concurrent.futures.ProcessPoolExecutor(len(COLLECTIONS)) as pool:
        each = [
            pool.submit(compare, arguments.program, collection, arguments.count // len(COLLECTIONS), kinds)
            for collection in COLLECTIONS
        ]
        counts = sum((job.result() for job in each), collections.Counter())
    for kind in kinds:
        print(f"  {kind}: {counts[kind, 'agree']} agree, {counts[kind, 'differ']} differ")
    if counts["badly formed"]:
        print(f"  {counts['badly formed']} tunes whose repeats music21 finds badly formed")
    agree, differ = (sum(counts[kind, word] for kind in kinds) for word in ("agree", "differ"))
    enough = all(counts[kind, "agree"] >= NEEDED * (counts[kind, "agree"] + counts[kind, "differ"]) > 0 for kind in kinds)
    print(f"{agree} readings agree, {differ} differ: {'within the bound' if enough else 'too many'}")
    sys.exit(0 if enough else 1)


if __name__ == "__main__":
    main()
