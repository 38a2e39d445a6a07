"""Arranges a tune with chord symbols for a small band: drums, bass, chords and melody.

The tracks have no names, and the melody comes last, as in many files in circulation. Repeats are written out, because a
band plays them. The file starts with a whole bar, in which rests precede the pickup.
"""

from fractions import Fraction

from . import midi
from .musicxml import split_chord
from .tune import SEMITONES, Tune, played

MELODY, CHORDS, BASS, DRUMS = 0, 1, 2, 9  # channels from 0: the drums are the tenth
PROGRAMS = {MELODY: 110, CHORDS: 24, BASS: 32}  # General MIDI, from 0: fiddle, nylon guitar, acoustic bass
KICK, SNARE, HAT = 36, 38, 42
INTERVALS = {"": (0, 4, 7), "m": (0, 3, 7), "7": (0, 4, 7, 10), "m7": (0, 3, 7, 10)}
LOWEST_BASS, LOWEST_CHORD = 40, 52  # E2 and E3


def band(tune: Tune) -> bytes:
    bars = played(tune.bars)
    meter = bars[0].meter
    lead_in = (meter.bar - bars[0].length) % meter.bar
    end = lead_in + sum(bar.length for bar in bars)
    changes = symbols(bars, lead_in)
    chords, bass, drums = program(CHORDS), program(BASS), []
    beat = Fraction(3, 2) if meter.unit == 8 else Fraction(4, meter.unit)
    for count in range(int(end / beat)):
        time = count * beat
        short, long = (midi.ticks(time + part * beat) for part in (Fraction(1, 3), Fraction(1)))
        start, in_bar = midi.ticks(time), time % meter.bar / beat
        drums += midi.sounding(start, short, HAT, DRUMS, 40)
        if time < lead_in:
            continue  # the hi-hat counts in
        root, kind, low = split_chord([chord for at, chord in changes if at <= time][-1])
        if in_bar == 0:
            bass += midi.sounding(start, long, key_of(low or root, LOWEST_BASS), BASS, 75)
            drums += midi.sounding(start, short, KICK, DRUMS, 60)
        else:
            for interval in INTERVALS[kind]:
                chords += midi.sounding(start, short, key_of(root, LOWEST_CHORD) + interval, CHORDS, 55)
            drums += midi.sounding(start, short, SNARE, DRUMS, 45)
    melody = program(MELODY) + midi.notes(bars, MELODY, lead_in)
    head = [midi.tempo(tune.tempo), midi.time_signature(0, meter.beats, meter.unit), midi.key_signature(0, tune.key)]
    return midi.file([head, drums, bass, chords, melody])


def symbols(bars, at):
    """Returns the chord symbols with their times; the first symbol is moved to the start."""
    found = []
    for bar in bars:
        for note in bar.notes:
            if note.chord:
                found.append((at if found else Fraction(0), note.chord))
            at += note.length
    return found


def key_of(name, lowest):
    """Returns the MIDI number of the named note within the octave that starts at `lowest`."""
    tone = SEMITONES[name[0]] + name.count("#") - name.count("b")
    return lowest + (tone - lowest) % 12


def program(channel):
    return [(0, midi.META, bytes([0xC0 | channel, PROGRAMS[channel]]))]
