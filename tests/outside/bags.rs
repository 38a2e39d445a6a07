//! Reads one JSON object a line with the tunes of each harp, and prints how many tunes the best bags play: for
//! check_bags.py.

use std::io::{BufRead, stdin};

use breathline::book::bag::{Tunes, bags};
use serde::{Deserialize, Serialize};

#[derive(Deserialize)]
struct Question {
    harps: Vec<Vec<usize>>,
    most: usize,
}

#[derive(Serialize)]
struct Answer {
    tunes: Vec<usize>,
    at_most: Vec<usize>,
}

fn main() {
    for line in stdin().lock().lines() {
        let question: Question = serde_json::from_str(&line.unwrap()).unwrap();
        let harps: Vec<Tunes> = question.harps.into_iter().map(Tunes::from_iter).collect();
        let bags = bags(&harps, &Tunes::default(), question.most);
        let answer = Answer {
            tunes: bags.iter().map(|bag| bag.tunes).collect(),
            at_most: bags.iter().map(|bag| bag.at_most).collect(),
        };
        println!("{}", serde_json::to_string(&answer).unwrap());
    }
}
