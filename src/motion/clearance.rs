//! How near do bodies come to one another over a whole motion?
//!
//! # Law
//! Best-first bisection. Each interval of a segment carries the pairs that are not settled on it, each with the
//! greatest lower bound known for it there ([`pair_lower_bound`]; a child inherits its parent's). The distance at the
//! interval's middle is an upper bound on the least distance over the motion. A pair is settled on an interval when
//! - its lower bound is within the gap of the least upper bound of its *group* (pair of classes under one limit), and
//! - it is told from its limit: the lower bound, tolerances taken off, is well above the limit, or not below it and within
//!   the gap of the pair's upper bound; or an upper bound, tolerances taken off, is below it and the pair's own bracket is
//!   within the wider gap of those that do not govern; likewise for stopping.
//!
//! Where the distance routine itself leaves more open at the middle than the gap (0.5 % of the radius of an overlapping
//! cylinder), that much and a tenth of the gap counts instead: no shorter interval would close it.
//!
//! Pairs whose lower bound exceeds the cap are dropped: "above the cap" is what is known of them.
//!
//! # Limits
//! The search ends when nothing is unsettled or its budget of intervals is spent, which the result says. A pair whose
//! bracket is narrower than [`TOO_NARROW`] and still straddles its limit counts as not told.

use crate::mechanism::{BodyId, LinkId, Mechanism, PartId};
use crate::model::Bound;
use crate::space::{Point, Pose, World};

use super::clearance_queue::Queue;
use super::overrun::Overrun;
use super::present::Parts;
use super::segment::{Interval, Segment};

/// A bracket narrower than this that still straddles its limit is not refined further, metres.
pub const TOO_NARROW: f64 = 1e-5;

/// What a pair of bodies is measured against on one segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// Pairs of one group share a result.
    pub group: Group,
    /// Least clearance, metres.
    pub limit: f64,
    /// Least clearance where the arm comes to rest when stopped, metres.
    pub stopping_limit: f64,
}

/// Names a group: the caller's number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Group(pub usize);

/// How long to search, and how far to look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Budget {
    /// Most intervals.
    pub intervals: usize,
    /// The bracket of each group is closed to this, metres.
    pub gap: f64,
    /// The bracket of every other pair that comes below its limit is closed to this, metres.
    pub own_gap: f64,
    /// With tolerances and overrun taken off, too, a pair that comes within this of its limit is bracketed to `gap`, metres.
    pub near_limit: f64,
    /// Pairs farther apart than this are not measured, metres.
    pub cap: f64,
}

impl Default for Budget {
    fn default() -> Self {
        Self { intervals: 200_000, gap: 1e-3, own_gap: 1e-2, near_limit: 0.03, cap: 2.0 }
    }
}

/// Where in the motion something was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    pub segment: usize,
    pub fraction: f64,
    /// Nearest points of the first and the second body, in the structure's frame.
    pub points: [Point; 2],
}

/// A bracket of one quantity over the motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bracket {
    pub bound: Bound,
    /// Where the upper end was seen; none while nothing was measured.
    pub seen: Option<Seen>,
}

/// What is known of one pair of bodies in one group.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    pub group: Group,
    pub bodies: [BodyId; 2],
    pub rule: Rule,
    /// The distance itself.
    pub nominal: Bracket,
    /// With tolerances taken off.
    pub worst: Bracket,
    /// With tolerances and stopping overrun taken off.
    pub stopping: Bracket,
}

/// The result of a search.
#[derive(Clone, Debug)]
pub struct Clearance {
    /// Pairs that came within the cap, by group and then by bodies.
    pub entries: Vec<Entry>,
    /// Groups in which every pair stays above the cap.
    pub above_cap: Vec<Group>,
    /// Intervals that were looked at.
    pub intervals: usize,
    /// Whether the budget ran out; then the brackets are true but wider than the gap.
    pub budget_spent: bool,
}

impl Clearance {
    /// The groups with pairs within the cap, in order.
    pub fn groups(&self) -> Vec<Group> {
        let mut groups: Vec<Group> = self.entries.iter().map(|entry| entry.group).collect();
        groups.dedup();
        groups
    }

    /// Every group of which a pair was asked about, once or more often.
    pub fn all_groups(&self) -> impl Iterator<Item = Group> {
        self.entries.iter().map(|entry| entry.group).chain(self.above_cap.iter().copied())
    }

    /// The group's bracket: least lower end and least upper end of its pairs.
    pub fn bound(&self, group: Group) -> Option<Bound> {
        let of_group = || self.entries.iter().filter(|entry| entry.group == group);
        of_group().next()?;
        let least = |end: fn(&Entry) -> f64| of_group().map(end).fold(f64::INFINITY, f64::min);
        Some(Bound { lower: least(|entry| entry.nominal.bound.lower), upper: least(|entry| entry.nominal.bound.upper) })
    }
}

/// Gives the rule of a pair of bodies on a segment; none: they may touch, or are not to be measured.
pub type Rules<'r> = dyn Fn(usize, BodyId, BodyId) -> Option<Rule> + Sync + 'r;

/// The motion to be bounded.
pub struct Task<'r> {
    pub segments: &'r [Segment],
    pub rules: &'r Rules<'r>,
    /// Whether two segments have the same rules: then a pair is not asked for anew.
    pub same_rules: &'r (dyn Fn(usize, usize) -> bool + Sync + 'r),
    /// What each variable may overrun while stopping, by segment; empty: nothing.
    pub overrun: &'r [Overrun],
}

/// A mechanism whose motion is to be bounded, with all that stands still around it.
pub struct ClearanceSearch<'a> {
    pub(super) parts: Parts<'a>,
    pub(super) world: &'a World,
    pub(super) budget: Budget,
}

impl<'a> ClearanceSearch<'a> {
    /// Prepares a search. `world` holds the parts of the bodies that hang on the structure itself, in the order of
    /// [`still_parts`].
    pub fn new(mechanism: &'a Mechanism, world: &'a World, budget: Budget) -> Self {
        Self { parts: Parts::of(mechanism), world, budget }
    }

    /// Bounds the clearance of every pair that the rules name, over all segments.
    pub fn run(&self, task: &Task) -> Clearance {
        let roots: Vec<Interval> = (0..task.segments.len()).map(Interval::whole).collect();
        self.run_on(task, &roots)
    }

    /// Bounds the clearance of every pair that the rules name, over some intervals, in order of their segments.
    pub fn run_on(&self, task: &Task, roots: &[Interval]) -> Clearance {
        let mut queue = Queue::new(self, task);
        for root in roots {
            queue.seed(*root);
        }
        queue.refine();
        queue.finish()
    }
}

/// The convex parts of the bodies that hang on the structure itself: what a [`World`] for a search is made of.
pub fn still_parts(mechanism: &Mechanism) -> Vec<PartId> {
    mechanism
        .body_ids()
        .filter(|body| mechanism.body(*body).link == LinkId::STRUCTURE)
        .flat_map(|body| (0..mechanism.body(body).parts.len()).map(move |part| PartId { body, part }))
        .collect()
}

/// The world of what stands still around a mechanism.
pub fn still_world(mechanism: &Mechanism) -> World {
    let parts: Vec<_> =
        still_parts(mechanism).into_iter().map(|part| (Pose::identity(), mechanism.part(part))).collect();
    World::new(&parts)
}
