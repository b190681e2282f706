//! In which order is a stretch looked at until its margin is told?
//!
//! The law is that of [`super::margin`]. Intervals on which whole pieces are in doubt come first, the longest before all
//! others; then those on which pairs of parts are left, the one with the least margin first.

use std::collections::BinaryHeap;

use crate::space::{Direction, separation};

use super::clearance::TOO_NARROW;
use super::doubt::{Doubt, Look, Over};
use super::margin::{Ask, Broken, Margin, MarginTask, Pairs, TO_SPARE};
use super::normals::Normals;
use super::overrun::Overrun;
use super::pair_bound::{ROUNDING, pair_lower_bound};
use super::present::Part;
use super::segment::{Interval, Segment};

/// After so many halvings pieces are looked at part by part, however far they move.
const DEEPEST: u32 = 10;

/// A pair of convex parts whose margin is not told on an interval.
#[derive(Clone, Copy)]
struct Active {
    parts: [Part; 2],
    /// Number of its bodies.
    watched: u32,
    /// Lower end of its margin there, m.
    lower: f64,
}

/// An interval, and what is not told of it.
struct Node {
    /// Halvings that led to it, while pieces are in doubt there.
    depth: Option<u32>,
    /// The least lower end of its pairs.
    lower: f64,
    /// Breaks ties, so that the order depends on nothing else.
    age: usize,
    interval: Interval,
    doubts: Vec<Doubt>,
    pairs: Vec<Active>,
}

impl Ord for Node {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        let depth = |node: &Self| node.depth.unwrap_or(u32::MAX);
        let by_depth = depth(other).cmp(&depth(self));
        by_depth.then(other.lower.total_cmp(&self.lower)).then(other.age.cmp(&self.age))
    }
}

impl PartialOrd for Node {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Node {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Node {}

type Stretch<'s> = (&'s Segment, &'s Overrun);

pub(super) struct Search<'r, 'a> {
    look: Look<'r, 'a>,
    /// What to begin with, by what is asked about.
    all: Vec<Doubt>,
    moved: Vec<Doubt>,
    nodes: BinaryHeap<Node>,
    age: usize,
    found: Vec<([Part; 2], u32)>,
    /// Of the present stretch.
    ask: Ask,
    /// Least lower end among what was settled, m.
    kept: f64,
    /// Least upper end, m.
    least: f64,
    told: Option<Margin>,
}

impl<'r, 'a> Search<'r, 'a> {
    pub fn new(task: MarginTask<'r, 'a>) -> Self {
        let doubts = Look::doubts(&task);
        Self {
            look: Look::new(task),
            all: doubts.iter().map(|(doubt, _)| *doubt).collect(),
            moved: doubts.iter().filter(|(_, driven)| *driven).map(|(doubt, _)| *doubt).collect(),
            nodes: BinaryHeap::new(),
            age: 0,
            found: Vec::new(),
            ask: Ask::kept(0),
            kept: f64::INFINITY,
            least: f64::INFINITY,
            told: None,
        }
    }

    pub fn run(&mut self, stretch: Stretch, ask: Ask) -> Margin {
        (self.ask, self.kept, self.least, self.told) = (ask, f64::INFINITY, f64::INFINITY, None);
        self.nodes.clear();
        let doubts = match ask.pairs {
            Pairs::All => self.all.clone(),
            Pairs::Moved => self.moved.clone(),
        };
        let end = Interval { segment: 0, start: 1.0, end: 1.0 };
        self.look.present.look_at(end, stretch);
        for doubt in &doubts {
            if self.look.is_open(*doubt, 0.0) {
                self.glance(end, *doubt);
            }
        }
        let begun = self.look.present.intervals;
        let (whole, pairs) = (Interval::whole(0), Vec::new());
        self.nodes.push(Node { depth: Some(0), lower: f64::NEG_INFINITY, age: 0, interval: whole, doubts, pairs });
        while let (None, Some(node)) = (self.told, self.nodes.pop()) {
            if self.look.present.intervals - begun >= ask.intervals {
                self.spend(&node);
            } else {
                self.visit(node, stretch);
            }
        }
        self.told.unwrap_or(Margin::Kept(self.kept.min(ask.enough)))
    }

    /// The budget is spent: what is known so far has to do.
    fn spend(&mut self, node: &Node) {
        for pair in node.pairs.iter().filter(|pair| self.is_open(pair)).collect::<Vec<_>>() {
            if pair.lower >= TO_SPARE {
                self.kept = self.kept.min(pair.lower);
            } else {
                self.told = Some(Margin::NotTold(Some(self.look.watched(pair.watched).bodies)));
            }
        }
        if !node.doubts.is_empty() {
            self.told = Some(self.told.unwrap_or(Margin::NotTold(None)));
        }
    }

    fn visit(&mut self, Node { depth, interval, doubts, mut pairs, .. }: Node, stretch: Stretch) {
        pairs.retain(|pair| self.is_open(pair));
        if doubts.is_empty() && pairs.is_empty() {
            return;
        }
        self.look.present.look_at(interval, stretch);
        pairs.iter_mut().for_each(|pair| self.bound_by_balls(pair));
        let mut still_in_doubt = Vec::new();
        for doubt in doubts {
            if !self.look.is_open(doubt, self.ask.enough) {
                continue;
            }
            if depth == Some(DEEPEST) || self.look.is_close_up(doubt) {
                self.add_pairs(doubt, &mut pairs);
            } else {
                self.glance(interval, doubt);
                still_in_doubt.push(doubt);
            }
        }
        if self.told.is_none() {
            self.examine(interval, &mut pairs);
        }
        let depth = if still_in_doubt.is_empty() { None } else { depth.map(|depth| depth + 1) };
        if self.told.is_some() || depth.is_none() && pairs.is_empty() {
            return;
        }
        let lower = pairs.iter().map(|pair| pair.lower).fold(f64::INFINITY, f64::min);
        let [first, second] = interval.halves();
        self.age += 2;
        let node = |age, interval, doubts, pairs| Node { depth, lower, age, interval, doubts, pairs };
        self.nodes.push(node(self.age, second, still_in_doubt.clone(), pairs.clone()));
        self.nodes.push(node(self.age + 1, first, still_in_doubt, pairs));
    }

    /// Measures what may break its limits at the middle of the present interval.
    fn glance(&mut self, interval: Interval, doubt: Doubt) {
        let mut found = std::mem::take(&mut self.found);
        self.look.parts(doubt, (Over::Middle, 0.0), &mut found);
        for (parts, watched) in found.iter().copied() {
            let mut pair = Active { parts, watched, lower: f64::NEG_INFINITY };
            if self.told.is_none() && self.may_be_broken(&pair) {
                self.measure(interval, &mut pair);
            }
        }
        self.found = found;
    }

    /// Adds the pairs of a doubt that boxes and balls leave open on the present interval.
    fn add_pairs(&mut self, doubt: Doubt, pairs: &mut Vec<Active>) {
        let mut found = std::mem::take(&mut self.found);
        self.look.parts(doubt, (Over::All, self.ask.enough), &mut found);
        for (parts, watched) in found.iter().copied() {
            let mut pair = Active { parts, watched, lower: f64::NEG_INFINITY };
            self.bound_by_balls(&mut pair);
            if self.is_open(&pair) {
                pairs.push(pair);
            }
        }
        self.found = found;
    }

    /// Measures the pairs on the present interval; those that stay open are left.
    fn examine(&mut self, interval: Interval, pairs: &mut Vec<Active>) {
        pairs.retain(|pair| self.is_open(pair));
        // The nearest parts of two bodies first: most of the others are settled by them.
        pairs.sort_by(|a, b| a.watched.cmp(&b.watched).then(a.lower.total_cmp(&b.lower)));
        for of_bodies in pairs.chunk_by_mut(|a, b| a.watched == b.watched) {
            let mut normals = Normals::default();
            for pair in of_bodies {
                if self.is_open(pair) && !self.settled_by(&normals, pair) {
                    normals.add(self.measure(interval, pair));
                    if self.told.is_some() {
                        return;
                    }
                }
            }
        }
        pairs.retain(|pair| self.is_open(pair));
    }

    /// Whether a pair still has something to tell on its interval; if not, its margin is put on record.
    fn is_open(&mut self, pair: &Active) -> bool {
        let closed = pair.lower >= self.ask.enough
            || (pair.lower >= TO_SPARE && pair.lower >= self.least.min(self.ask.enough) - self.ask.gap);
        if closed {
            self.kept = self.kept.min(pair.lower);
        }
        !closed
    }

    /// Whether planes that parted other parts of the same two bodies tell enough of this pair.
    fn settled_by(&mut self, normals: &Normals, pair: &mut Active) -> bool {
        let watched = *self.look.watched(pair.watched);
        let present = &mut self.look.present;
        let [a_motion, b_motion] = pair.parts.map(|part| present.part_motion(part, watched.inner));
        let [a, b] = present.both(pair.parts).map(|placed| &placed.shape);
        for normal in normals.latest() {
            let lower = pair_lower_bound((a, &a_motion), (b, &b_motion), normal);
            pair.lower = pair.lower.max(watched.lower(lower, [&a_motion, &b_motion]));
            if pair.lower >= self.ask.enough {
                self.kept = self.kept.min(pair.lower);
                return true;
            }
        }
        false
    }

    /// Raises the pair's lower end by what balls about its parts tell.
    fn bound_by_balls(&mut self, pair: &mut Active) {
        let watched = *self.look.watched(pair.watched);
        let present = &mut self.look.present;
        let [a, b] = pair.parts.map(|part| present.placed(part).ball);
        let [a_motion, b_motion] = pair.parts.map(|part| present.part_motion(part, watched.inner));
        let reach = a.radius + b.radius + a_motion.displacement + b_motion.displacement;
        let lower = (a.centre - b.centre).norm() - reach - ROUNDING;
        pair.lower = pair.lower.max(watched.lower(lower, [&a_motion, &b_motion]));
    }

    /// Whether balls about its parts leave it open that a pair breaks its limits at the middle.
    fn may_be_broken(&mut self, pair: &Active) -> bool {
        let watched = *self.look.watched(pair.watched);
        let present = &mut self.look.present;
        let [a, b] = pair.parts.map(|part| present.placed(part).ball);
        let [a_motion, b_motion] = pair.parts.map(|part| present.part_motion(part, watched.inner));
        watched.here((a.centre - b.centre).norm() - a.radius - b.radius, [&a_motion, &b_motion]) < 0.0
    }

    /// Measures a pair at the midpoint: an upper end for the stretch, a lower one for the interval. The normal that parts
    /// it is handed back.
    fn measure(&mut self, interval: Interval, pair: &mut Active) -> Direction {
        let watched = *self.look.watched(pair.watched);
        let present = &mut self.look.present;
        let [a_motion, b_motion] = pair.parts.map(|part| present.part_motion(part, watched.inner));
        let [a, b] = present.both(pair.parts).map(|placed| &placed.shape);
        let apart = separation(a, b);
        let lower = pair_lower_bound((a, &a_motion), (b, &b_motion), &apart.normal);
        pair.lower = pair.lower.max(watched.lower(lower, [&a_motion, &b_motion]));
        let upper = watched.here(apart.upper, [&a_motion, &b_motion]);
        self.least = self.least.min(upper);
        let narrow = TOO_NARROW + apart.upper - apart.lower;
        if upper < 0.0 {
            let broken = Broken { bodies: watched.bodies, by: -upper, fraction: interval.middle() };
            self.told = Some(Margin::Broken(broken));
        } else if pair.lower < TO_SPARE && upper - pair.lower < narrow {
            self.told = Some(Margin::NotTold(Some(watched.bodies)));
        }
        apart.normal
    }
}
