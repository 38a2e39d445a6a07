"""Turns the tunes' sources into MusicXML and MIDI.

`read` makes a `tune.Tune` from the text; `musicxml`, `midi` and `band` write it; `catalogue` lists all tunes. The package
uses only the standard library.
"""
