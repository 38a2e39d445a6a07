"""Writes a tune as a Standard MIDI File of format 1. Repeats are not written out."""

from collections import Counter
from fractions import Fraction

from .tune import Tune

TICKS = 480  # per quarter
GRACE = TICKS // 8  # a thirty-second note, taken from the note that the grace belongs to
VELOCITY = 80
# The order of events at the same time: settings and names, ends of notes, syllables, starts of notes.
META, OFF, LYRIC, ON = range(4)


def midi(tune: Tune) -> bytes:
    melody = [(0, META, meta(0x03, b"Melody"))] + notes(tune.bars)
    return file([conductor(tune, tune.bars), melody])


def conductor(tune, bars):
    """Returns the events for title, tempo, meters and keys.

    MIDI has no bars, only meters. A pickup and the halves of a bar that a repeat cuts therefore get a meter of that
    length. Otherwise, every bar line after them would be in the wrong place.
    """
    events = [(0, META, meta(0x03, latin(tune.title))), tempo(tune.tempo)]
    at, meter, key = Fraction(0), None, None
    for bar in bars:
        if bar.key != key:
            key = bar.key
            events.append(key_signature(at, key))
        unit = bar.meter.unit
        if bar.length != bar.meter.bar:
            unit = max(unit, (bar.length / 4).denominator)
        beats = int(bar.length * unit / 4)
        if (beats, unit) != meter:
            meter = beats, unit
            events.append(time_signature(at, beats, unit))
        at += bar.length
    return events


def tempo(tempo):
    per_quarter = round(60_000_000 / tempo.quarters_per_minute)
    return (0, META, meta(0x51, per_quarter.to_bytes(3, "big")))


def time_signature(at, beats, unit):
    return (ticks(at), META, meta(0x58, bytes([beats, unit.bit_length() - 1, 24, 8])))


def key_signature(at, key):
    """Returns the event for a key. MIDI has only major and minor; other modes become major, with their own signature."""
    return (ticks(at), META, meta(0x59, bytes([key.fifths % 256, key.mode in ("minor", "aeolian")])))


def notes(bars, channel=0, at=Fraction(0)):
    """Returns the events of the melody and of its words: an event for each syllable, and a space after a word (RP-017).

    When a bar is played again, it takes the words of the next verse, or of the first verse if there is no other.
    """
    events = []
    times = Counter()
    for bar in bars:
        times[id(bar)] += 1
        for note in bar.notes:
            if note.pitch:
                start, end = ticks(at), ticks(at + note.length)
                lyric = note.lyrics.get(times[id(bar)], note.lyrics.get(1))
                if lyric:
                    text = lyric.text + ("" if lyric.hyphen_after else " ")
                    events.append((start, LYRIC, meta(0x05, latin(text))))
                for grace, _ in note.graces:
                    events += sounding(start, start + GRACE, grace.midi, channel)
                    start += GRACE
                if not note.tie_stop:
                    events.append((start, ON, on(note.pitch.midi, channel)))
                if not note.tie_start:
                    events.append((end, OFF, off(note.pitch.midi, channel)))
            at += note.length
    return events


def sounding(start, end, key, channel, velocity=VELOCITY):
    return [(start, ON, on(key, channel, velocity)), (end, OFF, off(key, channel))]


def on(key, channel, velocity=VELOCITY):
    return bytes([0x90 | channel, key, velocity])


def off(key, channel):
    return bytes([0x80 | channel, key, 0])


def meta(kind, content):
    return bytes([0xFF, kind]) + variable(len(content)) + content


def latin(text):
    """Returns text in Latin-1, the default of MIDI (RP-026). A typographic apostrophe becomes a straight one."""
    return text.replace("\u2019", "'").encode("latin-1")


def ticks(beats):
    whole = Fraction(beats) * TICKS
    assert whole.denominator == 1, "a length that is no whole number of ticks"
    return whole.numerator


def file(tracks):
    out = b"MThd" + (6).to_bytes(4, "big") + b"".join(n.to_bytes(2, "big") for n in (1, len(tracks), TICKS))
    for events in tracks:
        chunk, now = b"", 0
        for time, _, message in sorted(events, key=lambda event: event[:2]):
            chunk += variable(time - now) + message
            now = time
        chunk += variable(0) + meta(0x2F, b"")
        out += b"MTrk" + len(chunk).to_bytes(4, "big") + chunk
    return out


def variable(number):
    """Returns a number in MIDI's variable length: seven bits in each byte, and the top bit set in all but the last."""
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(0x80 | number & 0x7F)
    return bytes(reversed(out))
