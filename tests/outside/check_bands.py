"""Asks the program which part of a band score is the tune.

The check generates bands around tunes of the O'Neill (1850) and Ryan's Mammoth collections that come with music21. Each
band has chords, bass and drums, and every third band has a second voice. The tracks are shuffled, and in half of the
bands they have no names. The soprano is to be found in the four-part chorales that come with music21, as MIDI files
with shuffled tracks without names, and in their original files.

    check_bands.py BIN [BANDS] [CHORALES]

The check calls BIN as `BIN notes FILE --json`. The exit code is 1 if the program finds the tune in fewer than 95 % of
the bands, or the soprano in fewer than 95 % of the chorales.
"""

import argparse
import json
import pathlib
import random
import subprocess
import sys
import warnings

import mido
import music21

from check_tunes import sample

QUARTER = 480
NEEDED = 0.95
TUNE_PROGRAMS = (0, 21, 22, 40, 52, 56, 65, 68, 71, 73, 75, 80, 105)
CHORD_PROGRAMS = (0, 4, 16, 24, 25, 26, 46, 48, 50, 52, 89)
BASS_PROGRAMS = (32, 33, 34, 43, 58, 0)
ROLE_NAMES = {"tune": "Melody", "chords": "Chords", "bass": "Bass", "drums": "Drums", "second": "Harmony"}
INSTRUMENT_NAMES = {"tune": "Fiddle", "chords": "Guitar", "bass": "Upright", "drums": "Kit", "second": "Viola"}


def line_of(part):
    """Returns onset, duration (both in quarters) and pitch of a part's notes; of a chord, only the top note."""
    notes = []
    for element in part.flatten().stripTies().notes:
        if isinstance(element, music21.harmony.ChordSymbol) or element.duration.isGrace:
            continue
        pitch = max(pitch.midi for pitch in element.pitches)
        notes.append((float(element.offset), float(element.quarterLength), pitch))
    return notes


def chords_for(tune, bar, sharps):
    """Returns for each bar the triad whose notes sound longest in it, as pitch classes from the root upwards. The
    triads are I, V, IV, VI and II of the major key of the signature."""
    tonic = (7 * sharps) % 12
    triads = [[(tonic + step) % 12 for step in steps] for steps in ((0, 4, 7), (7, 11, 2), (5, 9, 0), (9, 0, 4), (2, 5, 9))]
    end = max(onset + duration for onset, duration, _ in tune)
    chords = []
    for index in range(int(end / bar) + 1):
        inside = [(duration, pitch % 12) for onset, duration, pitch in tune if index * bar <= onset < (index + 1) * bar]
        chords.append(max(triads, key=lambda triad: sum(duration for duration, pitch in inside if pitch in triad)))
    return chords


def near(pitch_class, centre):
    """Returns the pitch of a pitch class that is nearest to the pitch `centre`."""
    return centre + (pitch_class - centre + 6) % 12 - 6


def chord_part(chords, bar, choice):
    style, centre = choice.choice(("block", "offbeat", "arpeggio", "pad")), choice.choice((55, 60, 64))
    notes = []
    for index, triad in enumerate(chords):
        start, pitches = index * bar, sorted(near(pitch, centre) for pitch in triad)
        if style == "pad":
            notes += [(start, bar, pitch) for pitch in pitches]
        elif style == "arpeggio":
            notes += [(start + step / 2, 0.5, pitches[(0, 1, 2, 1)[step % 4]]) for step in range(int(bar * 2))]
        else:
            shift = 0.5 if style == "offbeat" else 0
            notes += [(start + beat + shift, 0.5, pitch) for beat in range(int(bar)) for pitch in pitches]
    return notes


def bass_part(chords, bar, choice):
    style, centre = choice.choice(("roots", "fifths", "walking")), choice.choice((36, 41, 45))
    notes = []
    for index, triad in enumerate(chords):
        root = near(triad[0], centre)
        if style == "roots":
            notes.append((index * bar, bar, root))
            continue
        for beat in range(int(bar)):
            target = near(chords[min(index + 1, len(chords) - 1)][0], centre)
            walk = root + round((target - root) * beat / bar)
            notes.append((index * bar + beat, 1, walk if style == "walking" else root + 7 * (beat % 2)))
    return notes


def second_part(tune, chords, bar, sharps, choice):
    """Returns a second voice: thirds below the tune (a fourth where the scale has no third), or long notes of the chord
    below or above it."""
    style = choice.choice(("thirds", "long below", "long above"))
    if style == "thirds":
        scale = [(7 * sharps + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)]
        return [
            (onset, duration, next((pitch - down for down in (3, 4) if (pitch - down) % 12 in scale), pitch - 5))
            for onset, duration, pitch in tune
        ]
    middle = sum(pitch for _, _, pitch in tune) // len(tune)
    centre = middle + (10 if style == "long above" else -9)
    half = bar / 2
    return [
        (index * bar + part * half, half, near(triad[(index + part) % 3], centre))
        for index, triad in enumerate(chords)
        for part in range(2)
    ]


def drum_part(bars, bar):
    return [
        (index * bar + beat / 2, 0.25, 42 if beat % 2 else (36, 38)[beat // 2 % 2])
        for index in range(bars)
        for beat in range(int(bar * 2))
    ]


def track_of(notes, channel, program, name, jitter, choice):
    events = []
    for onset, duration, pitch in notes:
        late = choice.randint(-jitter, jitter)
        start = max(0, round(onset * QUARTER) + late)
        end = max(start + 1, round((onset + duration) * QUARTER) + late - (10 if jitter else 0))
        events += [(start, 1, pitch), (end, 0, pitch)]
    track = mido.MidiTrack()
    if name:
        track.append(mido.MetaMessage("track_name", name=name))
    if channel != 9:
        track.append(mido.Message("program_change", channel=channel, program=program))
    now = 0
    for tick, on, pitch in sorted(events):
        kind = "note_on" if on else "note_off"
        pitch = min(127, max(0, pitch))
        track.append(mido.Message(kind, channel=channel, note=pitch, velocity=80, time=tick - now))
        now = tick
    return track


def save(path, tracks, meter):
    file = mido.MidiFile(type=1, ticks_per_beat=QUARTER)
    conductor = mido.MidiTrack()
    conductor.append(mido.MetaMessage("time_signature", numerator=meter.numerator, denominator=meter.denominator))
    file.tracks += [conductor, *tracks]
    file.save(path)


def picked(program, path):
    run = subprocess.run([program, "notes", path, "--json"], capture_output=True, text=True)
    if run.returncode != 0:
        return None, run.stderr.strip()
    part = json.loads(run.stdout)["part"]
    return part["number"], part["why"]


def band(score, number, choice, path):
    """Writes a band around a tune. Returns the number of the tune's part, counted from 1, and the roles of the parts in
    their order.

    Returns None if the tune has no time signature, if MIDI cannot write the signature, or if the bars are shorter than
    a quarter.
    """
    tune = line_of(score.parts[0] if score.parts else score)
    flat = score.flatten()
    meter = flat.getElementsByClass(music21.meter.TimeSignature).first()
    key = flat.getElementsByClass(music21.key.KeySignature).first()
    if meter is None or meter.denominator & (meter.denominator - 1) or meter.barDuration.quarterLength < 1:
        return None
    sharps, bar = (key.sharps if key else 0), meter.barDuration.quarterLength
    octave = choice.choice((-12, 0, 0, 12))
    tune = [(onset, duration, pitch + octave) for onset, duration, pitch in tune]
    chords = chords_for(tune, bar, sharps)
    lines = {
        "tune": (tune, choice.choice(TUNE_PROGRAMS)),
        "chords": (chord_part(chords, bar, choice), choice.choice(CHORD_PROGRAMS)),
        "bass": (bass_part(chords, bar, choice), choice.choice(BASS_PROGRAMS)),
        "drums": (drum_part(len(chords), bar), 0),
    }
    if number % 3 == 0:
        lines["second"] = (second_part(tune, chords, bar, sharps, choice), choice.choice(TUNE_PROGRAMS))
    order = list(lines)
    choice.shuffle(order)
    names = {} if number % 2 else choice.choice((ROLE_NAMES, INSTRUMENT_NAMES))
    jitter = choice.choice((0, 0, 8))
    tracks = []
    for channel, role in enumerate(order):
        notes, program = lines[role]
        tracks.append(track_of(notes, 9 if role == "drums" else channel, program, names.get(role), jitter, choice))
    save(path, tracks, meter)
    return order.index("tune") + 1, order


def count_bands(program, count, folder):
    choice = random.Random(1882)
    passed = failed = 0
    for number, (name, score) in enumerate(sample(count)):
        path = str(folder / f"band{number}.mid")
        written = band(score, number, choice, path)
        if written is None:
            continue
        expected, order = written
        found, why = picked(program, path)
        if found == expected:
            passed += 1
        else:
            failed += 1
            taken = order[found - 1] if found else "nothing"
            print(f"wrong: {path} ({name}): {taken} instead of part {expected} of {order}: {why}")
    return passed, failed


def count_chorales(program, count, folder):
    choice = random.Random(1685)
    paths = sorted((pathlib.Path(music21.__file__).parent / "corpus" / "bach").glob("bwv*.mxl"))
    choice.shuffle(paths)
    passed = failed = used = 0
    for path in paths:
        if used == count:
            break
        score = music21.corpus.parse(f"bach/{path.name}")
        if [part.partName for part in score.parts] != ["Soprano", "Alto", "Tenor", "Bass"]:
            continue
        meter = score.flatten().getElementsByClass(music21.meter.TimeSignature).first()
        if meter is None:
            continue
        used += 1
        order = [0, 1, 2, 3]
        choice.shuffle(order)
        midi = str(folder / f"{path.stem}.mid")
        lines = [line_of(score.parts[voice]) for voice in order]
        save(midi, [track_of(line, index, 52, None, 0, choice) for index, line in enumerate(lines)], meter)
        for file, expected in ((midi, order.index(0) + 1), (str(path), 1)):
            found, why = picked(program, file)
            if found == expected:
                passed += 1
            else:
                failed += 1
                print(f"wrong: {file}: part {found} instead of {expected}: {why}")
    return passed, failed


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", metavar="BIN")
    parser.add_argument("bands", nargs="?", type=int, default=150)
    parser.add_argument("chorales", nargs="?", type=int, default=100)
    arguments = parser.parse_args()
    warnings.simplefilter("ignore")
    folder = pathlib.Path("target/outside/bands")
    folder.mkdir(parents=True, exist_ok=True)
    results = {
        "bands": count_bands(arguments.program, arguments.bands, folder),
        "chorales": count_chorales(arguments.program, arguments.chorales, folder),
    }
    for kind, (passed, failed) in results.items():
        print(f"{kind}: {passed} of {passed + failed}")
    print(f"{sum(p for p, _ in results.values())} passed, {sum(f for _, f in results.values())} failed")
    enough = all(passed and passed >= NEEDED * (passed + failed) for passed, failed in results.values())
    sys.exit(0 if enough else 1)


if __name__ == "__main__":
    main()
