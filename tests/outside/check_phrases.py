"""Compares the phrase ends that the program finds with the phrase ends of the editors of folk songs.

The songs are the European songs of the Essen collection in music21, without the files that are held back
(`labelled_tunes.py` names the others). Every line of the ABC is one phrase, as its editor divided the song. The check
asks about every eighth song (with --all, about all), written as MusicXML without words, slurs, repeats and double bars,
so that only notes, rests and bars give clues. The results are compared with those of rests alone and of the model of
E. Cambouropoulos ("The Local Boundary Detection Model", ICMC 2001; formula from memory). A local peak of 0.35 or more
in that model counts as an end. The last note of a song always ends a phrase, so it is left out. Precision, recall and
F1 are means over the songs.

    check_phrases.py BIN [--all]

The exit code is 1 if the program is no better than the model, or worse than its own documentation says, or if more than
one song in a hundred is left out.
"""

import statistics
import sys
from pathlib import Path

import outside
import labelled_tunes as tunes

FOLDER = Path(__file__).resolve().parents[2] / "target" / "outside-phrases"
PEAK = 0.35
# The figures in the documentation of src/melody/phrase.rs, as percentages. The measured figures may be lower by SLACK,
# because those for all songs differ from those for every eighth song.
CLAIMS, SLACK = {"precision": 74, "recall": 74}, 1


def boundary_model(notes):
    """Returns the strength of a boundary after each note except the last."""
    pairs = list(zip(notes, notes[1:]))
    profiles = (
        (0.25, [abs(b.midi - a.midi) for a, b in pairs]),
        (0.50, [float(b.onset - a.onset) for a, b in pairs]),
        (0.25, [max(0.0, float(b.onset - a.onset - a.duration)) for a, b in pairs]),
    )
    strengths = [0.0] * len(pairs)
    for weight, profile in profiles:
        change = [abs(a - b) / (a + b) if a + b else 0.0 for a, b in zip(profile, profile[1:])]
        # The first and the last interval use their only neighbour.
        before, after = [0.0, *change], [*change, 0.0]
        raw = [x * (b + a) for x, b, a in zip(profile, before, after)]
        most = max(raw, default=0.0)
        if most > 0:
            strengths = [s + weight * x / most for s, x in zip(strengths, raw)]
    return strengths


def by_boundary_model(notes):
    strengths = boundary_model(notes)
    padded = [0.0, *strengths, 0.0]
    return {i for i, s in enumerate(strengths) if s >= PEAK and s >= padded[i] and s >= padded[i + 2]}


def by_rests(notes):
    return {i for i, (a, b) in enumerate(zip(notes, notes[1:])) if b.onset > a.onset + a.duration}


def scores(found, true):
    """Returns precision, recall and F1."""
    hits = len(found & true)
    precision = hits / len(found) if found else float(not true)
    recall = hits / len(true) if true else 1.0
    return precision, recall, 2 * precision * recall / (precision + recall) if precision + recall else 0.0


def main():
    check, breathline = outside.start(sys.argv)
    example = [tunes.Note(onset, length, midi, 0, None) for midi, onset, length in zip(
        (60, 62, 64, 65, 67, 67, 65, 64), (0, 1, 2, 3, 4, 7, 8, 9), (1, 1, 1, 1, 2, 1, 1, 2))]
    # These values were computed by hand from the formula.
    expected = (0, 0.0625, 0.0625, 0.3333, 0.75, 0.3333, 0.0312)
    check("the boundary model gives its worked example",
          all(abs(a - b) < 1e-3 for a, b in zip(boundary_model(example), expected)))

    FOLDER.mkdir(parents=True, exist_ok=True)
    songs = list(tunes.songs())
    chosen = songs if "--all" in sys.argv else songs[::8]
    results, skipped = {}, 0
    for index, song in enumerate(chosen):
        for bar in song.bars:
            bar.section_end = bar.repeat_end = bar.repeat_start = False
            bar.ending = ""
        path = FOLDER / f"{index % 50}.musicxml"
        path.write_text(tunes.musicxml(song, song.sharps), "utf-8")
        answer = breathline("notes", path)["notes"]
        last = len(song.notes) - 1
        if [note["midi"] for note in answer] != [note.midi for note in song.notes]:
            skipped += 1
            continue
        true = {i for i, note in enumerate(song.notes) if note.line_end and i < last}
        ours = {i for i, note in enumerate(answer) if "phrase_end" in note and i < last}
        for name, found in (("program", ours), ("boundary model", by_boundary_model(song.notes)),
                            ("rests", by_rests(song.notes)), ("after every note", set(range(last)))):
            results.setdefault(name, []).append(scores(found, true))
    print(f"{len(chosen)} of {len(songs)} songs, {skipped} left out because the notes read differ from those written")
    print(f"{'phrase ends, %':20}{'precision':>12}{'recall':>12}{'F1':>12}")
    means = {name: [100 * statistics.mean(column) for column in zip(*rows)] for name, rows in results.items()}
    for name, row in means.items():
        print(f"{name:20}" + "".join(f"{value:12.1f}" for value in row))
    check("hardly any song is left out", skipped <= len(chosen) // 100)
    precision, recall, f1 = means["program"]
    check(f"F1 {f1:.1f} is above the boundary model's {means['boundary model'][2]:.1f}", f1 > means["boundary model"][2])
    for name, value in (("precision", precision), ("recall", recall)):
        check(f"{name} {value:.1f} is at least the {CLAIMS[name]} of the documentation, less {SLACK}", value >= CLAIMS[name] - SLACK)
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
