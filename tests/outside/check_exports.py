#!/usr/bin/env python3
"""Opens the files of `export` with other programs, which must read the same notes, the same words and the same tab.

    check_exports.py BIN [COUNT]

Every tune of corpus/ and demo/ is exported for the harp and octave that `suggest` puts first, for a C harp in 2nd
position with all bends and overbends, and adapted to a C harp without bends. COUNT tunes of O'Neill's collection in
music21 (60 by default) are exported for their best harp; 400 tunes take some minutes. Each MusicXML file

* is valid by the schema of MusicXML 4.0 (musicxml.xsd from the PyPI package musicxml, with W3C's xml.xsd and
  xlink.xsd from xmlschema; nothing is downloaded),
* is read by music21, partitura and verovio with the notes that the program says it plays; music21 and verovio also read
  the words of each verse and the tab, and with --tab-as fingering, partitura reads the holes,
* is drawn by verovio without a message in its log.

From each MIDI file, mido reads the notes, the words, the title, the tempo, the key and the sound of a harmonica, and
symusic reads the notes, the tempo and the sound.
"""

import json
import subprocess
import sys
import tempfile
import warnings
import xml.etree.ElementTree as ElementTree
from fractions import Fraction
from pathlib import Path

import mido
import music21
import musicxml
import partitura
import symusic
import verovio
import xmlschema
from lxml import etree

from check_written import oneill
from outside import start

warnings.simplefilter("ignore")
verovio.enableLog(verovio.LOG_WARNING)

# The longest time of a grace note in MIDI, in quarters, as the program documents it.
GRACE = Fraction(1, 8)
MEI = "{http://www.music-encoding.org/ns/mei}"
XML_ID = "{http://www.w3.org/XML/1998/namespace}id"


def official_schema():
    """Returns the schema with its two imports pointed at copies on this machine."""
    packaged = Path(musicxml.__file__).parent / "generate_classes" / "musicxml_4_0.xsd"
    w3c = Path(xmlschema.__file__).parent / "schemas"
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        (folder / "xml.xsd").write_bytes((w3c / "XML" / "xml.xsd").read_bytes())
        xlink = (w3c / "XLINK" / "xlink.xsd").read_text()
        (folder / "xlink.xsd").write_text(xlink.replace("http://www.w3.org/2001/xml.xsd", "xml.xsd"))
        schema = packaged.read_text(encoding="utf-8")
        for name in ("xml.xsd", "xlink.xsd"):
            schema = schema.replace(f"http://www.musicxml.org/xsd/{name}", name)
        (folder / "musicxml.xsd").write_text(schema, encoding="utf-8")
        return etree.XMLSchema(etree.parse(str(folder / "musicxml.xsd")))


class Played:
    """The notes, tab and words that the program says it plays, from the notes of `notes` and an approach of `tab`."""

    def __init__(self, notes, approach):
        shift = 12 * approach["octave"] + approach["transposed"]
        self.notes, self.tab, self.words = [], [], ""
        # The changes are listed in the order of the notes.
        changes = list(approach.get("changes") or [])
        played = approach.get("adapted") or approach
        for note, tab in zip(notes, played["tab"]):
            midi = note["midi"] + shift
            if changes and (note["bar"], note["beat"], midi) == (
                changes[0]["bar"],
                changes[0]["beat"],
                midi_of_name(changes[0]["from"]),
            ):
                to = changes.pop(0)["to"]
                if to is None:
                    continue
                midi = midi_of_name(to)
            self.notes.append((note["onset"], 0.0 if note.get("grace") else note["duration"], midi))
            self.tab.append(token(tab))
            self.words += note.get("lyric") or ""
        if changes:
            raise ValueError(f"no note for the change {changes[0]}")

    def agrees(self, others):
        """Returns None if the (onset, duration, midi) triples are the same, or else the first difference."""
        if len(others) != len(self.notes):
            return f"{len(others)} notes, expected {len(self.notes)}"
        for index, (ours, theirs) in enumerate(zip(self.notes, others)):
            near = all(abs(a - b) < 1e-3 for a, b in zip(ours[:2], theirs[:2]))
            if not near or ours[2] != theirs[2]:
                return f"note {index + 1} is {theirs}, expected {ours}"
        return None


def token(tab):
    """Returns a note of tab in the default notation; `[` for a missing note, because its name is not compared here."""
    if tab is None:
        return "["
    sign = "-" if tab["breath"] == "draw" else ""
    return f"{sign}{tab['hole']}{chr(39) * (tab['bend'] or 0)}{'o' if tab['over'] else ''}"


def midi_of_name(name):
    """Returns the MIDI number of a name: 66 for F#4, 58 for Bb3."""
    octave = name.lstrip("ABCDEFG#b")
    signs = name[1 : len(name) - len(octave)]
    step = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[name[0]]
    return 12 * (int(octave) + 1) + step + signs.count("#") - signs.count("b")


def same_tab(ours, theirs):
    return len(ours) == len(theirs) and all(
        their.startswith("[") if our == "[" else our == their for our, their in zip(ours, theirs)
    )


def verses_in_file(path):
    """Returns the syllables of each verse of the file, and its tab, in order, read with a plain XML reader."""
    verses, tab = {}, []
    for lyric in ElementTree.parse(path).iter("lyric"):
        text = lyric.findtext("text")
        if lyric.get("name") == "tab":
            tab.append(text)
        else:
            verses.setdefault(lyric.get("number"), []).append(text)
    return verses, tab


def with_music21(path):
    part = music21.converter.parse(path, forceSource=True).parts[0]
    notes, verses, tab, open_note = [], {}, [], None
    for element in part.flatten().notes:
        if isinstance(element, music21.harmony.ChordSymbol):
            continue
        grace = element.duration.isGrace
        tie = element.tie.type if element.tie else None
        length = 0.0 if grace else float(element.quarterLength)
        if tie in ("stop", "continue") and open_note is not None and open_note[2] == element.pitch.midi:
            open_note[1] += length
        else:
            open_note = [float(element.offset), length, element.pitch.midi]
            notes.append(open_note)
        if tie not in ("start", "continue"):
            open_note = None
        for lyric in element.lyrics:
            if lyric.identifier == "tab":
                tab.append(lyric.text)
            else:
                verses.setdefault(str(lyric.number), []).append(lyric.text)
    return [tuple(note) for note in notes], verses, tab


def with_partitura(path):
    part = partitura.load_score(path)[0]
    quarter = part.quarter_duration_map
    notes, holes = [], []
    first = part.first_point.t
    for note in part.notes_tied:
        per_quarter = float(quarter(note.start.t))
        notes.append(((note.start.t - first) / per_quarter, note.duration_tied / per_quarter, note.midi_pitch))
        holes.append([mark.fingering for mark in note.technical or []])
    return notes, holes


def with_verovio(path):
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "auto", "xmlIdSeed": 1})
    loaded = toolkit.loadFile(path)
    pages = [toolkit.renderToSVG(page + 1) for page in range(toolkit.getPageCount())]
    complaints = toolkit.getLog()
    mei = ElementTree.fromstring(toolkit.getMEI())
    tied = {tie.get("endid", "").lstrip("#") for tie in mei.iter(f"{MEI}tie")}
    pitches, verses = [], {}
    for note in mei.iter(f"{MEI}note"):
        if note.get(XML_ID) not in tied:
            pitches.append(midi_of(note))
        for verse in note.iter(f"{MEI}verse"):
            text = "".join("".join(syl.itertext()) for syl in verse.iter(f"{MEI}syl"))
            verses.setdefault(verse.get("n"), []).append(text)
    return loaded and all("<svg" in page for page in pages), complaints, pitches, verses


def midi_of(note):
    """Returns the sounding pitch of an MEI note."""
    step = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}[note.get("pname")]
    child = note.find(f"{MEI}accid")
    signs = [note.get("accid.ges"), note.get("accid")]
    if child is not None:
        signs += [child.get("accid.ges"), child.get("accid")]
    alter = {"s": 1, "f": -1, "ss": 2, "x": 2, "ff": -2, "n": 0}[next((sign for sign in signs if sign), "n")]
    return 12 * (int(note.get("oct")) + 1) + step + alter


def as_heard(played):
    """Returns the notes with their grace notes as MIDI plays them, without the notes that the harp lacks."""
    heard, graces = [], []
    for (onset, duration, midi), tab in zip(played.notes, played.tab):
        silent = tab == "["
        if duration == 0:
            graces += [] if silent else [midi]
            continue
        onset, duration = (Fraction(value).limit_denominator(10_000) for value in (onset, duration))
        each = min(GRACE, duration / 2 / max(1, len(graces)))
        begin = onset
        for grace in graces:
            heard.append((float(begin), float(each), grace))
            begin += each
        graces = []
        if silent:
            continue
        heard.append((float(begin), float(onset + duration - begin), midi))
    return heard


def with_mido(path):
    file = mido.MidiFile(path, charset="utf-8")
    notes, words, facts, sounding = [], "", {}, {}
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            at = now / file.ticks_per_beat
            if message.type == "note_on" and message.velocity > 0:
                sounding[message.note] = at
            elif message.type in ("note_off", "note_on"):
                begin = sounding.pop(message.note)
                notes.append((begin, at - begin, message.note))
            elif message.type == "lyrics":
                words += message.text
            elif message.type in ("set_tempo", "key_signature", "program_change", "track_name"):
                facts.setdefault(message.type, message)
    return sorted(notes), words, facts


def with_symusic(path):
    score = symusic.Score(path)
    quarter = score.ticks_per_quarter
    tracks = [track for track in score.tracks if len(track.notes)]
    notes = [
        (note.time / quarter, note.duration / quarter, note.pitch) for track in tracks for note in track.notes
    ]
    return sorted(notes), [track.program for track in tracks], list(score.tempos)


def check_musicxml(check, schema, path, fingered, played, name):
    document = etree.parse(path, etree.XMLParser(load_dtd=False, no_network=True))
    valid = schema.validate(document)
    check(f"{name}: valid: {schema.error_log.last_error if not valid else ''}", valid)
    verses, tab = verses_in_file(path)
    check(f"{name}: the tab in the file is the tab that is played", same_tab(played.tab, tab))

    notes, read_verses, read_tab = with_music21(path)
    why = played.agrees(notes)
    check(f"{name}: music21: {why}", why is None)
    check(f"{name}: music21 reads other words", read_verses == verses)
    check(f"{name}: music21 reads other tab", read_tab == tab)

    notes, holes = with_partitura(path)
    why = played.agrees(notes)
    check(f"{name}: partitura: {why}", why is None)
    check(f"{name}: the file has the tab as words, and not also as fingering", not any(holes))
    valid = schema.validate(etree.parse(fingered, etree.XMLParser(load_dtd=False, no_network=True)))
    check(f"{name}: valid with fingering: {schema.error_log.last_error if not valid else ''}", valid)
    _, holes = with_partitura(fingered)
    expected = [[] if one.startswith("[") else [int("".join(filter(str.isdigit, one)))] for one in tab]
    check(f"{name}: partitura reads other holes", holes == expected)

    drawn, complaints, pitches, drawn_verses = with_verovio(path)
    check(f"{name}: verovio draws it: {complaints.strip()}", drawn and not complaints.strip())
    check(f"{name}: verovio has other notes", pitches == [midi for _, _, midi in played.notes])
    line = str(max(map(int, verses), default=0) + 1)
    check(f"{name}: verovio has other tab", drawn_verses.pop(line, []) == tab)
    check(f"{name}: verovio has other words", drawn_verses == verses)


def check_midi(check, path, played, title, name):
    words_of_tune, played.notes = played.words, as_heard(played)
    notes, words, facts = with_mido(path)
    why = played.agrees(notes)
    check(f"{name}: mido: {why}", why is None)
    check(f"{name}: mido reads the sound of a harmonica", facts["program_change"].program == 22)
    check(f"{name}: mido reads the title", facts["track_name"].name == title)
    # Either both exported files state a tempo, or neither does.
    has_tempo = any("<sound tempo=" in line for line in open(Path(path).with_suffix(".musicxml"), encoding="utf-8"))
    check(f"{name}: mido reads the tempo", ("set_tempo" in facts) == has_tempo)
    check(f"{name}: mido reads the key", "key_signature" in facts)
    check(f"{name}: mido reads other words", "".join(words.split()) == "".join(words_of_tune.split()))
    notes, programs, tempi = with_symusic(path)
    why = played.agrees(notes)
    check(f"{name}: symusic: {why}", why is None)
    check(f"{name}: symusic reads the sound of a harmonica", programs == [22])
    check(f"{name}: symusic reads the tempo", (len(tempi) > 0) == has_tempo)


def main():
    check, breathline = start(sys.argv)
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    binary = str(Path(sys.argv[1]).resolve())
    folder = Path("target/outside/exports")
    folder.mkdir(parents=True, exist_ok=True)
    schema = official_schema()

    def compare(tune, options, name):
        xml, midi = folder / "tune.musicxml", folder / "tune.mid"
        fingered = folder / "fingered.musicxml"
        for out, more in ((xml, []), (midi, []), (fingered, ["--tab-as", "fingering"])):
            command = [binary, "export", str(tune), *options, *more, "-o", str(out)]
            done = subprocess.run(command, capture_output=True, text=True)
            if not check(f"{name}: exported to {out.suffix}: {done.stderr.strip()}", done.returncode == 0):
                return
        notes = breathline("notes", tune)["notes"]
        played = Played(notes, breathline("tab", tune, *options)["approaches"][0])
        check_musicxml(check, schema, str(xml), str(fingered), played, name)
        notes = breathline("notes", tune, "--unfold")["notes"]
        answer = breathline("tab", tune, "--unfold", *options)
        check_midi(check, str(midi), Played(notes, answer["approaches"][0]), answer["tune"]["title"], name)

    for tune in sorted([*Path("corpus").glob("*.musicxml"), *Path("demo").glob("*.musicxml")]):
        compare(tune, best(breathline, tune), f"{tune.stem}, its best harp")
        compare(tune, ["--harp", "C", "--bends", "over", "--position", "2"], f"{tune.stem}, 2nd position")
        compare(tune, ["--harp", "C", "--bends", "none", "--adapt"], f"{tune.stem}, adapted")
    for tune in oneill(count, folder):
        compare(tune, best(breathline, tune), f"O'Neill {tune.stem}")
    sys.exit(check.finish())


def best(breathline, tune):
    """Returns the options for the harp and the octave of the approach that is ranked first."""
    first = breathline("suggest", tune, "--top", 1)["approaches"][0]
    harp = first["harp"]
    name = harp["key"] if harp["register"] == "standard" else f"{harp['register']}-{harp['key']}"
    return ["--harp", name, "--octave", str(first["octave"])]


if __name__ == "__main__":
    main()
