//! In which order are intervals looked at, and when is a pair settled on one?
//!
//! The law is that of [`super::clearance`]; here are the queue and the test that settles.

use std::collections::{BTreeMap, BinaryHeap, HashMap};

use crate::mechanism::{BodyId, BodyMotion, LinkId, common_link};
use crate::space::{aabb, separation};

use super::clearance::{Bracket, Clearance, ClearanceSearch, Entry, Group, Rule, Seen, TOO_NARROW, Task};
use super::pair_bound::{ROUNDING, pair_lower_bound};
use super::present::{Mover, MovingBody, Part, Present};
use super::segment::Interval;

/// Seeds are cut until no body moves farther than this on one, so that the boxes of the broad phase stay small, m.
const SEED_DISPLACEMENT: f64 = 0.5;
/// But no more often than this.
const SEED_DEPTH: usize = 8;

/// A pair of convex parts that is not settled on an interval, and the lower bounds known for it there.
#[derive(Clone, Copy)]
struct Active {
    parts: [Part; 2],
    watched: Watched,
    nominal: f64,
    worst: f64,
    stopping: f64,
    /// What the distance routine left open when the pair was last measured, m: no shorter interval closes it.
    unresolved: f64,
}

/// A pair of bodies that is to be measured.
#[derive(Clone, Copy)]
struct Watched {
    entry: u32,
    /// The link that both hang on.
    inner: LinkId,
}

struct Node {
    /// The least margin of its pairs when it was queued: the order of the queue.
    urgency: f64,
    /// Breaks ties, so that the order depends on nothing else.
    age: usize,
    interval: Interval,
    pairs: Vec<Active>,
}

impl Ord for Node {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        other.urgency.total_cmp(&self.urgency).then(other.age.cmp(&self.age))
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

/// What has been asked about a pair of bodies on the segment being seeded.
#[derive(Clone, Copy)]
enum Asked {
    NotYet,
    NotWatched,
    Watched(Watched),
}

/// What the search knows of a pair of bodies in a group.
struct Known {
    entry: Entry,
    /// Least lower bounds on the intervals on which it was dropped; nominal, worst and stopping.
    dropped: [f64; 3],
    /// By how much both bodies together grow for the worst case, m.
    growth: f64,
}

pub(super) struct Queue<'r, 'a> {
    of: &'r ClearanceSearch<'a>,
    task: &'r Task<'r>,
    present: Present<'r, 'a>,
    known: Vec<Known>,
    known_ids: HashMap<(Group, BodyId, BodyId), u32>,
    /// Every group that a watched pair belongs to, and its least upper bound.
    groups: BTreeMap<Group, f64>,
    nodes: BinaryHeap<Node>,
    asked: Vec<Asked>,
    asked_of_segment: Option<usize>,
    age: usize,
    budget_spent: bool,
}

impl<'r, 'a> Queue<'r, 'a> {
    pub fn new(of: &'r ClearanceSearch<'a>, task: &'r Task<'r>) -> Self {
        Self {
            of,
            task,
            present: Present::new(&of.parts, task.segments, task.overrun),
            known: Vec::new(),
            known_ids: HashMap::new(),
            groups: BTreeMap::new(),
            nodes: BinaryHeap::new(),
            asked: Vec::new(),
            asked_of_segment: None,
            age: 0,
            budget_spent: false,
        }
    }

    /// Cuts a root until its bodies stay in small boxes, and queues every watched pair that may come within the cap.
    pub fn seed(&mut self, root: Interval) {
        if self.asked_of_segment.is_none_or(|segment| !(self.task.same_rules)(segment, root.segment)) {
            self.asked.clear();
            self.asked.resize(self.of.parts.moving.len() * self.of.parts.mechanism.bodies().len(), Asked::NotYet);
            self.asked_of_segment = Some(root.segment);
        }
        let mut to_cut = vec![(root, 0)];
        while let Some((interval, depth)) = to_cut.pop() {
            self.present.look_at(interval);
            let displacement = |mover| self.present.motion(mover, LinkId::STRUCTURE).displacement;
            let farthest = self.of.parts.movers().map(displacement).fold(0.0, f64::max);
            if farthest > SEED_DISPLACEMENT && depth < SEED_DEPTH {
                let [first, second] = interval.halves();
                to_cut.push((second, depth + 1));
                to_cut.push((first, depth + 1));
            } else {
                let pairs = self.candidates(interval.segment);
                self.push([interval], pairs);
            }
        }
    }

    /// Pairs that the broad phase cannot exclude on the present interval.
    fn candidates(&mut self, segment: usize) -> Vec<Active> {
        let (parts, cap) = (&self.of.parts, self.of.budget.cap);
        let mut pairs = Vec::new();
        let mut near = Vec::new();
        for mover in parts.movers() {
            let motion = *self.present.motion(mover, LinkId::STRUCTURE);
            let growth = parts.mechanism.body(parts.moving(mover).body).growth;
            let stray = motion.displacement + motion.stopping.max(motion.tolerance) + growth;
            for part in parts.of_mover(mover) {
                self.of.world.near_into(&aabb(&self.present.placed(part).shape).grown(stray + cap), &mut near);
                for (still, body) in near.iter().map(|in_world| parts.still(*in_world)) {
                    if let Some(watched) = self.watched(segment, mover, body) {
                        pairs.push(self.active([part, still], watched));
                    }
                }
            }
            for other in parts.movers().take_while(|other| *other < mover) {
                let Some(watched) = self.watched(segment, mover, parts.moving(other).body) else { continue };
                for part in parts.of_mover(mover) {
                    for other_part in parts.of_mover(other) {
                        pairs.push(self.active([part, other_part], watched));
                    }
                }
            }
        }
        pairs
    }

    /// Whether a pair of bodies is to be measured on a segment.
    fn watched(&mut self, segment: usize, mover: Mover, other: BodyId) -> Option<Watched> {
        let mechanism = self.of.parts.mechanism;
        let slot = mover.0 * mechanism.bodies().len() + other.0;
        if let Asked::NotYet = self.asked[slot] {
            let MovingBody { body, link, .. } = *self.of.parts.moving(mover);
            self.asked[slot] = match (self.task.rules)(segment, body, other) {
                Some(rule) => {
                    let inner = common_link(mechanism, link, mechanism.body(other).link);
                    Asked::Watched(Watched { entry: self.entry(rule, body, other), inner })
                }
                None => Asked::NotWatched,
            };
        }
        match self.asked[slot] {
            Asked::Watched(watched) => Some(watched),
            Asked::NotYet | Asked::NotWatched => None,
        }
    }

    fn entry(&mut self, rule: Rule, a: BodyId, b: BodyId) -> u32 {
        self.groups.entry(rule.group).or_insert(f64::INFINITY);
        let next = u32::try_from(self.known.len()).expect("pairs of bodies in memory");
        *self.known_ids.entry((rule.group, a, b)).or_insert_with(|| {
            let (bodies, unknown) = ([a, b], Bracket::UNKNOWN);
            let entry = Entry { group: rule.group, bodies, rule, nominal: unknown, worst: unknown, stopping: unknown };
            let growth = bodies.iter().map(|body| self.of.parts.mechanism.body(*body).growth).sum();
            self.known.push(Known { entry, dropped: [f64::INFINITY; 3], growth });
            next
        })
    }

    /// A pair of parts, with what balls about them bound already.
    fn active(&mut self, parts: [Part; 2], watched: Watched) -> Active {
        let blank = f64::NEG_INFINITY;
        let mut active = Active { parts, watched, nominal: blank, worst: blank, stopping: blank, unresolved: 0.0 };
        self.bound_by_balls(&mut active);
        active
    }

    /// Looks at the most urgent intervals until everything is settled or the budget is spent.
    pub fn refine(&mut self) {
        while let Some(Node { interval, pairs: mut open, .. }) = self.nodes.pop() {
            open.retain(|pair| self.is_open(pair));
            if open.is_empty() {
                continue;
            }
            if self.present.intervals >= self.of.budget.intervals {
                self.budget_spent = true;
                for pair in &open {
                    self.settle(pair);
                }
                continue;
            }
            self.present.look_at(interval);
            for pair in &mut open {
                self.measure(interval, pair);
            }
            self.push(interval.halves(), open);
        }
    }

    /// Queues intervals that have the same pairs, but for those that are settled by now.
    fn push<const N: usize>(&mut self, intervals: [Interval; N], mut pairs: Vec<Active>) {
        let margin = |pair: &Active| pair.worst - self.known_of(pair).entry.rule.limit;
        let urgency = pairs.iter().map(margin).fold(f64::INFINITY, f64::min);
        pairs.retain(|pair| self.is_open(pair));
        if pairs.is_empty() {
            return;
        }
        for interval in intervals {
            self.age += 1;
            self.nodes.push(Node { urgency, age: self.age, interval, pairs: pairs.clone() });
        }
    }

    fn known_of(&self, pair: &Active) -> &Known {
        &self.known[pair.watched.entry as usize]
    }

    /// Whether a pair still has something to tell on its interval; if not, its lower bounds are put on record.
    fn is_open(&mut self, pair: &Active) -> bool {
        let known = &mut self.known[pair.watched.entry as usize];
        let entry = &known.entry;
        let rule = &entry.rule;
        let told = |lower: f64, limit: f64, bracket: &Bracket| {
            let below = bracket.bound.upper < limit;
            lower >= limit || below || bracket.bound.upper - lower < TOO_NARROW + pair.unresolved
        };
        let keeps_limits = pair.worst >= rule.limit && pair.stopping >= rule.stopping_limit;
        if keeps_limits && pair.nominal > self.of.budget.cap {
            for (least, lower) in known.dropped.iter_mut().zip([pair.nominal, pair.worst, pair.stopping]) {
                *least = least.min(lower);
            }
            return false;
        }
        let gap = self.of.budget.gap.max(pair.unresolved + 0.1 * self.of.budget.gap);
        let may_govern = pair.nominal < self.groups[&entry.group] - gap;
        let own_bracket_open = !keeps_limits && pair.nominal < entry.nominal.bound.upper - gap;
        let untold =
            !told(pair.worst, rule.limit, &entry.worst) || !told(pair.stopping, rule.stopping_limit, &entry.stopping);
        let open = may_govern || own_bracket_open || untold;
        if !open {
            self.settle(pair);
        }
        open
    }

    fn settle(&mut self, pair: &Active) {
        let entry = &mut self.known[pair.watched.entry as usize].entry;
        for (bracket, lower) in
            [(&mut entry.nominal, pair.nominal), (&mut entry.worst, pair.worst), (&mut entry.stopping, pair.stopping)]
        {
            bracket.bound.lower = bracket.bound.lower.min(lower);
        }
    }

    /// Raises the pair's lower bounds by what balls about its parts tell.
    fn bound_by_balls(&mut self, pair: &mut Active) {
        let [a, b] = pair.parts.map(|part| self.present.placed(part).ball);
        let [a_motion, b_motion] = pair.parts.map(|part| self.present.part_motion(part, pair.watched.inner));
        let reach = a.radius + b.radius + a_motion.displacement + b_motion.displacement;
        let lower = (a.centre - b.centre).norm() - reach - ROUNDING;
        self.raise(pair, lower, [&a_motion, &b_motion]);
    }

    fn raise(&self, pair: &mut Active, lower: f64, [a, b]: [&BodyMotion; 2]) {
        let growth = self.known_of(pair).growth;
        pair.nominal = pair.nominal.max(lower);
        pair.worst = pair.worst.max(lower - a.tolerance - b.tolerance - growth);
        pair.stopping = pair.stopping.max(lower - a.stopping - b.stopping - growth);
    }

    /// Measures a pair at the midpoint: an upper bound for the motion, a lower one for the interval.
    fn measure(&mut self, interval: Interval, pair: &mut Active) {
        self.bound_by_balls(pair);
        let entry = &self.known_of(pair).entry;
        let far = pair.nominal >= self.groups[&entry.group] - self.of.budget.gap
            && pair.worst >= entry.rule.limit
            && pair.stopping >= entry.rule.stopping_limit;
        if far {
            return;
        }
        let [a_motion, b_motion] = pair.parts.map(|part| self.present.part_motion(part, pair.watched.inner));
        let [a, b] = self.present.both(pair.parts).map(|placed| &placed.shape);
        let apart = separation(a, b);
        pair.unresolved = apart.upper - apart.lower;
        let lower = pair_lower_bound((a, &a_motion), (b, &b_motion), &apart.normal);
        let seen =
            || Seen { segment: interval.segment, fraction: interval.middle(), points: [apart.point_a, apart.point_b] };
        let Known { entry, growth, .. } = &mut self.known[pair.watched.entry as usize];
        entry.nominal.saw(apart.upper, seen);
        entry.worst.saw(apart.upper - a_motion.tolerance_here - b_motion.tolerance_here - *growth, seen);
        entry.stopping.saw(apart.upper - a_motion.stopping_here - b_motion.stopping_here - *growth, seen);
        let group = entry.group;
        let least = self.groups.get_mut(&group).expect("every entry's group is listed");
        *least = least.min(apart.upper);
        self.raise(pair, lower, [&a_motion, &b_motion]);
    }

    pub fn finish(self) -> Clearance {
        let mut entries: Vec<Entry> = self
            .known
            .into_iter()
            .filter(|known| known.entry.nominal.bound.lower.is_finite())
            .map(|Known { mut entry, dropped, .. }| {
                // Above the cap somewhere, within it elsewhere: tolerances may still be greatest where it is above.
                let brackets = [&mut entry.nominal, &mut entry.worst, &mut entry.stopping];
                for (bracket, dropped) in brackets.into_iter().zip(dropped) {
                    bracket.bound.lower = bracket.bound.lower.min(dropped);
                }
                entry
            })
            .collect();
        entries.sort_by_key(|entry| (entry.group, entry.bodies));
        let has_entry = |group: &Group| entries.iter().any(|entry| entry.group == *group);
        let above_cap = self.groups.keys().copied().filter(|group| !has_entry(group)).collect();
        Clearance { entries, above_cap, intervals: self.present.intervals, budget_spent: self.budget_spent }
    }
}
