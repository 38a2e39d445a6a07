#!/usr/bin/env python3
"""Reads the MusicXML and MIDI files of corpus/ and demo/ with music21 and mido and compares the two readings.

For each tune: the MusicXML parses; its bars are full, as written and as played; the `.mxl`, if there is one, contains
the same score; MIDI and MusicXML have the same notes at the same times, with the same words, tempo, key signatures and
title. The MIDI files of bands in demo/ have the tune, and chords, bass and drums on their channels.

    python3 tests/outside/check_corpus.py

The script needs the packages music21 and mido. Its last line is "N passed, M failed"; its exit code is 1 if any check
failed.
"""

import sys
import zipfile
from collections import deque
from fractions import Fraction
from pathlib import Path

import mido
import music21

ROOT = Path(__file__).resolve().parent.parent.parent
GRACE = Fraction(1, 8)  # the time that a grace note takes from its main note in our MIDI


def main():
    passed = failed = 0
    for path in sorted([*ROOT.glob("corpus/*.musicxml"), *ROOT.glob("demo/*.musicxml")]):
        score = music21.converter.parse(path, forceSource=True)
        checks = [bars_are_full, midi_sounds_the_same, midi_says_the_same, midi_parses]
        if path.with_suffix(".mxl").exists():
            checks.append(mxl_holds_the_same)
        for check in checks:
            try:
                check(path, score)
                passed += 1
            except Exception as error:  # a check that raises an error counts as failed
                failed += 1
                print(f"{path.name}: {check.__name__}: {error or 'failed'}")
    for path in sorted(ROOT.glob("demo/*-band.mid")):
        try:
            band_plays_the_tune(path)
            passed += 1
        except Exception as error:
            failed += 1
            print(f"{path.name}: {error or 'failed'}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


def bars_are_full(path, score):
    part = score.parts[0]
    bars = list(part.getElementsByClass("Measure"))
    short = Fraction(0)
    for index, bar in enumerate(bars):
        notes = sum((exact(note.quarterLength) for note in bar.notesAndRests), Fraction(0))
        want = exact(bar.barDuration.quarterLength)
        if notes == want:
            continue
        halves = index == 0 or short + notes == want or ends_a_section(bars, index)
        assert notes < want and halves, f"bar {bar.number} has {notes} of {want} quarters"
        short = notes
    played = part.expandRepeats() if has_repeats(part) else part
    length = exact(played.duration.quarterLength)
    if len({exact(bar.barDuration.quarterLength) for bar in bars}) == 1:
        # The last bar is short by the length of the pickup, or full in spite of the pickup.
        pickup = exact(bars[0].duration.quarterLength)
        assert length % want in (0, pickup), f"with its repeats the tune lasts {length} quarters, which is no whole number of bars"


def ends_a_section(bars, index):
    right = bars[index].rightBarline
    return index + 1 == len(bars) or (right is not None and right.type != "regular")


def has_repeats(part):
    return bool(part[music21.bar.Repeat]) or bool(part[music21.repeat.RepeatExpression])


def score_notes(score):
    """Returns onset, length and pitch of every sounding note, with grace notes as our MIDI plays them."""
    found, graces = [], []
    for note in score.parts[0].stripTies().flatten().notes:
        if isinstance(note, music21.harmony.ChordSymbol):
            continue
        if note.duration.isGrace:
            graces.append(note.pitch.midi)
            continue
        start, end = exact(note.offset), exact(note.offset) + exact(note.quarterLength)
        for pitch in graces:
            found.append((start, GRACE, pitch))
            start += GRACE
        found.append((start, end - start, note.pitch.midi))
        graces = []
    return found


def midi_notes(path, channel=0):
    file = mido.MidiFile(path)
    assert file.type == 1 and file.ticks_per_beat == 480
    found, sounding = [], {}
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.channel == channel:
                sounding.setdefault(message.note, deque()).append(now)
            elif message.type == "note_off" and message.channel == channel:
                start = sounding[message.note].popleft()
                found.append((Fraction(start, 480), Fraction(now - start, 480), message.note))
    assert not any(sounding.values()), "a note never ends"
    return sorted(found)


def midi_sounds_the_same(path, score):
    written, sounding = score_notes(score), midi_notes(path.with_suffix(".mid"))
    assert written, "no notes"
    for wanted, found in zip(written, sounding):
        assert wanted == found, f"MusicXML has (onset, length, pitch) {show(wanted)}, MIDI {show(found)}"
    assert len(written) == len(sounding), f"MusicXML has {len(written)} notes, MIDI {len(sounding)}"


def midi_says_the_same(path, score):
    part = score.parts[0]
    messages = [message for track in mido.MidiFile(path.with_suffix(".mid")).tracks for message in track]
    words = "".join(message.text for message in messages if message.type == "lyrics")
    wanted = "".join(
        lyric.text + ("" if lyric.syllabic in ("begin", "middle") else " ")
        for note in part.flatten().notes for lyric in note.lyrics if lyric.number == 1
    )
    assert words == wanted.replace("\u2019", "'"), f"words: MusicXML {wanted!r}, MIDI {words!r}"
    tempo = part.flatten()[music21.tempo.MetronomeMark].first().getQuarterBPM()
    assert abs(mido.tempo2bpm(next(m.tempo for m in messages if m.type == "set_tempo")) - tempo) < 0.01, "tempo"
    sharps = [key.sharps for key in part.flatten()[music21.key.KeySignature]]
    found = [music21.key.Key(m.key.rstrip("m"), "minor" if m.key.endswith("m") else "major").sharps
             for m in messages if m.type == "key_signature"]
    assert sharps == found, f"key signatures: MusicXML {sharps}, MIDI {found}"
    assert score.metadata.title == next(m.name for m in messages if m.type == "track_name"), "title"


def midi_parses(path, score):
    read = music21.converter.parse(path.with_suffix(".mid"), forceSource=True, quantizePost=False, encoding="latin-1")
    pitches = [note.pitch.midi for note in read.parts[0].stripTies().flatten().notes]
    assert pitches == [pitch for _, _, pitch in score_notes(score)], "music21 reads other pitches from the MIDI"


def mxl_holds_the_same(path, score):
    packed = path.with_suffix(".mxl")
    with zipfile.ZipFile(packed) as archive:
        assert archive.testzip() is None
        assert archive.read(path.name) == path.read_bytes(), "the packed score differs"
    assert score_notes(music21.converter.parse(packed, forceSource=True)) == score_notes(score)


def band_plays_the_tune(path):
    """Checks that the band's melody is the score with its repeats, and that chords, bass and drums have their
    channels."""
    source = path.with_name(path.name.replace("-band.mid", ".musicxml"))
    part = music21.converter.parse(source, forceSource=True).parts[0].expandRepeats()
    wanted = [note.pitch.midi for note in part.flatten().stripTies().notes
              if not isinstance(note, music21.harmony.ChordSymbol)]
    melody = midi_notes(path)
    assert [pitch for _, _, pitch in melody] == wanted, "the band's melody differs"
    assert midi_notes(path, 9), "no drums"
    assert all(midi_notes(path, channel) for channel in (1, 2)), "no chords or no bass"


def exact(number):
    return Fraction(number).limit_denominator(960)


def show(note):
    return tuple(str(value) for value in note)


if __name__ == "__main__":
    sys.exit(main())
