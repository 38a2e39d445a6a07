//! Makes a harp in a tuning of your own, and prints its natural notes and draw bends.
//!
//!     cargo run --example own_harp

#![allow(clippy::print_stdout, reason = "an example prints its answer")]

use std::{error::Error, sync::Arc};

use breathline::{
    harp::{Harp, Technique, Tuning},
    tab::Notation,
};

/// Richter with the draw reed of hole 9 raised by a half step; the reeds are in semitones above the lowest note.
const FILE: &str = "\
name = \"raised-nine\"
title = \"raised nine\"
about = \"hole 9 draws the raised fourth\"
source = \"invented for this example\"
label_position = 1
blow = [0, 4, 7, 12, 16, 19, 24, 28, 31, 36]
draw = [2, 7, 11, 14, 17, 21, 23, 26, 30, 33]
";

fn main() -> Result<(), Box<dyn Error>> {
    let tuning = Arc::new(Tuning::parse(FILE)?);
    let harp = Harp::parse("A:raised-nine", &[tuning])?;
    for &(pitch, action) in harp.actions().iter().filter(|(_, action)| Technique::Draw.allows(*action)) {
        println!("{pitch}: {}", Notation::default().write(action));
    }
    Ok(())
}
