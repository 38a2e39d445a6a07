//! For check_bags.py: reads one JSON object a line with the tunes of each harp, and prints, for each
//! best bag, its price, the number of tunes that it plays, and an upper bound on the tunes that any bag of
//! this price can play.

use std::{
    io::{BufRead, stdin},
    num::NonZeroU32,
};

use breathline::book::bag::{Offer, Tunes, bags};
use serde::{Deserialize, Serialize};

#[derive(Deserialize)]
struct Question {
    harps: Vec<Vec<usize>>,
    /// The price of each harp; 1 if there are no prices.
    prices: Option<Vec<NonZeroU32>>,
    most: usize,
}

#[derive(Serialize)]
struct Answer {
    prices: Vec<u64>,
    tunes: Vec<usize>,
    at_most: Vec<usize>,
}

fn main() {
    for line in stdin().lock().lines() {
        let question: Question = serde_json::from_str(&line.unwrap()).unwrap();
        let prices = question.prices.unwrap_or_else(|| vec![NonZeroU32::MIN; question.harps.len()]);
        let offer = |(tunes, price): (Vec<usize>, _)| Offer { tunes: tunes.into_iter().collect(), price };
        let offers: Vec<Offer> = question.harps.into_iter().zip(prices).map(offer).collect();
        let bags = bags(&offers, &Tunes::default(), question.most);
        let answer = Answer {
            prices: bags.iter().map(|bag| bag.price).collect(),
            tunes: bags.iter().map(|bag| bag.tunes).collect(),
            at_most: bags.iter().map(|bag| bag.at_most).collect(),
        };
        println!("{}", serde_json::to_string(&answer).unwrap());
    }
}
