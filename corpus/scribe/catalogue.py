"""The table of tunes in the README of the corpus. The features of a tune are found in its notes, so they are true."""

from fractions import Fraction

START = "<!-- tunes: written by write.py -->"
END = "<!-- end of tunes -->"


def with_table(readme, tunes):
    """Returns the README with its table of tunes replaced."""
    before, _, rest = readme.partition(START)
    after = rest.partition(END)[2]
    rows = [
        "| tune | form | key | meter | range | exercises | tradition | first published (from memory) | files |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    rows += ["| " + " | ".join(row(tune)) + " |" for tune in tunes]
    return before + START + "\n\n" + "\n".join(rows) + "\n\n" + END + after


def row(tune):
    suffixes = ["musicxml", "mid"] + [extra for extra in tune.also if extra == "mxl"]
    files = " ".join(f"[{suffix}]({tune.name}.{suffix})" for suffix in suffixes)
    meters = ", ".join(dict.fromkeys(str(bar.meter) for bar in tune.bars))
    keys = " → ".join(dict.fromkeys(str(bar.key) for bar in tune.bars))
    return (
        tune.title, tune.form, keys, meters, compass(tune), ", ".join(features(tune)), tune.origin, tune.source, files,
    )


def compass(tune):
    """Returns the lowest and the highest note: `D4–A5`."""
    pitches = sorted({note.pitch for note in tune.notes if note.pitch}, key=lambda pitch: pitch.midi)
    return f"{pitches[0]}–{pitches[-1]}"


def features(tune):
    bars, notes = tune.bars, tune.notes
    sung = [note for note in notes if note.pitch]
    verses = max((verse for note in notes for verse in note.lyrics), default=0)
    lyrics = [lyric for note in notes for lyric in note.lyrics.values()]
    classes = {note.pitch.midi % 12 for note in sung}
    found = [
        (bars[0].number == 0, "pickup"),
        (any(bar.repeat_end for bar in bars), "repeats"),
        (any(bar.ending for bar in bars), "1st and 2nd endings"),
        (any(bar.second_half for bar in bars), "bar cut in two"),
        (any(bar.has("D.C.") for bar in bars), "D.C. al Fine"),
        (any(note.tuplet for note in notes), "triplets"),
        (any(note.tie_start and note is bar.notes[-1] for bar in bars for note in bar.notes), "tie across a bar"),
        (any(dotted_pair(bar) for bar in bars), "dotted rhythm"),
        (any(note.graces for note in notes), "grace notes"),
        (any(note.pitch is None for note in notes), "rests"),
        (any(note.slurs_start for note in notes), "slurs"),
        (any("breath" in note.marks for note in notes), "breath marks"),
        (any("fermata" in note.marks for note in notes), "fermata"),
        (any(note.chord for note in notes), "chord symbols"),
        (verses == 1, "words"),
        (verses > 1, f"words, {verses} verses"),
        (any(lyric.hyphen_after for lyric in lyrics), "hyphens"),
        (melisma(notes), "melismas"),
        (len(classes) == 5 and not any((tone + 1) % 12 in classes for tone in classes), "pentatonic"),
        (len(classes) == 6, "hexatonic"),
        (any(note.pitch.alter != bar.key.alter(note.pitch.step) for bar in bars for note in bar.notes if note.pitch),
         "accidentals"),
        (len({bar.key for bar in bars}) > 1, "change of key"),
    ]
    return [name for is_there, name in found if is_there]


def dotted_pair(bar):
    """Whether a dotted note has a short neighbour that completes its beat. In 6/8, a dotted quarter is a whole beat."""
    shorts = {Fraction(1, 4)} if bar.meter.unit == 8 else {Fraction(1, 4), Fraction(1, 2)}
    pairs = ({a.written, b.written} for a, b in zip(bar.notes, bar.notes[1:]))
    return any(min(pair) in shorts and max(pair) == 3 * min(pair) for pair in pairs)


def melisma(notes):
    """Whether a syllable is held over several notes. Tied notes count as one."""
    sung = [note for note in notes if note.pitch]
    if not any(note.lyrics for note in sung):
        return False
    return any(not note.lyrics and not note.tie_stop and before.lyrics for before, note in zip(sung, sung[1:]))
