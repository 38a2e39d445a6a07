#!/usr/bin/env python3
"""Validates the answers in JSON against docs/answers.schema.json (JSON Schema, draft 2020-12), with the package
jsonschema.

    check_json.py BIN

The answers are those of every command for tunes of corpus/ and demo/. Every kind of answer in the schema must occur,
and an answer may have no field that the schema does not describe. The schema must refuse an answer with a required
field of another type, or without a required field.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import jsonschema

import outside

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo"
SCHEMA = json.loads((ROOT / "docs" / "answers.schema.json").read_text("utf-8"))


def closed(schema):
    """Returns the same schema, changed so that it forbids undescribed fields."""
    if isinstance(schema, list):
        return [closed(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    parts = {name: closed(part) for name, part in schema.items()}
    return {**parts, "additionalProperties": False} if "properties" in schema and schema.get("type") == "object" else parts


def validator(name, defs=SCHEMA["$defs"]):
    return jsonschema.Draft202012Validator({"$defs": defs, "$ref": f"#/$defs/{name}"})


def main():
    check, breathline = outside.start(sys.argv)
    binary = str(Path(sys.argv[1]).resolve())
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    met = {}
    described = closed(SCHEMA["$defs"])

    def valid(name, answer, asked):
        faults = [f"{'/'.join(map(str, fault.absolute_path))}: {fault.message[:80]}"
                  for fault in validator(name, described).iter_errors(answer)]
        check(f"{' '.join(map(str, asked))}: {faults[:2]}", not faults)
        met[name] = answer

    def ask(name, *arguments):
        valid(name, breathline(*arguments), arguments)

    def ask_lines(name, *arguments):
        done = subprocess.run([binary, "book", *map(str, arguments), "--json"], capture_output=True, check=False)
        for line in map(json.loads, done.stdout.splitlines()):
            valid("book-failure" if "error" in line else name, line, arguments)

    tunes = sorted(ROOT.glob("corpus/*.musicxml")) + sorted(DEMO.glob("*.mid"))
    with tempfile.TemporaryDirectory() as folder:
        for tune in tunes:
            ask("suggest", "suggest", tune, "--player", "beginner")
            ask("tab", "tab", tune, "--harp", "C", "--adapt", "--bends", "none")
            ask("notes", "notes", tune)
        for options in (["--any-key"], ["--harps", "C,A", "--style", "blues"], ["--key", "E dorian"], ["--unfold", "--bends", "over"]):
            ask("suggest", "suggest", tunes[3], *options)
        ask("sheet", "sheet", tunes[0], "-o", Path(folder) / "sheet.svg")
        ask("sheet-levels", "sheet", tunes[0], "--levels", "--harps", "C,A", "-o", Path(folder) / "levels.svg")
        ask("tab", "export", tunes[0], "--harp", "G", "-o", Path(folder) / "tune.mid")
        ask("check", "check", tunes[0], "--harp", "C", "--position", "2")
        ask("check", "check", DEMO / "lamps-along-the-row.musicxml", "--harp", "G", "--tab", DEMO / "lamps-lesson.txt")
        ask("suggest", "suggest", DEMO / "lamps-along-the-row.musicxml", "--at", "2:6=3")
        ask("tab", "tab", DEMO / "lamps-along-the-row.musicxml", "--harp", "G", "--at", "2:6=3")
        ask("typed", "tab", DEMO / "lamps-lesson.txt", "--harp", "G")
        for harp in ("C", "low-F", "Dm:natural-minor"):
            ask("harp-notes", "harp", harp)
            ask("harp-chords", "harp", harp, "--chords")
        for options in ([], ["--key", "Em"], ["--key", "E", "--feel", "blues"], ["--harp", "C", "--position", "3"]):
            ask("positions", "positions", *options)
        book = Path(folder) / "two.abc"
        book.write_text("X:1\nT:One\nL:1/4\nK:C\nCEGc|\n\nX:2\nT:Two\nL:1/4\nK:G\nGBdg|\n\nX:2\nT:Three\nL:1/4\nK:G\nGBdg|\n", "utf-8")
        ask("tunes", "notes", book)
        ask_lines("book-line", ROOT / "corpus", book, Path(folder) / "missing.mid")
        ask_lines("book-rung", ROOT / "corpus", "--next", "12")
        ask("kit", "kit")
        ask("bag", "bag", ROOT / "corpus", "--have", "C", "--price", "40")
        ask("set", "set", *tunes[:4])

    asked = {reference["$ref"].rsplit("/", 1)[1] for reference in SCHEMA["anyOf"]}
    check(f"every kind of answer occurred: {asked - met.keys()}", asked == met.keys())
    for name, answer in met.items():
        for field in SCHEMA["$defs"][name]["required"]:
            check(f"{name} without {field} is refused",
                  not validator(name).is_valid({key: value for key, value in answer.items() if key != field}))
            check(f"the schema refuses {name} with {field} of another type", not validator(name).is_valid({**answer, field: {"no": "such thing"}}))
    return check.finish()


if __name__ == "__main__":
    sys.exit(main())
