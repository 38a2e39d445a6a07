#!/usr/bin/env python3
"""Writes the MusicXML and MIDI files of the corpus and the demo, the demo's tune book, and the table of tunes, from their
sources.

    python3 corpus/write.py            write every file
    python3 corpus/write.py --check    write nothing; fail if a file is not what its source says
"""

import argparse
import io
import sys
import zipfile
from pathlib import Path

from scribe import catalogue
from scribe.band import band
from scribe.midi import midi
from scribe.musicxml import compressed, musicxml
from scribe.read import read
from scribe.tune import SourceError

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = ("corpus", "demo")
WRITTEN = (".musicxml", ".mid", ".mxl", ".abc")
BOOK = ROOT / "demo" / "lantern-row.abc"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true", help="compare instead of writing")
    check = parser.parse_args().check
    try:
        files, tunes = {}, []
        book = sorted((ROOT / "demo" / "source").glob("*.abc"), key=number)
        files[BOOK] = "\n".join(source.read_text(encoding="utf-8") for source in book).encode()
        for folder in FOLDERS:
            for source in sorted((ROOT / folder / "source").glob("*.abc")):
                tune = read(source.read_text(encoding="utf-8"), source.stem)
                files |= outputs(tune, ROOT / folder)
                if folder == "corpus":
                    tunes.append(tune)
        readme = ROOT / "corpus" / "README.md"
        files[readme] = catalogue.with_table(readme.read_text(encoding="utf-8"), tunes).encode()
    except SourceError as error:
        sys.exit(f"write.py: {error}")
    wrong = [path for path, content in files.items() if not same(path, content)]
    stray = [
        path for folder in FOLDERS for path in sorted((ROOT / folder).iterdir())
        if path.suffix in WRITTEN and path not in files
    ]
    if check:
        for path in wrong:
            print(f"{path.relative_to(ROOT)} differs from its source; run corpus/write.py")
        for path in stray:
            print(f"{path.relative_to(ROOT)} has no source; delete it or write one")
        print(f"{len(files)} files checked, {len(wrong) + len(stray)} wrong")
        return 1 if wrong or stray else 0
    for path in wrong:
        path.write_bytes(files[path])
    print(f"{len(tunes)} tunes in the corpus, {len(files)} files, {len(wrong)} written anew")
    return 0


def number(source):
    """Returns the number of a tune, from the first line of its source: `X:3`."""
    return int(source.read_text(encoding="utf-8").split("\n")[0].removeprefix("X:"))


def outputs(tune, folder):
    score = musicxml(tune)
    files = {folder / f"{tune.name}.musicxml": score.encode(), folder / f"{tune.name}.mid": midi(tune)}
    for extra in tune.also:
        if extra == "mxl":
            files[folder / f"{tune.name}.mxl"] = compressed(tune.name, score)
        elif extra == "band":
            files[folder / f"{tune.name}-band.mid"] = band(tune)
        else:
            raise SourceError(f"{tune.name}: %%also {extra} is not known; known are mxl and band")
    return files


def same(path, content):
    if not path.exists():
        return False
    found = path.read_bytes()
    if path.suffix == ".mxl" and found != content:
        # Another zlib may pack the same text into other bytes.
        return unpacked(found) == unpacked(content)
    return found == content


def unpacked(content):
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return [(name, archive.read(name)) for name in archive.namelist()]


if __name__ == "__main__":
    sys.exit(main())
