//! The reading of files, and the choice of the melody. These tests form one crate, so that it is linked only once.

#[path = "../support/midi.rs"]
mod support;

mod import_abc;
mod import_midi;
mod import_musicxml;
mod import_repeats;
mod pick;
mod typed;
