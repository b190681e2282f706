//! Are all limits kept on one straight stretch, and with how much to spare?
//!
//! # Law
//! The *margin* of a pair of bodies on an interval is the lesser of its distance, tolerances taken off, less its limit, and
//! of the same with stopping overrun less its stopping limit. Lower and upper ends are those of [`super::clearance`]: the
//! bound [`super::pair_lower_bound`] over the interval, and the distance at its middle. A stretch is *kept* when the lower
//! end of every pair's margin is at least [`TO_SPARE`] on intervals that cover it; *broken* as soon as one upper end is
//! below zero. Nothing is refined beyond that, save where more is asked for: then the least margin of all pairs is
//! bracketed to a gap, up to a cap that is enough.
//!
//! Whole pieces (bodies that one joint carries) are told by a box about them first, as long as bodies move far on an
//! interval; at the middle of each such interval, and at the stretch's end before all others, what is near already is
//! measured, so that a stretch that runs into something is refused early.
//!
//! # Limits
//! One stretch under one set of rules. What is told is less than [`super::ClearanceSearch`] tells: no bracket for each
//! pair of classes. A stretch that is kept here keeps its limits there, as [`TO_SPARE`] is more than that search leaves
//! untold.

use crate::mechanism::BodyId;
use crate::space::World;

use super::clearance::{Rule, TOO_NARROW};
use super::margin_search::Search;
use super::overrun::Overrun;
use super::present::Parts;
use super::segment::Segment;

/// The least margin that counts as kept, metres.
pub const TO_SPARE: f64 = 2.0 * TOO_NARROW;

/// What is known of a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Margin {
    /// Every pair keeps its limits with at least so much to spare, m; never more than was asked for.
    Kept(f64),
    /// A pair that does not.
    Broken(Broken),
    /// Whether this pair keeps its limits was not told within the budget; none: nor which pair might not.
    NotTold(Option<[BodyId; 2]>),
}

/// A pair that does not keep its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Broken {
    pub bodies: [BodyId; 2],
    /// Short by at least so much, m.
    pub by: f64,
    /// Where on the stretch it was seen.
    pub fraction: f64,
}

/// How much there is to be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ask {
    /// A margin of so much is enough, m.
    pub enough: f64,
    /// The least margin is bracketed to this, m.
    pub gap: f64,
    /// Most intervals.
    pub intervals: usize,
    pub pairs: Pairs,
}

/// Which pairs are asked about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pairs {
    All,
    /// Those that a driven joint moves against each other: the others are the same on every stretch.
    Moved,
}

impl Ask {
    /// Whether the limits are kept, and no more.
    pub const fn kept(intervals: usize) -> Self {
        Self { enough: TO_SPARE, gap: TO_SPARE, intervals, pairs: Pairs::Moved }
    }
}

/// Gives the rule of a pair of bodies; none: they may touch, or are not to be measured.
pub type PairRule<'r> = dyn Fn(BodyId, BodyId) -> Option<Rule> + Sync + 'r;

/// What is asked about: bodies, what stands still around them, and their rules.
#[derive(Clone, Copy)]
pub struct MarginTask<'r, 'a> {
    pub parts: &'r Parts<'a>,
    /// The parts of the bodies that hang on the structure itself, in the order of [`super::still_parts`].
    pub world: &'r World,
    pub rule: &'r PairRule<'r>,
    /// No rule's limit is greater than the first, no stopping limit greater than the second, m.
    pub greatest: [f64; 2],
}

/// Tells margins of one stretch after another; what it learns of pairs and the memory that it uses are kept.
pub struct MarginSearch<'r, 'a>(Search<'r, 'a>);

impl<'r, 'a> MarginSearch<'r, 'a> {
    pub fn new(task: MarginTask<'r, 'a>) -> Self {
        Self(Search::new(task))
    }

    /// The margin on a stretch on which joints may overrun while stopping.
    pub fn on(&mut self, segment: &Segment, overrun: &Overrun, ask: Ask) -> Margin {
        self.0.run((segment, overrun), ask)
    }
}
