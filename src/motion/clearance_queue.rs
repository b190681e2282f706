//! In which order are intervals looked at, and when is a pair settled on one?
//!
//! The law is that of [`super::clearance`]; here are the queue and the test that settles. Three quantities are bounded
//! side by side: the distance itself, tolerances taken off, and stopping overrun taken off as well.

use std::collections::{BTreeMap, BinaryHeap};

use crate::mechanism::{BodyId, BodyMotion, LinkId, common_link};
use crate::model::Bound;
use crate::space::{Direction, aabb, separation};

use super::clearance::{Bracket, Budget, Clearance, ClearanceSearch, Entry, Group, Rule, Seen, TOO_NARROW, Task};
use super::normals::Normals;
use super::overrun::Overrun;
use super::pair_bound::{ROUNDING, pair_lower_bound};
use super::present::{Mover, MovingBody, Part, Present};
use super::segment::Interval;

/// Seeds are cut until no body moves farther than this on one, so that the boxes of the broad phase stay small, m.
const SEED_DISPLACEMENT: f64 = 0.5;
/// But no more often than this.
const SEED_DEPTH: usize = 8;

/// Nominal, worst and stopping, in this order.
type Three<T> = [T; 3];

/// A pair of convex parts that is not settled on an interval, and the lower bounds known for it there.
#[derive(Clone, Copy)]
struct Active {
    parts: [Part; 2],
    /// Number of its bodies among all pairs that are known.
    known: u32,
    lower: Three<f64>,
    /// What the distance routine left open when the pair was last measured, m: no shorter interval closes it.
    unresolved: f64,
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
    Known(u32),
}

/// What the search knows of a pair of bodies in a group.
struct Known {
    bodies: [BodyId; 2],
    /// The link that both hang on.
    inner: LinkId,
    rule: Rule,
    /// Number of its group.
    group: usize,
    /// By how much both bodies together grow for the worst case, m.
    growth: f64,
    lower: Three<f64>,
    upper: Three<f64>,
    /// Numbers of what the upper ends were seen at.
    seen: Three<Option<u32>>,
    /// Least lower bounds on the intervals on which it was dropped.
    dropped: Three<f64>,
    /// The same bodies in another group.
    also: Option<u32>,
}

pub(super) struct Queue<'r, 'a> {
    of: &'r ClearanceSearch<'a>,
    task: &'r Task<'r>,
    present: Present<'r, 'a>,
    known: Vec<Known>,
    seen: Vec<Seen>,
    /// Every group that a watched pair belongs to, by number, and its least upper bound.
    groups: Vec<(Group, f64)>,
    group_numbers: BTreeMap<Group, usize>,
    nodes: BinaryHeap<Node>,
    /// By moving body, then by any body: what has been asked.
    asked: Vec<Asked>,
    /// In the same order: what is known, in the latest group.
    latest: Vec<Option<u32>>,
    asked_of_segment: Option<usize>,
    candidates: Vec<Active>,
    age: usize,
    budget_spent: bool,
}

impl<'r, 'a> Queue<'r, 'a> {
    pub fn new(of: &'r ClearanceSearch<'a>, task: &'r Task<'r>) -> Self {
        let pairs = of.parts.moving.len() * of.parts.mechanism.bodies().len();
        Self {
            of,
            task,
            present: Present::new(&of.parts),
            known: Vec::new(),
            seen: Vec::new(),
            groups: Vec::new(),
            group_numbers: BTreeMap::new(),
            nodes: BinaryHeap::new(),
            asked: vec![Asked::NotYet; pairs],
            latest: vec![None; pairs],
            asked_of_segment: None,
            candidates: Vec::new(),
            age: 0,
            budget_spent: false,
        }
    }

    /// Cuts a root until its bodies stay in small boxes, and looks there at every watched pair that may come within the
    /// cap.
    pub fn seed(&mut self, root: Interval) {
        if self.asked_of_segment.is_some_and(|segment| !(self.task.same_rules)(segment, root.segment)) {
            self.asked.fill(Asked::NotYet);
        }
        self.asked_of_segment = Some(root.segment);
        let mut to_cut = vec![(root, 0)];
        while let Some((interval, depth)) = to_cut.pop() {
            self.look_at(interval);
            let displacement = |mover| self.present.motion(mover, LinkId::STRUCTURE).displacement;
            let farthest = self.of.parts.movers().map(displacement).fold(0.0, f64::max);
            if farthest > SEED_DISPLACEMENT && depth < SEED_DEPTH {
                let [first, second] = interval.halves();
                to_cut.push((second, depth + 1));
                to_cut.push((first, depth + 1));
            } else {
                let mut pairs = std::mem::take(&mut self.candidates);
                self.find_candidates(interval.segment, &mut pairs);
                self.examine(interval, &mut pairs);
                self.candidates = pairs;
            }
        }
    }

    fn look_at(&mut self, interval: Interval) {
        let nothing = Overrun::default();
        let overrun = self.task.overrun.get(interval.segment).unwrap_or(&nothing);
        self.present.look_at(interval, (&self.task.segments[interval.segment], overrun));
    }

    /// Pairs that the broad phase cannot exclude on the present interval, in place of what the list held.
    fn find_candidates(&mut self, segment: usize, pairs: &mut Vec<Active>) {
        let (parts, cap) = (&self.of.parts, self.of.budget.cap);
        let mut near = Vec::new();
        pairs.clear();
        for mover in parts.movers() {
            let motion = *self.present.motion(mover, LinkId::STRUCTURE);
            let growth = parts.mechanism.body(parts.moving(mover).body).growth + parts.still_growth;
            let stray = motion.displacement + motion.stopping.max(motion.tolerance) + growth;
            for part in parts.of_mover(mover) {
                self.of.world.near_into(&aabb(&self.present.placed(part).shape).grown(stray + cap), &mut near);
                for (still, body) in near.iter().map(|in_world| parts.still(*in_world)) {
                    if let Some(known) = self.watched(segment, mover, body) {
                        pairs.push(self.active([part, still], known));
                    }
                }
            }
            for other in parts.movers().take_while(|other| *other < mover) {
                let Some(known) = self.watched(segment, mover, parts.moving(other).body) else { continue };
                for part in parts.of_mover(mover) {
                    for other_part in parts.of_mover(other) {
                        pairs.push(self.active([part, other_part], known));
                    }
                }
            }
        }
    }

    /// The number of a pair of bodies; none where it isn't to be measured on a segment.
    fn watched(&mut self, segment: usize, mover: Mover, other: BodyId) -> Option<u32> {
        let mechanism = self.of.parts.mechanism;
        let slot = mover.0 * mechanism.bodies().len() + other.0;
        if let Asked::NotYet = self.asked[slot] {
            let MovingBody { body, link, .. } = *self.of.parts.moving(mover);
            self.asked[slot] = match (self.task.rules)(segment, body, other) {
                Some(rule) => {
                    let inner = common_link(mechanism, link, mechanism.body(other).link);
                    Asked::Known(self.known_in(rule, [body, other], inner, slot))
                }
                None => Asked::NotWatched,
            };
        }
        match self.asked[slot] {
            Asked::Known(known) => Some(known),
            Asked::NotYet | Asked::NotWatched => None,
        }
    }

    /// The number of a pair of bodies in a group.
    fn known_in(&mut self, rule: Rule, bodies: [BodyId; 2], inner: LinkId, slot: usize) -> u32 {
        let mut before = self.latest[slot];
        while let Some(number) = before {
            let known = &self.known[number as usize];
            if known.rule.group == rule.group {
                return number;
            }
            before = known.also;
        }
        let group = *self.group_numbers.entry(rule.group).or_insert(self.groups.len());
        if group == self.groups.len() {
            self.groups.push((rule.group, f64::INFINITY));
        }
        let number = u32::try_from(self.known.len()).expect("pairs of bodies in memory");
        self.known.push(Known {
            bodies,
            inner,
            rule,
            group,
            growth: bodies.iter().map(|body| self.of.parts.mechanism.body(*body).growth).sum(),
            lower: [f64::INFINITY; 3],
            upper: [f64::INFINITY; 3],
            seen: [None; 3],
            dropped: [f64::INFINITY; 3],
            also: self.latest[slot].replace(number),
        });
        number
    }

    /// A pair of parts, with what balls about them bound already.
    fn active(&mut self, parts: [Part; 2], known: u32) -> Active {
        let mut active = Active { parts, known, lower: [f64::NEG_INFINITY; 3], unresolved: 0.0 };
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
                open.iter().for_each(|pair| self.settle(pair));
                continue;
            }
            self.look_at(interval);
            open.iter_mut().for_each(|pair| self.bound_by_balls(pair));
            self.examine(interval, &mut open);
        }
    }

    /// Measures the pairs on the present interval and queues its halves with those that stay open.
    fn examine(&mut self, interval: Interval, pairs: &mut Vec<Active>) {
        pairs.retain(|pair| self.is_open(pair));
        // The nearest parts of two bodies first: most of the others are settled by them.
        pairs.sort_by(|a, b| a.known.cmp(&b.known).then(a.lower[0].total_cmp(&b.lower[0])));
        for of_bodies in pairs.chunk_by_mut(|a, b| a.known == b.known) {
            let mut normals = Normals::default();
            for pair in of_bodies {
                if self.is_open(pair) && !self.settled_by(&normals, pair) {
                    normals.add(self.measure(interval, pair));
                }
            }
        }
        let margin = |pair: &Active| pair.lower[1] - self.known_of(pair).rule.limit;
        let urgency = pairs.iter().map(margin).fold(f64::INFINITY, f64::min);
        pairs.retain(|pair| self.is_open(pair));
        if pairs.is_empty() {
            return;
        }
        for half in interval.halves() {
            self.age += 1;
            self.nodes.push(Node { urgency, age: self.age, interval: half, pairs: pairs.clone() });
        }
    }

    /// Whether planes that parted other parts of the same two bodies tell enough of this pair.
    fn settled_by(&mut self, normals: &Normals, pair: &mut Active) -> bool {
        let inner = self.known_of(pair).inner;
        let motions = pair.parts.map(|part| self.present.part_motion(part, inner));
        normals.latest().any(|normal| {
            let [a, b] = self.present.both(pair.parts).map(|placed| &placed.shape);
            let lower = pair_lower_bound((a, &motions[0]), (b, &motions[1]), normal);
            self.raise(pair, lower, [&motions[0], &motions[1]]);
            !self.is_open(pair)
        })
    }

    fn known_of(&self, pair: &Active) -> &Known {
        &self.known[pair.known as usize]
    }

    /// Whether a pair still has something to tell on its interval; if not, its lower bounds are put on record.
    fn is_open(&mut self, pair: &Active) -> bool {
        let known = &mut self.known[pair.known as usize];
        let [nominal, worst, stopping] = pair.lower;
        let Rule { limit, stopping_limit, .. } = known.rule;
        let keeps_limits = worst >= limit && stopping >= stopping_limit;
        if keeps_limits && nominal > self.of.budget.cap {
            lower(&mut known.dropped, &pair.lower);
            return false;
        }
        let Budget { gap, own_gap, near_limit, .. } = self.of.budget;
        let told = |lower: f64, upper: f64, limit: f64| {
            let is_near = lower < limit + near_limit;
            let enough = if lower < limit { TOO_NARROW } else { gap };
            !is_near || upper < limit || upper - lower < enough + pair.unresolved
        };
        let closed = |gap: f64, upper: f64| nominal >= upper - gap.max(pair.unresolved + 0.1 * gap);
        let may_govern = !closed(gap, self.groups[known.group].1);
        let own_bracket_open = !keeps_limits && !closed(own_gap, known.upper[0]);
        let untold = !told(worst, known.upper[1], limit) || !told(stopping, known.upper[2], stopping_limit);
        let open = may_govern || own_bracket_open || untold;
        if !open {
            self.settle(pair);
        }
        open
    }

    fn settle(&mut self, pair: &Active) {
        lower(&mut self.known[pair.known as usize].lower, &pair.lower);
    }

    /// Raises the pair's lower bounds by what balls about its parts tell.
    fn bound_by_balls(&mut self, pair: &mut Active) {
        let [a, b] = pair.parts.map(|part| self.present.placed(part).ball);
        let inner = self.known_of(pair).inner;
        let [a_motion, b_motion] = pair.parts.map(|part| self.present.part_motion(part, inner));
        let reach = a.radius + b.radius + a_motion.displacement + b_motion.displacement;
        let lower = (a.centre - b.centre).norm() - reach - ROUNDING;
        self.raise(pair, lower, [&a_motion, &b_motion]);
    }

    fn raise(&self, pair: &mut Active, nominal: f64, [a, b]: [&BodyMotion; 2]) {
        let growth = self.known_of(pair).growth;
        let raised =
            [nominal, nominal - a.tolerance - b.tolerance - growth, nominal - a.stopping - b.stopping - growth];
        for (lower, raised) in pair.lower.iter_mut().zip(raised) {
            *lower = lower.max(raised);
        }
    }

    /// Measures a pair at the midpoint: an upper bound for the motion, a lower one for the interval. The normal that
    /// parts it is handed back.
    fn measure(&mut self, interval: Interval, pair: &mut Active) -> Direction {
        let inner = self.known_of(pair).inner;
        let [a_motion, b_motion] = pair.parts.map(|part| self.present.part_motion(part, inner));
        let [a, b] = self.present.both(pair.parts).map(|placed| &placed.shape);
        let apart = separation(a, b);
        pair.unresolved = apart.upper - apart.lower;
        let lower = pair_lower_bound((a, &a_motion), (b, &b_motion), &apart.normal);
        let known = &mut self.known[pair.known as usize];
        let seen = [
            apart.upper,
            apart.upper - a_motion.tolerance_here - b_motion.tolerance_here - known.growth,
            apart.upper - a_motion.stopping_here - b_motion.stopping_here - known.growth,
        ];
        let number = u32::try_from(self.seen.len()).expect("pairs of bodies in memory");
        let mut is_least = false;
        for ((upper, at), seen) in known.upper.iter_mut().zip(&mut known.seen).zip(seen) {
            if seen < *upper {
                (*upper, *at, is_least) = (seen, Some(number), true);
            }
        }
        if is_least {
            let points = [apart.point_a, apart.point_b];
            self.seen.push(Seen { segment: interval.segment, fraction: interval.middle(), points });
        }
        let (_, least) = &mut self.groups[known.group];
        *least = least.min(apart.upper);
        self.raise(pair, lower, [&a_motion, &b_motion]);
        apart.normal
    }

    pub fn finish(self) -> Clearance {
        let mut within_cap: Vec<&Known> = self.known.iter().filter(|known| known.lower[0].is_finite()).collect();
        within_cap.sort_unstable_by_key(|known| (known.rule.group, known.bodies));
        let entries: Vec<Entry> = within_cap.into_iter().map(|known| self.entry(known)).collect();
        let mut above_cap = self.group_numbers;
        for entry in &entries {
            above_cap.remove(&entry.group);
        }
        Clearance {
            entries,
            above_cap: above_cap.into_keys().collect(),
            intervals: self.present.intervals,
            budget_spent: self.budget_spent,
        }
    }

    fn entry(&self, known: &Known) -> Entry {
        let bracket = |k: usize| {
            // Above the cap somewhere, within it elsewhere: tolerances may still be greatest where it is above.
            let bound = Bound { lower: known.lower[k].min(known.dropped[k]), upper: known.upper[k] };
            Bracket { bound, seen: known.seen[k].map(|number| self.seen[number as usize]) }
        };
        Entry {
            group: known.rule.group,
            bodies: known.bodies,
            rule: known.rule,
            nominal: bracket(0),
            worst: bracket(1),
            stopping: bracket(2),
        }
    }
}

/// Takes the least of each.
fn lower(least: &mut Three<f64>, by: &Three<f64>) {
    for (least, by) in least.iter_mut().zip(by) {
        *least = least.min(*by);
    }
}
