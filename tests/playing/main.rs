//! The playing: the search, its laws, keys and changes. These tests form one crate, so that it is linked only once.

#[path = "../graph/mod.rs"]
mod graph;
#[path = "../harness/mod.rs"]
mod harness;
#[path = "../players/mod.rs"]
mod players;
#[path = "../random/mod.rs"]
mod random;
#[path = "../tunes/mod.rs"]
mod tunes;

mod adapt;
mod common_practice;
mod keys;
mod search_flips;
mod search_laws;
mod tempo;
mod ways;
