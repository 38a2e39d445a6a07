//! Files in, melodies out. One crate, so that it is linked once.

#[path = "../support/midi.rs"]
mod support;

mod import_abc;
mod import_midi;
mod import_musicxml;
mod import_repeats;
mod pick;
mod typed;
