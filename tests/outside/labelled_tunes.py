"""Reads the tunes that music21 contains, with the keys that their editors wrote: a light ABC reader, and a MusicXML
writer.

A `Tune` has the notes, the bars and the key that the editor wrote in the K: field, and only the facts that key finding
uses. Lines whose bars do not add up are kept unchanged, because the checks test keys and not rhythm.
"""

import math
import re
import unicodedata
import zlib
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
MODES = ["major", "dorian", "phrygian", "lydian", "mixolydian", "minor", "locrian"]
SHARPS_FROM_MAJOR = dict(zip(MODES, [0, -2, -4, 1, -1, -3, -5]))
MODE_NAMES = {"": "major", "maj": "major", "ion": "major", "dor": "dorian", "phr": "phrygian", "lyd": "lydian",
              "mix": "mixolydian", "m": "minor", "min": "minor", "aeo": "minor", "loc": "locrian"}


@dataclass
class Note:
    onset: Fraction
    duration: Fraction
    midi: int
    bar: int
    written: tuple  # letter, alteration, octave
    slur_end: bool = False
    line_end: bool = False


@dataclass
class Bar:
    start: Fraction
    length: Fraction = Fraction(0)
    repeat_start: bool = False
    repeat_end: bool = False
    section_end: bool = False
    da_capo: bool = False
    ending: str = ""


@dataclass
class Tune:
    collection: str
    number: str
    title: str
    tonic: int
    mode: str
    sharps: int
    meter: tuple
    notes: list = field(default_factory=list)
    bars: list = field(default_factory=list)
    # For a chorale: the pitch class on which the bass ends, as a second source for the tonic.
    bass_end: int | None = None

    def key(self):
        return (self.tonic, self.mode)


def folds(tunes):
    """Returns a number from 0 to 4 for each tune, the same in every run.

    The folds are formed mode by mode, so that every fold has its share of the rare modes. Within a mode, fiddle tunes
    and songs are divided separately. They are sorted by a number computed from the title, so that tunes of the same
    title are mostly in one fold.
    """
    def place(tune):
        letters = unicodedata.normalize("NFKD", tune.title.lower())
        letters = re.sub(r"[^a-z]", "", re.sub(r"--.*|\bthe\b|\ba\b", "", letters))
        return zlib.crc32(letters.encode()), tune.collection, tune.number

    fold, groups = [0] * len(tunes), {}
    for i, tune in enumerate(tunes):
        groups.setdefault((tune.mode, tune.collection == "essenFolksong"), []).append((place(tune), i))
    for mine in groups.values():
        for rank, (_, i) in enumerate(sorted(mine)):
            fold[i] = 5 * rank // len(mine)
    return fold


def best_tonic(finder, line):
    """Returns the pitch class of the tonic that one of music21's key finders prefers.

    `getSolution` gives the same tonic, but also makes Key objects with whole scales for the other 23 keys, which takes
    fourteen times as long.
    """
    (tonic, _, _), _ = finder().process(line)
    return tonic.pitchClass


def read_key(text):
    """Returns tonic, mode and sharps of a K: field, or None for a field that names no key."""
    found = re.match(r"\s*([A-G])([#b]?)\s*([A-Za-z]*)", text.split("%")[0])
    if not found:
        return None
    letter, accidental, name = found.groups()
    mode = "major" if name == "M" else MODE_NAMES.get(name.lower()[:3])
    if mode is None:
        return None
    alter = {"#": 1, "b": -1, "": 0}[accidental]
    sharps = FIFTHS[letter] + 7 * alter + SHARPS_FROM_MAJOR[mode]
    return (STEPS[letter] + alter) % 12, mode, sharps


def read_meter(text):
    text = text.split("%")[0].strip()
    if text in ("C", "C|"):
        return (4, 4) if text == "C" else (2, 2)
    found = re.match(r"(\d+)/(\d+)", text)
    return (int(found[1]), int(found[2])) if found else (4, 4)


TOKEN = re.compile(r"""
    (?P<text>"[^"]*"|!\w*!|\+\w+\+)
  | (?P<grace>\{[^}]*\})
  | (?P<field>\[[A-Za-z]:[^\]]*\])
  | (?P<bar>[:|\[\]]*[|:][:|\]]*(?:\s*\[?\d[\d,-]*)?|\[\d[\d,-]*)
  | (?P<chord>\[[^\]|]*\][\d/]*)
  | (?P<tuplet>\(\d(?::\d?)*)
  | (?P<note>(?:\^\^|\^|__|_|=)?[A-Ga-g][,']*[\d/]*)
  | (?P<rest>[zx][\d/]*)
  | (?P<broken>[<>]+)
  | (?P<slur>[()])
  | (?P<tie>-)
""", re.X)
NOTE = re.compile(r"(\^\^|\^|__|_|=)?([A-Ga-g])([,']*)([\d/]*)")


def read_length(text):
    if not text:
        return Fraction(1)
    above, _, below = text.partition("/")
    if "/" not in text:
        return Fraction(int(above))
    halves = below.count("/") + 1
    below = below.replace("/", "")
    return Fraction(int(above or 1), int(below)) if below else Fraction(int(above or 1), 2**halves)


def signature(sharps):
    order = "FCGDAEB"
    return {letter: (1 if sharps > 0 else -1) for letter in
            (order[:sharps] if sharps > 0 else order[::-1][:-sharps])}


class Reader:
    def __init__(self, tune, unit):
        self.tune, self.unit = tune, unit
        self.at = Fraction(0)
        self.marks = signature(tune.sharps)
        self.in_bar = {}
        self.broken = Fraction(1)
        self.tuplet = (0, Fraction(1))
        self.tied = None
        self.tie_next = False
        self.bar = Bar(self.at)
        self.tune.bars.append(self.bar)

    def pitch(self, accidental, letter, octaves):
        octave = (4 if letter.isupper() else 5) + octaves.count("'") - octaves.count(",")
        letter = letter.upper()
        if accidental:
            self.in_bar[letter, octave] = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}[accidental]
        alter = self.in_bar.get((letter, octave), self.marks.get(letter, 0))
        return 12 * (octave + 1) + STEPS[letter] + alter, (letter, alter, octave)

    def spend(self, length):
        duration = length * self.unit * self.broken
        self.broken = Fraction(1)
        left, ratio = self.tuplet
        if left > 0:
            duration *= ratio
            self.tuplet = (left - 1, ratio)
        return duration

    def sound(self, pitches, duration):
        midi, written = max(pitches)
        notes = self.tune.notes
        if self.tie_next and notes and notes[-1].midi == midi and notes[-1].onset + notes[-1].duration == self.at:
            notes[-1].duration += duration
        else:
            notes.append(Note(self.at, duration, midi, len(self.tune.bars) - 1, written))
        self.tie_next = False
        self.at += duration

    def bar_line(self, text):
        line = re.sub(r"[\s\d,\[-]+$", "", text)
        ending = re.search(r"\d[\d,-]*$", text)
        bar = self.bar
        self.in_bar = {}
        start = line.endswith(":") and line != ":" and "|" in line or "::" in line
        if self.at > bar.start:
            bar.length = self.at - bar.start
            bar.repeat_end |= line.startswith(":")
            bar.section_end |= "||" in line or "|]" in line or "[|" in line
            self.bar = Bar(self.at, ending="" if bar.repeat_end or bar.section_end else bar.ending)
            self.tune.bars.append(self.bar)
        elif len(self.tune.bars) > 1:
            # A second barline at the same place belongs to the bar before it.
            self.tune.bars[-2].repeat_end |= line.startswith(":")
            self.tune.bars[-2].section_end |= "||" in line or "|]" in line
        self.bar.repeat_start |= bool(start)
        if ending:
            self.bar.ending = ending[0]

    def line(self, text):
        last = None
        for match in TOKEN.finditer(text):
            kind, text = match.lastgroup, match[0]
            if kind == "text":
                if re.search(r"D\.? ?C\.?", text):
                    self.bar.da_capo = True
            elif kind == "field":
                if text.startswith("[L:"):
                    self.unit = 4 * Fraction(text[3:-1].strip())
                elif text.startswith("[K:"):
                    key = read_key(text[3:-1])
                    self.marks = signature(key[2]) if key else self.marks
            elif kind == "bar":
                self.bar_line(text)
            elif kind == "tuplet":
                p = int(text[1])
                q = re.match(r"\(\d:(\d)", text)
                compound = self.tune.meter[1] == 8 and self.tune.meter[0] % 3 == 0
                q = int(q[1]) if q else {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}.get(p, 3 if compound else 2)
                self.tuplet = (p, Fraction(q, p))
            elif kind == "note":
                parts = NOTE.fullmatch(text)
                pitch = self.pitch(*parts.groups()[:3])
                self.sound([pitch], self.spend(read_length(parts[4])))
            elif kind == "chord":
                inner, _, length = text[1:].partition("]")
                parts = [NOTE.fullmatch(one[0]) for one in NOTE.finditer(inner)]
                if parts:
                    pitches = [self.pitch(*part.groups()[:3]) for part in parts]
                    self.sound(pitches, self.spend(read_length(parts[0][4]) * read_length(length)))
            elif kind == "rest":
                self.at += self.spend(read_length(text[1:]))
                self.tie_next = False
            elif kind == "broken" and self.tune.notes:
                part = Fraction(1, 2 ** len(text))
                before, self.broken = (2 - part, part) if text[0] == ">" else (part, 2 - part)
                note = self.tune.notes[-1]
                self.at += note.duration * (before - 1)
                note.duration *= before
            elif kind == "slur" and text == ")" and self.tune.notes:
                self.tune.notes[-1].slur_end = True
            elif kind == "tie":
                self.tie_next = True

    def finish(self):
        self.bar.length = self.at - self.bar.start
        if self.bar.length == 0:
            self.tune.bars.pop()
        self.tune.notes = [note for note in self.tune.notes if note.duration > 0]


def read(text, collection):
    """Yields the tunes of a file that have a key and at least ten notes."""
    for block in re.split(r"^X:", text, flags=re.M)[1:]:
        head, reader, unit, meter = {"X": block.split("\n")[0].strip()}, None, None, (4, 4)
        for line in block.split("\n")[1:]:
            line = re.sub(r"(?<!\\)%.*", "", line).rstrip()
            found = re.match(r"([A-Za-z]):(?![|:])(.*)", line)
            if found and found[1] in "ML" and reader is None:
                meter = read_meter(found[2]) if found[1] == "M" else meter
                unit = 4 * Fraction(found[2].strip()) if found[1] == "L" else unit
            elif found and found[1] == "L":
                reader.unit = 4 * Fraction(found[2].strip())
            elif found and found[1] == "K":
                key = read_key(found[2])
                if reader is not None:
                    reader.marks = signature(key[2]) if key else reader.marks
                elif key is None:
                    break
                else:
                    tune = Tune(collection, head["X"], head.get("T", ""), *key, meter)
                    small = Fraction(*meter) < Fraction(3, 4)
                    reader = Reader(tune, unit or Fraction(1, 4) if small else unit or Fraction(1, 2))
            elif found:
                head.setdefault(found[1], found[2].strip())
            elif reader is not None:
                reader.line(line)
                if reader.tune.notes and not line.endswith("\\"):
                    reader.tune.notes[-1].line_end = True
        if reader is not None:
            reader.finish()
            if len(reader.tune.notes) >= 10:
                yield reader.tune


# The files of European songs that may be used for fitting and may be examined. All other files of the collection are
# held back, so that somebody else can measure on them.
SONG_FILES = ("altdeu*", "ballad*", "boehme*", "dva0", "lot", "lux", "folkHaydn", "irl")


def collection(name, files="*"):
    """Yields the tunes of one of music21's folders, in the order of the file names."""
    import music21

    folder = Path(music21.__file__).parent / "corpus" / name
    for path in sorted(folder.glob(files + ".abc")):
        yield from read(path.read_text("utf-8", "replace"), name)


def songs():
    """Yields the European songs that are not held back. Their K: field has the right tonic but always says major."""
    for files in SONG_FILES:
        yield from collection("essenFolksong", files)


def musicxml(tune, sharps=None):
    """Returns the tune as MusicXML, with `sharps` sharps in the signature (negative for flats), or, if this is None,
    without a signature."""
    times = [n.duration for n in tune.notes] + [n.onset for n in tune.notes]
    times += [time for bar in tune.bars for time in (bar.start, bar.length)]
    parts = math.lcm(*(time.denominator for time in times))
    out = ['<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0"><part-list><score-part id="P1">'
           '<part-name>Fiddle</part-name></score-part></part-list><part id="P1">']
    by_bar = {}
    for note in tune.notes:
        by_bar.setdefault(note.bar, []).append(note)
    beats, unit = tune.meter
    full = Fraction(4 * beats, unit)
    pickup = tune.bars and tune.bars[0].length < full
    for index, bar in enumerate(tune.bars):
        number = index if pickup else index + 1
        implicit = ' implicit="yes"' if number == 0 else ""
        out.append(f'<measure number="{number}"{implicit}>')
        if bar.repeat_start or bar.ending and (index == 0 or tune.bars[index - 1].ending != bar.ending):
            out.append('<barline location="left">')
            if bar.ending:
                out.append(f'<ending number="{bar.ending[0]}" type="start"/>')
            if bar.repeat_start:
                out.append('<repeat direction="forward"/>')
            out.append("</barline>")
        if index == 0:
            key = f"<key><fifths>{sharps}</fifths></key>" if sharps is not None else ""
            out.append(f"<attributes><divisions>{parts}</divisions>{key}<time><beats>{beats}</beats>"
                       f"<beat-type>{unit}</beat-type></time></attributes>")
        at = bar.start
        for note in by_bar.get(index, []):
            # A note that is tied over the barline is written whole in its first bar.
            if note.onset > at:
                out.append(f"<note><rest/><duration>{int((note.onset - at) * parts)}</duration></note>")
            letter, alter, octave = note.written
            altered = f"<alter>{alter}</alter>" if alter else ""
            out.append(f"<note><pitch><step>{letter}</step>{altered}<octave>{octave}</octave></pitch>"
                       f"<duration>{int(note.duration * parts)}</duration></note>")
            at = note.onset + note.duration
        end = bar.start + bar.length
        if end > at:
            out.append(f"<note><rest/><duration>{int((end - at) * parts)}</duration></note>")
        ends = bar.ending and (index + 1 == len(tune.bars) or tune.bars[index + 1].ending != bar.ending)
        if bar.repeat_end or bar.section_end or ends:
            out.append('<barline location="right">')
            if bar.section_end and not bar.repeat_end:
                out.append("<bar-style>light-light</bar-style>")
            if ends:
                out.append(f'<ending number="{bar.ending[0]}" type="stop"/>')
            if bar.repeat_end:
                out.append('<repeat direction="backward"/>')
            out.append("</barline>")
        if bar.da_capo:
            out.append('<sound dacapo="yes"/>')
        out.append("</measure>")
    out.append("</part></score-partwise>")
    return "\n".join(out)


def whole(path):
    """Returns a chorale's MusicXML, unchanged and with the mode removed, and the notes of all its parts."""
    import zipfile
    from xml.etree import ElementTree

    with zipfile.ZipFile(path) as archive:
        name = next(n for n in archive.namelist() if n.endswith((".xml", ".musicxml")) and "META-INF" not in n)
        text = archive.read(name).decode("utf-8")
    notes = []
    for part in ElementTree.fromstring(text).findall("part"):
        divisions = 1
        for item in part.iter():
            if item.tag == "divisions":
                divisions = int(item.text)
            pitch = item.find("pitch") if item.tag == "note" else None
            if pitch is not None and item.find("grace") is None:
                midi = 12 * (int(pitch.findtext("octave")) + 1) + STEPS[pitch.findtext("step")]
                midi += int(pitch.findtext("alter") or 0)
                notes.append(Note(Fraction(0), Fraction(int(item.findtext("duration")), divisions), midi, 0, None))
    return text, re.sub(r"<mode>[^<]*</mode>", "", text), notes


def last_pitch(part):
    """Returns the pitch class of the last note of a MusicXML part."""
    pitch = part.findall(".//pitch")[-1]
    return (STEPS[pitch.findtext("step")] + int(pitch.findtext("alter") or 0)) % 12


def chorales():
    """Yields the soprano of each four-part chorale in music21, with the key that its file names.

    The file names the key of the signature. Dorian and Mixolydian chorales often have the signature of a minor or major
    key a fifth away: the file then names D minor for music that begins and ends on G.
    """
    import zipfile
    from xml.etree import ElementTree

    import music21

    folder = Path(music21.__file__).parent / "corpus" / "bach"
    for path in sorted(folder.glob("*.mxl")):
        with zipfile.ZipFile(path) as archive:
            name = next(n for n in archive.namelist() if n.endswith((".xml", ".musicxml")) and "META-INF" not in n)
            root = ElementTree.fromstring(archive.read(name))
        parts, key = root.findall("part"), root.find(".//key")
        if len(parts) != 4 or key is None or key.find("mode") is None:
            continue
        mode, sharps = key.findtext("mode"), int(key.findtext("fifths"))
        tonic = 7 * (sharps - SHARPS_FROM_MAJOR[mode]) % 12
        beats, unit = root.findtext(".//beats"), root.findtext(".//beat-type")
        tune = Tune("bach", path.name, path.stem, tonic, mode, sharps, (int(beats), int(unit)))
        tune.bass_end = last_pitch(parts[3])
        at, divisions, tied = Fraction(0), 1, False
        for index, measure in enumerate(parts[0].findall("measure")):
            bar = Bar(at)
            tune.bars.append(bar)
            for item in measure:
                divisions = int(item.findtext("divisions") or divisions)
                for repeat in item.findall("repeat"):
                    bar.repeat_start |= repeat.get("direction") == "forward"
                    bar.repeat_end |= repeat.get("direction") == "backward"
                if item.tag not in ("note", "forward") or item.find("grace") is not None or item.find("chord") is not None:
                    continue
                duration = Fraction(int(item.findtext("duration")), divisions)
                pitch = item.find("pitch")
                ties = {tie.get("type") for tie in item.findall("tie")}
                if pitch is not None and "stop" in ties and tune.notes:
                    tune.notes[-1].duration += duration
                elif pitch is not None:
                    letter, octave = pitch.findtext("step"), int(pitch.findtext("octave"))
                    alter = int(pitch.findtext("alter") or 0)
                    midi = 12 * (octave + 1) + STEPS[letter] + alter
                    tune.notes.append(Note(at, duration, midi, index, (letter, alter, octave)))
                at += duration
            bar.length = at - bar.start
        if len(tune.notes) >= 10:
            yield tune
