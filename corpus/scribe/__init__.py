"""Turns the tunes' sources into MusicXML and MIDI.

`read` makes a `tune.Tune` from the text, `musicxml`, `midi` and `band` write it. Standard library only.
"""
