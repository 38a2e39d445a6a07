"""The code that check_growth.py and growth_all.py share: families of inputs of any size, and the measurement of how the
command's cost grows with the size.

Every family makes a file with about a given number of notes (in some families, of bars, words or signs), and the
commands read this file. When the number doubles, the CPU time of the process may grow by the factor GROWTH. Its peak
memory may grow by NOTE_BYTES for each note.
"""

import os
import subprocess
import tempfile
import time
from pathlib import Path

# The factor by which CPU time may grow when a tune doubles. The growth is not tested from runs that take less than
# START seconds longer than an empty run, because the start of the process would hide it.
GROWTH, START = 2.6, 0.05
# The memory that each note may take above an empty run; FEW_BYTES in all are always allowed. A page to practise from
# has separate bounds, because it contains several rows, each with two sheets and a strip.
NOTE_BYTES, FEW_BYTES = 4096, 24 << 20
PAGE_BYTES, FEW_PAGE_BYTES = 20 << 10, 112 << 20
# The seconds of CPU time and the bytes that 10,000 notes may take. Fewer notes may take as much, and more notes may
# take more in proportion.
NOTES, SECONDS, PEAK = 10_000, 1.0, 128 << 20
# The cases that do not meet the bound yet, in seconds for 10,000 notes. Until they do, the check prints them every
# time, and fails only if one gets clearly slower. The time of a PNG depends on its pixels, not on its notes; its pages
# are painted on all cores, so a player waits for about half of their CPU time. On the wide tuning a hole has dozens of
# bends, and the search compares every pair of actions for successive notes.
NOT_REACHED = {"png": 2, "wide": 3.5}
# The number of seconds after which a run is stopped.
PATIENCE = 40

STEPS = "CDEFGAB"


def xml_note(index, kind="eighth", duration=1, extra="", before="", pitch=None):
    """Returns a note of a melody that stays within a tenth."""
    place = (index * 5 + index // 7 * 3) % 10 if pitch is None else pitch
    step, octave = STEPS[place % 7], 4 + place // 7
    return (
        f"<note>{before}<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
        + (f"<duration>{duration}</duration>" if duration else "")
        + f"<voice>1</voice><type>{kind}</type>{extra}</note>\n"
    )


def score(measures, parts=1, timewise=False):
    """Yields the pieces of a score. `measures` is one text for each bar, or a function from a part's number to these
    texts."""
    outer = "timewise" if timewise else "partwise"
    yield f'<?xml version="1.0" encoding="UTF-8"?>\n<score-{outer} version="4.0"><part-list>'
    for part in range(1, parts + 1):
        yield f'<score-part id="P{part}"><part-name>P{part}</part-name></score-part>'
    yield "</part-list>\n"
    if timewise:
        for number, content in enumerate(measures, 1):
            yield f'<measure number="{number}">{content}</measure>\n'
    else:
        for part in range(1, parts + 1):
            yield f'<part id="P{part}">'
            for number, content in enumerate(measures(part) if callable(measures) else measures, 1):
                yield f'<measure number="{number}">{content}</measure>\n'
            yield "</part>\n"
    yield f"</score-{outer}>\n"


def attributes(beats=4, unit=4, divisions=2, time=True, key=0):
    """Returns the attributes of a bar."""
    meter = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>" if time else ""
    return f"<attributes><divisions>{divisions}</divisions><key><fifths>{key}</fifths></key>{meter}</attributes>"


def bars(count, note, each=8, head=None):
    """Yields the contents of bars of `each` notes. `head` returns the beginning of a bar."""
    for bar in range(max(count // each, 1)):
        before = head(bar) if head else attributes() if bar == 0 else ""
        yield before + "".join(note(bar * each + place) for place in range(each))


def one_bar(count):
    yield attributes(time=False) + "".join(xml_note(index) for index in range(count))


def grace(count):
    before = "".join(xml_note(index, duration=0, before="<grace/>") for index in range(count - 1))
    yield attributes() + before + xml_note(0, "whole", 8)


def voices(count):
    first = "".join(xml_note(index) for index in range(8))
    others = "".join(
        "<backup><duration>8</duration></backup>"
        + xml_note(index, "whole", 8).replace("<voice>1<", f"<voice>{index + 2}<")
        for index in range(count - 8)
    )
    yield attributes() + first + others


def chord(count):
    rest = "".join(xml_note(index, "whole", 8, before="<chord/>") for index in range(count - 1))
    yield attributes() + xml_note(0, "whole", 8) + rest


def lyric(index):
    verses = "".join(f'<lyric number="{verse}"><text>la</text></lyric>' for verse in (1, 2, 3))
    return xml_note(index, extra=verses)


def rested(index):
    if index % 2:
        return "<note><rest/><duration>1</duration><voice>1</voice><type>eighth</type></note>\n"
    return xml_note(index)


def silence(count):
    """Yields two bars of one note, with `count` bars of silence between them."""
    yield attributes() + xml_note(0, "whole", 8)
    for _ in range(count):
        yield '<note><rest measure="yes"/><duration>8</duration><voice>1</voice></note>'
    yield xml_note(4, "whole", 8)


def tied(index):
    start = '<tie type="start"/>' if index % 1024 != 1023 else ""
    stop = '<tie type="stop"/>' if index % 1024 else ""
    return xml_note(index, pitch=4).replace("<voice>", stop + start + "<voice>")


def harmony(index):
    root = STEPS[index % 7]
    symbol = f"<harmony><root><root-step>{root}</root-step></root><kind>dominant</kind></harmony>"
    return symbol + xml_note(index)


def repeated(bar):
    """Returns the beginning of a bar at which a repeat starts."""
    left = '<barline location="left"><repeat direction="forward"/></barline>'
    return left + (attributes() if bar == 0 else "")


def repeats(count):
    for content in bars(count, xml_note, head=repeated):
        yield content + '<barline location="right"><repeat direction="backward"/></barline>'


def triplet(index):
    ratio = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
    return xml_note(index, extra=ratio)


def tempo(index):
    sound = f'<direction><direction-type><words>faster</words></direction-type><sound tempo="{80 + index % 90}"/></direction>'
    return sound + xml_note(index)


def parts(count):
    return score(lambda part: bars(32, lambda index: xml_note(index + part)), count // 32)


def timewise(count):
    """Returns a timewise score of two parts; in every other bar the second part comes first."""
    def content():
        for bar in range(count // 16):
            order = (1, 2) if bar % 2 else (2, 1)
            yield "".join(
                f'<part id="P{part}">{attributes() if bar == 0 else ""}'
                + "".join(xml_note(bar * 8 + place + part) for place in range(8))
                + "</part>"
                for part in order
            )
    return score(content(), 2, timewise=True)


def reversed_parts(count):
    """Returns a timewise score of 64 parts, which are in reverse order in every bar."""
    many = 64
    def content():
        for bar in range(max(count // (many * 8), 1)):
            yield "".join(
                f'<part id="P{part}">{attributes() if bar == 0 else ""}'
                + "".join(xml_note(bar * 8 + place + part) for place in range(8))
                + "</part>"
                for part in range(many, 0, -1)
            )
    return score(content(), many, timewise=True)


def variable(value):
    """Returns a number as a variable-length quantity of a MIDI file."""
    data = bytes([value & 0x7F])
    while value := value >> 7:
        data = bytes([value & 0x7F | 0x80]) + data
    return data


def midi(*tracks, ticks=96):
    """Yields the pieces of a MIDI file. Each track yields pairs of a delta time and an event."""
    yield b"MThd" + (6).to_bytes(4) + (1).to_bytes(2) + len(tracks).to_bytes(2) + ticks.to_bytes(2)
    for track in tracks:
        data = b"".join(variable(delta) + event for delta, event in track) + b"\x00\xff\x2f\x00"
        yield b"MTrk" + len(data).to_bytes(4) + data


SCALE = (60, 62, 64, 65, 67, 69, 71, 72, 74, 76)


def midi_pitch(index):
    return SCALE[(index * 5 + index // 7 * 3) % 10]


def midi_notes(count, length=48, channel=0):
    for index in range(count):
        yield 0, bytes([0x90 | channel, midi_pitch(index), 80])
        yield length, bytes([0x80 | channel, midi_pitch(index), 0])


def midi_meters(count):
    for index in range(count):
        yield 0, b"\xff\x58\x04" + bytes([2 + index % 3, 2, 24, 8])
        yield 0, bytes([0x90, midi_pitch(index), 80])
        yield 96 * (2 + index % 3), bytes([0x80, midi_pitch(index), 0])


def midi_crowded_meters(count):
    """Yields many time signatures within a few bars."""
    for index in range(count):
        yield 0, b"\xff\x58\x04" + bytes([1 + index % 7, 2 + index % 4, 24, 8])
        yield 1, bytes([0xB0, 1, index % 128])
    yield from midi_notes(64)


def midi_words(count):
    for index in range(count):
        yield 0, b"\xff\x05\x03la "
        yield 0, bytes([0x90, midi_pitch(index), 80])
        yield 48, bytes([0x80, midi_pitch(index), 0])


def midi_silence(count):
    yield from midi_notes(1)
    yield 96 * 4 * count, bytes([0x90, 67, 80])
    yield 48, bytes([0x80, 67, 0])


def midi_tracks(count):
    return midi(*[midi_notes(32) for _ in range(count // 32)])


def midi_crowd(count):
    """Yields notes that have no end and so sound to the end of the track."""
    for index in range(count):
        yield 1, bytes([0x90 | index % 8, 36 + index % 60, 80])


def midi_uneven(count):
    """Yields notes that fit no grid, like those of a live performance."""
    for index in range(count):
        yield index * 37 % 11, bytes([0x90, midi_pitch(index), 80])
        yield 31 + index * 53 % 41, bytes([0x80, midi_pitch(index), 0])


XML = {
    "bars": lambda count: score(bars(count, xml_note)),
    "short bars": lambda count: score(bars(count, lambda index: xml_note(index, "quarter", 2), 1, lambda bar: attributes(1) if bar == 0 else "")),
    "notes in a bar": lambda count: score(one_bar(count)),
    "grace notes": lambda count: score(grace(count)),
    "repeated eighths": lambda count: score(bars(count, lambda index: xml_note(index, pitch=4))),
    "repeated notes": lambda count: score(bars(count, lambda index: xml_note(index, "quarter", 2, pitch=4), 4)),
    "out of reach": lambda count: score(bars(count, lambda index: xml_note(index).replace("<octave>4", "<alter>1</alter><octave>2"))),
    "voices": lambda count: score(voices(count)),
    "a chord": lambda count: score(chord(count)),
    "meters": lambda count: score(bars(count, lambda index: xml_note(index, "quarter", 2), 4, lambda bar: attributes(4 if bar % 2 else 8, 4 if bar % 2 else 8))),
    "keys": lambda count: score(bars(count, xml_note, 8, lambda bar: attributes(key=bar % 5 - 2))),
    "lyrics": lambda count: score(bars(count, lyric)),
    "rests": lambda count: score(bars(count, rested)),
    "silence": lambda count: score(silence(count)),
    "ties": lambda count: score(bars(count, tied)),
    "chord symbols": lambda count: score(bars(count, harmony)),
    "repeats": lambda count: score(repeats(count)),
    "triplets": lambda count: score(bars(count, triplet, 12, lambda bar: attributes(4, 4, 3) if bar == 0 else "")),
    "tempos": lambda count: score(bars(count, tempo)),
    "parts": parts,
    "timewise": timewise,
    "parts in reverse": reversed_parts,
}

MIDI = {
    "midi": lambda count: midi(midi_notes(count)),
    "midi meters": lambda count: midi(midi_meters(count)),
    "midi crowded meters": lambda count: midi(midi_crowded_meters(count)),
    "midi words": lambda count: midi(midi_words(count)),
    "midi silence": lambda count: midi(midi_silence(count)),
    "midi tracks": midi_tracks,
    "midi crowd": lambda count: midi(midi_crowd(count)),
    "midi uneven": lambda count: midi(midi_uneven(count)),
}

# A tuning whose reeds are so far apart that each hole bends through many octaves.
WIDE = """name = "wide"
title = "wide"
also = []
about = "reeds 96 half steps apart"
source = "made up"
label_position = 1
blow = [-48, -47, -46, -45, -44, -43, -42, -41, -40, -39]
draw = [48, 47, 46, 45, 44, 43, 42, 41, 40, 39]
"""

# {tune} is the input, {out} is an output's name without its ending, {tab} is a typed tab of the same number of notes,
# {foreign} is such a tab of another tune, {wide} is the tuning.
COMMANDS = {
    "suggest": "suggest {tune}",
    "suggest --json": "suggest {tune} --json",
    "suggest --any-key": "suggest {tune} --any-key",
    "suggest --adapt": "suggest {tune} --adapt",
    "suggest, wide": "suggest {tune} --tuning-file {wide} --harps C:wide",
    "tab": "tab {tune} --harp C",
    "tab --adapt": "tab {tune} --harp C --position 5 --adapt",
    "notes": "notes {tune}",
    "sheet svg": "sheet {tune} -o {out}.svg",
    "sheet pdf": "sheet {tune} -o {out}.pdf",
    "sheet png": "sheet {tune} -o {out}.png",
    "sheet html": "sheet {tune} -o {out}.html",
    "sheet svg, chosen": "sheet {tune} -o {out}.svg --harp C",
    "export musicxml": "export {tune} --harp C -o {out}.musicxml",
    "export mxl": "export {tune} --harp C -o {out}.mxl",
    "export mid": "export {tune} --harp C -o {out}.mid",
    "check choice": "check {tune} --harp C --position 2",
    "check tab": "check {tune} --harp C --tab {tab}",
    "check foreign tab": "check {tune} --harp C --tab {foreign}",
    "check html": "check {tune} --harp C --position 2 --sheet {out}.html",
}

def tab_of(count):
    marks = ("4", "-4", "5", "-5", "6", "-6", "-7", "7", "-8", "8")
    for index in range(count):
        yield marks[(index * 5 + index // 7 * 3) % 10] + ("\n" if index % 8 == 7 else " ")


def foreign_tab(count):
    for index in range(count):
        yield ("-2''", "3", "-3'", "1", "10", "-9")[index * index % 6] + ("\n" if index % 8 == 7 else " ")


class Run:
    """A command and the best of its runs: the least seconds of CPU time, the least peak of memory in bytes, and the
    exit code and error of the last run."""

    def __init__(self, command):
        self.command, self.cpu, self.peak, self.code = command, float("inf"), float("inf"), None

    def again(self):
        with tempfile.TemporaryFile() as errors:
            start = time.monotonic()
            process = subprocess.Popen(self.command, stdout=subprocess.DEVNULL, stderr=errors)
            while True:
                pid, status, usage = os.wait4(process.pid, os.WNOHANG)
                if pid:
                    break
                if time.monotonic() - start > PATIENCE:
                    process.kill()
                time.sleep(0.001)
            process.returncode = self.code = os.waitstatus_to_exitcode(status)
            errors.seek(0)
            self.error = errors.read(1000).decode(errors="replace").strip()
        self.cpu = min(self.cpu, usage.ru_utime + usage.ru_stime)
        self.peak = min(self.peak, usage.ru_maxrss * 1024)
        return self


class Growth:
    """Measures families, and collects those that grow too fast."""

    def __init__(self, binary, sizes, rounds=3):
        self.binary, self.sizes, self.rounds = str(Path(binary).resolve()), sizes, rounds
        self.folder = tempfile.TemporaryDirectory()
        self.failures, self.measured, self.not_reached, self.now = [], 0, set(), ""
        empty = Run([self.binary, "--version"])
        for _ in range(5):
            empty.again()
        self.start_cpu, self.start_peak = empty.cpu, empty.peak

    def path(self, name):
        return Path(self.folder.name) / name

    def write(self, family, count):
        """Writes a family's files for `count` notes, and returns their paths by the placeholders of COMMANDS."""
        tune = self.path("tune.mid" if family in MIDI else "tune.musicxml")
        # The files are written in pieces, because the peak memory of a child process is at least its parent's.
        if family in MIDI:
            with tune.open("wb") as file:
                file.writelines(MIDI[family](count))
        else:
            with tune.open("w") as file:
                file.writelines(XML[family](count))
        for name, content in (("tab", tab_of(count)), ("foreign", foreign_tab(count)), ("wide", [WIDE])):
            with self.path(name).open("w") as file:
                file.writelines(content)
        return dict(tune=tune, out=self.path("out"), tab=self.path("tab"), foreign=self.path("foreign"), wide=self.path("wide"))

    def command(self, template, names):
        return [self.binary, *(word.format(**names) for word in template.split())]

    def family(self, family, commands):
        """Measures the family with these commands and prints its table."""
        runs = {command: [] for command in commands}
        for count in self.sizes:
            names = self.write(family, count)
            for command in commands:
                row, self.now = runs[command], command
                if row and (row[-1].code < 0 or row[-1].cpu > PATIENCE / 2):
                    continue
                for old in self.path("").glob("out*"):
                    old.unlink()
                run = Run(self.command(COMMANDS[command], names)).again()
                row.append(run)
                rounds = 1
                while rounds < self.rounds and self.fault(row, family):
                    if len(row) > 1:
                        self.write(family, count // 2)
                        row[-2].again()
                        self.write(family, count)
                    run.again()
                    rounds += 1
        for command, row in runs.items():
            self.measured, self.now = self.measured + 1, command
            fault = next((fault for end in range(1, len(row) + 1) if (fault := self.fault(row[:end], family))), "")
            if "grows by" in fault:
                fault = self.over_two(family, command, row, fault)
            times = " ".join(f"{run.cpu - self.start_cpu:7.3f}" for run in row)
            peaks = " ".join(f"{(run.peak - self.start_peak) / 2**20:6.1f}" for run in row)
            print(f"{family:20} {command:20} {times:40} s {peaks:36} MiB  {fault}", flush=True)
            if fault:
                self.failures.append(f"{family}, {command}: {fault}")

    def over_two(self, family, command, row, fault):
        """Returns the fault if the time also grows too fast over two doublings. A single doubling may take longer
        because the data outgrow a cache or first touch more pages of memory."""
        count = int(fault.split(":")[0])
        before = row[self.sizes.index(count) - 1]
        run = Run(self.command(COMMANDS[command], self.write(family, 2 * count)))
        for _ in range(self.rounds):
            run.again()
        mean = ((run.cpu - self.start_cpu) / (before.cpu - self.start_cpu)) ** 0.5
        return f"{fault}, and by {mean:.1f} a doubling up to {2 * count}" if mean > GROWTH else ""

    def fault(self, row, family):
        """Returns the fault of the last of these runs, or an empty text."""
        run, count = row[-1], self.sizes[len(row) - 1]
        before = row[-2] if len(row) > 1 else None
        cpu, peak = run.cpu - self.start_cpu, run.peak - self.start_peak
        share = max(count / NOTES, 1)
        words = " ".join(map(str, run.command))
        named = [NOT_REACHED[name] for name in NOT_REACHED if name == family or name in self.now]
        seconds = max(named, default=SECONDS)
        each, least = (PAGE_BYTES, FEW_PAGE_BYTES) if ".html" in words else (NOTE_BYTES, FEW_BYTES)
        each *= 2 if named else 1
        if run.code not in (0, 1):
            return f"{count}: exit code {run.code}: {run.error[:150]}"
        if cpu > seconds * share:
            return f"{count}: {cpu:.2f} s"
        if cpu > SECONDS * share:
            self.not_reached.add(f"{family}, {self.now}: {count} notes in {SECONDS * share:.1f} s; it takes {cpu:.1f}")
        if peak > max(each * count, least) or count <= NOTES and peak > PEAK:
            return f"{count}: {peak / count / 1000:.1f} kB a note"
        if before and before.cpu - self.start_cpu > START:
            ratio = cpu / (before.cpu - self.start_cpu)
            if ratio > GROWTH:
                return f"{count}: CPU time grows by {ratio:.1f}"
        return ""

    def finish(self):
        for line in sorted(self.not_reached):
            print(f"  not reached: {line}")
        for failure in self.failures:
            print(f"  grows too fast: {failure}")
        print(f"{self.measured - len(self.failures)} passed, {len(self.failures)} failed")
        return 1 if self.failures or not self.measured else 0
