//! What does a visit cost, and a way to it, and what is hoped of those that nobody has looked at?
//!
//! # Law
//! A visit costs the seconds of its ways in and out, [`WORTH`] seconds times what its score is short of 1, and [`TIGHT`]
//! seconds for each limit that is kept with nothing to spare, less for one that is kept with little. Of one that nobody has
//! judged a good score is hoped for, less with its strain; once others were judged, one as good as the best of them; once
//! many were, nothing.
//!
//! A way costs what the transit's objective says ([`super::objective`]), [`CHANGED`] seconds for each detent that is changed,
//! and [`LATE`] seconds for each second that it is late. One that nobody has looked for is hoped to cost little more than the
//! least that it could ([`super::travel`]); once others were found, as many times the least as the most direct of them.
//!
//! # Source
//! Invented; the structure of it is common practice.

use super::judge::Judged;
use super::options::{Options, Serving};
use super::travel::Travel;
use super::way::Way;
use crate::state::Scene;

/// What a visit's score is worth, s.
const WORTH: f64 = 500.0;
/// What it costs that a limit is kept with nothing to spare, s.
const TIGHT: f64 = 240.0;
/// What changing a detent of the restraint costs, s.
const CHANGED: f64 = 150.0;
/// What a second too late costs, s.
const LATE: f64 = 10.0;
/// The score that is hoped for …
const HOPED: f64 = 0.8;
/// … less so much for each unit of strain.
const STRAINED: f64 = 0.02;
/// A way is hoped to cost so many times the least that it could.
const DETOUR: f64 = 1.15;
/// After so many good ones, others are hoped to be no better than the best of them …
const FIRST: usize = 4;
/// … and after so many visits, nothing is hoped for.
const JUDGED: usize = 16;

/// What is hoped for, by visit.
pub struct Prices {
    travel: Travel,
    hoped: Vec<Hoped>,
}

#[derive(Clone)]
struct Hoped {
    /// How many servings were judged good, their best score, and the least seconds of their ways in and out.
    good: usize,
    best: f64,
    seconds: f64,
    /// How many ways were found, and how many times the least that it could the most direct one costs.
    ways: usize,
    detour: f64,
}

impl Prices {
    /// Nothing is known yet.
    pub fn new(scene: &Scene, options: &[Options]) -> Self {
        let hoped = Hoped { good: 0, best: 0.0, seconds: f64::INFINITY, ways: 0, detour: f64::INFINITY };
        Self { travel: Travel::new(scene, options), hoped: vec![hoped; options.len()] }
    }

    /// What a visit costs that was judged good, s.
    pub fn of_judged(judged: &Judged) -> f64 {
        WORTH * (1.0 - judged.score) + judged.seconds + TIGHT * judged.short
    }

    /// What a visit of such a strain is hoped to cost, s.
    pub fn of_strain(&self, n: usize, strain: f64) -> f64 {
        let hoped = &self.hoped[n];
        let score = match hoped.good {
            0..FIRST => HOPED,
            FIRST..JUDGED => hoped.best,
            _ => 0.0,
        };
        let seconds = if hoped.good > 0 { hoped.seconds } else { 0.0 };
        WORTH * (1.0 - score + STRAINED * strain) + seconds
    }

    /// What a way costs to visit `n`, or is hoped to, s; it may take `at_most` seconds.
    pub fn of_way(&self, n: usize, [from, to]: [&Serving; 2], way: Option<&Way>, at_most: f64) -> f64 {
        let changes = from.setting.detents.iter().zip(&to.setting.detents).filter(|(from, to)| from != to).count();
        let (cost, late) = match way {
            Some(way) => (way.cost, way.late),
            None => {
                let (hoped, least) = (&self.hoped[n], self.travel.least_seconds(n, from, to));
                let detour = if hoped.ways < FIRST { DETOUR } else { hoped.detour.max(DETOUR) };
                (detour * least, (least - at_most).max(0.0))
            }
        };
        cost + CHANGED * changes as f64 + LATE * late
    }

    /// A visit was judged good.
    pub fn hear_of_judged(&mut self, n: usize, judged: &Judged) {
        let hoped = &mut self.hoped[n];
        hoped.good += 1;
        hoped.best = hoped.best.max(judged.score);
        hoped.seconds = hoped.seconds.min(judged.seconds);
    }

    /// A way was found to visit `n`.
    pub fn hear_of_way(&mut self, n: usize, [from, to]: [&Serving; 2], way: &Way) {
        let detour = way.cost / self.travel.least_seconds(n, from, to);
        let hoped = &mut self.hoped[n];
        hoped.ways += 1;
        hoped.detour = hoped.detour.min(detour);
    }
}
