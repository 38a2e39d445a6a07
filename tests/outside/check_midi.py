"""Reads MIDI files with the program's library, with mido and with symusic, and compares every note of every part.

Usage: check_midi.py BREATHLINE

The files are all MIDI files in the packages music21 and partitura, those of corpus/ and demo/, and odd files made here:
running status, one key twice at once, ends written as velocity 0, formats 0, 1 and 2, time in frames, a RIFF wrapper,
notes that never end, chunks of other kinds. The example `midi_parts`, which `cargo build --release --examples` puts
beside the program, gives the library's reading: the notes of each part (a track and a channel), before one part becomes
the melody.

mido only reads events, so this check pairs the notes: the oldest note of a pitch ends first, and a note without an end
lasts to the end of its track. symusic pairs notes itself, drops notes that never end, and gives a few notes another
end. Its differences from mido's events are counted separately. If the library reports that it moved a part to the grid
of written music, a note may start up to a sixteenth note from its played place, and may end anywhere. If it reports
that it lengthened notes, they may end anywhere. All other starts and ends may differ by at most a 24th of a quarter.
"""

import collections
import io
import json
import struct
import subprocess
import sys
import tempfile
from fractions import Fraction
from pathlib import Path

import mido
import music21
import partitura
import symusic

import outside

HOME = Path(__file__).resolve().parent.parent.parent
# How far the library may move the start of a played note, in quarters.
NEAR = Fraction(1, 4)
QUARTER = 480


def varying(value):
    """Returns a number as a variable-length quantity, with seven bits a byte."""
    data = [value & 0x7F]
    while value := value >> 7:
        data.insert(0, value & 0x7F | 0x80)
    return bytes(data)


def track(*events):
    """Returns a track chunk made from pairs of ticks and the bytes of an event, with its end mark."""
    data = b"".join(varying(delta) + bytes(event) for delta, event in events) + b"\0\xff\x2f\0"
    return b"MTrk" + struct.pack(">I", len(data)) + data


def header(form, tracks, division=QUARTER):
    return b"MThd" + struct.pack(">IHHh" if division < 0 else ">IHHH", 6, form, tracks, division)


def on(key, channel=0):
    return (0x90 | channel, key, 80)


def off(key, channel=0):
    return (0x80 | channel, key, 64)


def made():
    """Yields pairs of the name of an oddity and a file with this oddity."""
    scale = [(0, on(60)), (480, off(60)), (0, on(62)), (240, off(62)), (0, on(64)), (240, off(64)), (0, on(65)), (960, off(65))]
    running = [(0, on(60)), (480, (60, 0)), (0, (62, 70)), (240, (62, 0)), (0, (64, 70)), (240, (64, 0))]
    yield "running status and velocity 0", header(0, 1) + track(*running)
    meta_between = [(0, on(60)), (240, (0xFF, 1, 1, 65)), (240, off(60)), (0, (0xF0, 2, 1, 0xF7)), (0, on(62)), (480, off(62))]
    yield "meta and system exclusive events between notes", header(0, 1) + track(*meta_between)
    again = [(0, on(60)), (240, on(60)), (240, off(60)), (240, off(60)), (0, on(62)), (480, off(62))]
    yield "the same key twice at one time", header(0, 1) + track(*again)
    legato = [(0, on(60)), (480, on(62)), (30, off(60)), (450, on(64)), (30, off(62)), (450, off(64))]
    yield "a note that overlaps the next", header(0, 1) + track(*legato)
    chord = [(0, on(60)), (0, on(64)), (0, on(67)), (480, off(64)), (0, off(60)), (480, off(67))]
    yield "a chord whose notes end one by one", header(0, 1) + track(*chord)
    channels = [(0, on(72)), (0, on(48, 1)), (0, on(36, 9)), (480, off(72)), (0, off(36, 9)), (480, off(48, 1))]
    yield "format 0 with three channels", header(0, 1) + track(*channels)
    yield "format 1", header(1, 3) + track((0, (0xFF, 0x51, 3, 6, 0, 0))) + track(*scale) + track((0, on(48, 1)), (1920, off(48, 1)))
    yield "format 2", header(2, 2) + track(*scale) + track((0, on(50)), (480, off(50)))
    yield "never ended", header(0, 1) + track((0, on(60)), (480, off(60)), (0, on(62)), (480, on(64)), (480, off(64)))
    yield "an end without a note", header(0, 1) + track((0, off(60)), *scale)
    yield "a long wait", header(0, 1) + track((200_000, on(60)), (480, off(60)))
    yield "a chunk of another kind", header(0, 1) + b"XFIH" + struct.pack(">I", 4) + b"abcd" + track(*scale)
    yield "few ticks", header(0, 1, 24) + track((0, on(60)), (8, off(60)), (0, on(62)), (8, off(62)), (0, on(64)), (8, off(64)))
    yield "uneven ticks", header(0, 1, 100) + track(*[(d * 100 // 480, e) for d, e in scale])
    yield "frames", header(0, 1, -25 * 256 + 40) + track((0, on(60)), (500, off(60)), (0, on(62)), (250, off(62)))
    whole = header(0, 1) + track(*scale)
    padded = whole + b"\0" * (len(whole) % 2)
    data = b"RMID" + b"data" + struct.pack("<I", len(whole)) + padded
    yield "a RIFF wrapper", b"RIFF" + struct.pack("<I", len(data)) + data
    silence = [(0, on(60)), (0, on(64)), (480, (0xB0, 123, 0)), (0, on(62)), (480, off(62))]
    yield "all notes off", header(0, 1) + track(*silence)


def bare(data):
    """Returns the header and the tracks alone, because mido reads no wrapper and no chunks of other kinds."""
    at, kept = data.find(b"MThd"), b""
    while at + 8 <= len(data):
        end = at + 8 + struct.unpack(">I", data[at + 4 : at + 8])[0]
        kept += data[at:end] if data[at : at + 4] in (b"MThd", b"MTrk") else b""
        at = end
    return kept


def events(path):
    """Returns mido's parts, as a list of (onset, end, pitch) in quarters by track and channel, and whether all notes end."""
    file = mido.MidiFile(file=io.BytesIO(bare(Path(path).read_bytes())))
    quarter = Fraction(file.ticks_per_beat)
    if file.ticks_per_beat < 0 or file.ticks_per_beat >= 0x8000:
        division = file.ticks_per_beat & 0xFFFF
        # Time in frames has no quarters, so half a second is taken as a quarter.
        quarter = Fraction((256 - (division >> 8)) * (division & 0xFF), 2)
    parts, ended = {}, True
    for number, messages in enumerate(file.tracks):
        now, sounding, found = 0, collections.defaultdict(list), collections.defaultdict(list)
        for message in messages:
            now += message.time
            silences = message.type == "control_change" and message.control in (120, 123, 124, 125, 126, 127)
            if silences:
                for (channel, key), waiting in sounding.items():
                    if channel == message.channel:
                        found[channel] += [(onset, now, key) for onset in waiting]
                        waiting.clear()
            if message.type not in ("note_on", "note_off"):
                continue
            waiting = sounding[message.channel, message.note]
            if message.type == "note_on" and message.velocity:
                waiting.append(now)
            elif waiting:
                found[message.channel].append((waiting.pop(0), now, message.note))
        for (channel, key), waiting in sounding.items():
            ended &= not waiting
            found[channel] += [(onset, now, key) for onset in waiting]
        for channel in sorted(found):
            notes = [(onset / quarter, end / quarter, key) for onset, end, key in found[channel]]
            if notes:
                parts[number, channel] = sorted(notes)
        if file.type == 2 and any(channel != 9 for _, channel in parts):
            break
    return list(parts.values()), ended


def by_symusic(path):
    """Returns all notes of the file, in quarters, sorted; None if symusic does not read the file."""
    try:
        score = symusic.Score(str(path))
    except Exception:
        return None
    quarter = score.ticks_per_quarter
    notes = [note for part in score.tracks for note in part.notes]
    return sorted((Fraction(n.start, quarter), Fraction(n.start + n.duration, quarter), n.pitch) for n in notes)


def difference(ours, theirs):
    """Returns the difference between the library's part and mido's, or None."""
    notes = ours["notes"]
    if len(notes) != len(theirs):
        return f"{len(notes)} notes, mido has {len(theirs)}"
    # A move keeps the order of onsets, so the notes of a moved part are compared in the library's own order.
    order = lambda note: (note[0], note[2], note[1])
    expected = sorted(theirs, key=order)
    found = notes if ours["moved"] else sorted(notes, key=order)
    if ours["moved"]:
        expected = sorted(theirs, key=lambda note: (note[0], note[1] > note[0], -note[2]))
    tick = Fraction(1, 24)
    for (onset, end, key), (their_onset, their_end, their_key) in zip(found, expected):
        near = NEAR if ours["moved"] else tick
        wrong = key != their_key or abs(Fraction(onset) - their_onset) > near
        wrong |= not (ours["moved"] or ours["lengthened"]) and abs(Fraction(end) - their_end) > tick
        if wrong:
            return f"{(onset, end, key)}, mido has {tuple(map(float, (their_onset, their_end, their_key)))}"
    return None


def main():
    check, _ = outside.start(sys.argv)
    packages = [Path(module.__file__).parent for module in (music21, partitura)]
    found = [path for folder in packages for path in folder.rglob("*.mid*") if path.suffix in (".mid", ".midi")]
    found += [*(HOME / "corpus").glob("*.mid"), *(HOME / "demo").glob("*.mid")]
    moved = agree = other = unread = 0
    with tempfile.TemporaryDirectory() as folder:
        names = {}
        for index, (name, data) in enumerate(made()):
            path = Path(folder) / f"{index}.mid"
            path.write_bytes(data)
            names[path] = name
        names.update({path: "/".join(path.parts[-2:]) for path in sorted(found)})
        reader = Path(sys.argv[1]).parent / "examples" / "midi_parts"
        done = subprocess.run([reader, *names], check=True, capture_output=True, text=True)
        read = json.loads(done.stdout)
        for path, name in names.items():
            theirs, ended = events(path)
            ours = read[str(path)]
            if not check(f"{name}: {len(theirs)} parts, not {len(ours)}", len(ours) == len(theirs)):
                continue
            for number, (our, their) in enumerate(zip(ours, theirs), 1):
                why = difference(our, their)
                check(f"{name}, part {number}: {why}", why is None)
                moved += our["moved"]
            third = by_symusic(path)
            if third is None:
                unread += 1
            elif third == sorted(note for part in theirs for note in part):
                agree += 1
            else:
                other += 1
                print(f"  symusic differs from mido's events{'' if ended else ' (notes never end)'}: {name}")
    print(f"  {len(names)} files, {moved} parts moved to the grid")
    print(f"  symusic: {agree} as mido, {other} different, {unread} not read")
    check("symusic reads most files as mido does", agree > 3 * (other + unread))
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
