//! In which order are intervals looked at, and when is a pair settled on one?
//!
//! The law is that of [`super::clearance`]; here are the queue, the caches of one interval, and the test that settles.

use std::collections::{BTreeMap, BinaryHeap, HashMap};

use crate::mechanism::{BodyId, BodyMotion, LinkId, PartId, Posed, common_link};
use crate::space::{Point, PosedConvex, aabb, separation};

use super::clearance::{Bracket, Clearance, ClearanceSearch, Entry, Group, Rule, Seen, TOO_NARROW, Task};
use super::pair_bound::{ROUNDING, pair_lower_bound};
use super::segment::Interval;

/// Seeds are cut until no body moves farther than this on one, so that the boxes of the broad phase stay small, m.
const SEED_DISPLACEMENT: f64 = 0.5;
/// But no more often than this.
const SEED_DEPTH: usize = 8;

/// A pair of convex parts that is not settled on an interval, and the lower bounds known for it there.
#[derive(Clone, Copy)]
struct Active {
    parts: [PartId; 2],
    inner: LinkId,
    entry: usize,
    nominal: f64,
    worst: f64,
    stopping: f64,
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
    Entry(usize),
}

/// A part placed at the interval's midpoint, with a ball about it.
#[derive(Clone)]
struct Placed<'a> {
    shape: PosedConvex<'a>,
    centre: Point,
    radius: f64,
}

/// A value that holds for one interval only.
#[derive(Clone)]
struct Stamped<T> {
    interval: usize,
    value: Option<T>,
}

impl<T> Stamped<T> {
    const NONE: Self = Self { interval: 0, value: None };
}

pub(super) struct Queue<'r, 'a> {
    of: &'r ClearanceSearch<'a>,
    task: &'r Task<'r>,
    posed: Posed,
    delta: Vec<f64>,
    entries: Vec<Entry>,
    /// Of each entry: least lower bounds on the intervals on which it was dropped; nominal, worst and stopping.
    dropped: Vec<[f64; 3]>,
    entry_ids: HashMap<(Group, BodyId, BodyId), usize>,
    /// Every group that a watched pair belongs to, and its least upper bound.
    groups: BTreeMap<Group, f64>,
    nodes: BinaryHeap<Node>,
    asked: Vec<Asked>,
    asked_of_segment: Option<usize>,
    placed: Vec<Stamped<Placed<'a>>>,
    still_placed: Vec<Placed<'a>>,
    /// First index into `placed` or `still_placed` of each body's parts.
    first_part: Vec<usize>,
    /// Motions by body, then by inner link.
    motions: Vec<Stamped<BodyMotion>>,
    /// Intervals looked at so far; also the stamp of what is cached for the present one.
    intervals: usize,
    present_segment: usize,
    age: usize,
    budget_spent: bool,
}

impl<'r, 'a> Queue<'r, 'a> {
    pub fn new(of: &'r ClearanceSearch<'a>, task: &'r Task<'r>) -> Self {
        let mechanism = of.mechanism;
        let mut first_part = vec![0; mechanism.bodies().len()];
        let (mut moving_parts, mut still_parts) = (0, 0);
        for (body, first) in mechanism.bodies().iter().zip(&mut first_part) {
            let counted = if body.link == LinkId::STRUCTURE { &mut still_parts } else { &mut moving_parts };
            *first = *counted;
            *counted += body.parts.len();
        }
        let still_placed = of
            .still
            .iter()
            .zip(&of.still_posed)
            .map(|(part, shape)| {
                let (centre, radius) = of.balls[part.body.0][part.part];
                Placed { shape: shape.clone(), centre, radius }
            })
            .collect();
        Self {
            of,
            task,
            posed: mechanism.workspace(),
            delta: vec![0.0; mechanism.variable_count()],
            entries: Vec::new(),
            dropped: Vec::new(),
            entry_ids: HashMap::new(),
            groups: BTreeMap::new(),
            nodes: BinaryHeap::new(),
            asked: Vec::new(),
            asked_of_segment: None,
            placed: vec![Stamped::NONE; moving_parts],
            still_placed,
            first_part,
            motions: vec![Stamped::NONE; of.moving.len() * mechanism.links().len()],
            intervals: 0,
            present_segment: 0,
            age: 0,
            budget_spent: false,
        }
    }

    /// Cuts a root until its bodies stay in small boxes, and queues every watched pair that may come within the cap.
    pub fn seed(&mut self, root: Interval) {
        if self.asked_of_segment != Some(root.segment) {
            let bodies = self.of.mechanism.bodies().len();
            self.asked = vec![Asked::NotYet; self.of.moving.len() * bodies];
            self.asked_of_segment = Some(root.segment);
        }
        let mut to_cut = vec![(root, 0)];
        while let Some((interval, depth)) = to_cut.pop() {
            self.look_at(interval);
            let farthest = (0..self.of.moving.len())
                .map(|k| self.motion(self.of.moving[k], LinkId::STRUCTURE).displacement)
                .fold(0.0, f64::max);
            if farthest > SEED_DISPLACEMENT && depth < SEED_DEPTH {
                let [first, second] = interval.halves();
                to_cut.push((second, depth + 1));
                to_cut.push((first, depth + 1));
            } else {
                let pairs = self.candidates(interval.segment);
                self.push(interval, pairs);
            }
        }
    }

    /// Pairs that the broad phase cannot exclude on the present interval.
    fn candidates(&mut self, segment: usize) -> Vec<Active> {
        let of = self.of;
        let mut pairs = Vec::new();
        let mut near = Vec::new();
        for (k, &body) in of.moving.iter().enumerate() {
            let motion = self.motion(body, LinkId::STRUCTURE);
            let stray = motion.displacement + motion.stopping.max(motion.tolerance) + of.mechanism.body(body).growth;
            for part in 0..of.mechanism.body(body).parts.len() {
                let part = PartId { body, part };
                let shape = &self.placed(part).shape;
                of.world.near_into(&aabb(shape).grown(stray + of.budget.cap), &mut near);
                for &still in &near {
                    let other = of.still[still];
                    self.watch(segment, [part, other], LinkId::STRUCTURE, &mut pairs);
                }
            }
            for &other in &of.moving[..k] {
                let links = [body, other].map(|body| of.mechanism.body(body).link);
                let inner = common_link(of.mechanism, links[0], links[1]);
                for part in 0..of.mechanism.body(body).parts.len() {
                    for other_part in 0..of.mechanism.body(other).parts.len() {
                        let parts = [PartId { body, part }, PartId { body: other, part: other_part }];
                        self.watch(segment, parts, inner, &mut pairs);
                    }
                }
            }
        }
        pairs
    }

    /// Adds a pair of parts if it is to be watched, with what balls about the parts already bound.
    fn watch(&mut self, segment: usize, parts: [PartId; 2], inner: LinkId, pairs: &mut Vec<Active>) {
        let [a, b] = parts.map(|part| part.body);
        let slot = self.moving_number(a) * self.of.mechanism.bodies().len() + b.0;
        if let Asked::NotYet = self.asked[slot] {
            self.asked[slot] = match (self.task.rules)(segment, a, b) {
                Some(rule) => Asked::Entry(self.entry(rule, a, b)),
                None => Asked::NotWatched,
            };
        }
        let Asked::Entry(entry) = self.asked[slot] else { return };
        let blank = f64::NEG_INFINITY;
        let mut active = Active { parts, inner, entry, nominal: blank, worst: blank, stopping: blank, unresolved: 0.0 };
        self.bound_by_balls(&mut active);
        pairs.push(active);
    }

    fn entry(&mut self, rule: Rule, a: BodyId, b: BodyId) -> usize {
        let bodies = [a, b];
        self.groups.entry(rule.group).or_insert(f64::INFINITY);
        *self.entry_ids.entry((rule.group, a, b)).or_insert_with(|| {
            let unknown = Bracket::UNKNOWN;
            let group = rule.group;
            self.entries.push(Entry { group, bodies, rule, nominal: unknown, worst: unknown, stopping: unknown });
            self.dropped.push([f64::INFINITY; 3]);
            self.entries.len() - 1
        })
    }

    /// Looks at the most urgent intervals until everything is settled or the budget is spent.
    pub fn refine(&mut self) {
        while let Some(Node { interval, pairs, .. }) = self.nodes.pop() {
            let mut open: Vec<Active> = pairs.into_iter().filter(|pair| self.is_open(pair)).collect();
            if open.is_empty() {
                continue;
            }
            if self.intervals >= self.of.budget.intervals {
                self.budget_spent = true;
                for pair in &open {
                    self.settle(pair);
                }
                continue;
            }
            self.look_at(interval);
            for pair in &mut open {
                self.measure(interval, pair);
            }
            for half in interval.halves() {
                self.push(half, open.clone());
            }
        }
    }

    fn push(&mut self, interval: Interval, pairs: Vec<Active>) {
        let urgency =
            pairs.iter().map(|pair| pair.worst - self.entries[pair.entry].rule.limit).fold(f64::INFINITY, f64::min);
        self.age += 1;
        self.nodes.push(Node { urgency, age: self.age, interval, pairs });
    }

    /// Whether a pair still has something to tell on its interval; if not, its lower bounds are put on record.
    fn is_open(&mut self, pair: &Active) -> bool {
        let entry = &self.entries[pair.entry];
        let rule = &entry.rule;
        let told = |lower: f64, limit: f64, bracket: &Bracket| {
            let below = bracket.bound.upper < limit;
            lower >= limit || below || bracket.bound.upper - lower < TOO_NARROW + pair.unresolved
        };
        let keeps_limits = pair.worst >= rule.limit && pair.stopping >= rule.stopping_limit;
        if keeps_limits && pair.nominal > self.of.budget.cap {
            for (least, lower) in self.dropped[pair.entry].iter_mut().zip([pair.nominal, pair.worst, pair.stopping]) {
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
        let entry = &mut self.entries[pair.entry];
        for (bracket, lower) in
            [(&mut entry.nominal, pair.nominal), (&mut entry.worst, pair.worst), (&mut entry.stopping, pair.stopping)]
        {
            bracket.bound.lower = bracket.bound.lower.min(lower);
        }
    }

    /// Poses the mechanism at the interval's midpoint; what was cached for the interval before is void.
    fn look_at(&mut self, interval: Interval) {
        self.intervals += 1;
        let segment = &self.task.segments[interval.segment];
        let middle = segment.at(interval.middle());
        let half = interval.half();
        for ((delta, from), to) in self.delta.iter_mut().zip(&segment.from).zip(&segment.to) {
            *delta = (to - from) * half;
        }
        self.of.mechanism.pose_into(&middle, &mut self.posed);
        self.present_segment = interval.segment;
    }

    /// Which of the moving bodies it is.
    fn moving_number(&self, body: BodyId) -> usize {
        self.of.moving.binary_search(&body).expect("a body that moves")
    }

    fn motion(&mut self, body: BodyId, inner: LinkId) -> BodyMotion {
        let mechanism = self.of.mechanism;
        let link = mechanism.body(body).link;
        if link == LinkId::STRUCTURE {
            return BodyMotion::STILL;
        }
        let slot = self.moving_number(body) * mechanism.links().len() + inner.0;
        let stamped = &mut self.motions[slot];
        if stamped.interval != self.intervals || stamped.value.is_none() {
            let overrun = self.task.overrun.get(self.present_segment).map_or(&[][..], Vec::as_slice);
            let extent = &self.of.extents[body.0];
            let steps = (self.delta.as_slice(), overrun);
            let motion = BodyMotion::of(mechanism, &self.posed, (link, inner), extent, steps);
            *stamped = Stamped { interval: self.intervals, value: Some(motion) };
        }
        stamped.value.expect("just filled in")
    }

    fn placed(&mut self, part: PartId) -> &Placed<'a> {
        let mechanism = self.of.mechanism;
        let body = mechanism.body(part.body);
        let index = self.first_part[part.body.0] + part.part;
        if body.link == LinkId::STRUCTURE {
            return &self.still_placed[index];
        }
        let stamped = &mut self.placed[index];
        if stamped.interval != self.intervals || stamped.value.is_none() {
            let structure_from_link = self.posed.link(body.link);
            let (centre, radius) = self.of.balls[part.body.0][part.part];
            let shape = body.parts[part.part].posed(structure_from_link);
            let placed = Placed { shape, centre: structure_from_link * centre, radius };
            *stamped = Stamped { interval: self.intervals, value: Some(placed) };
        }
        stamped.value.as_ref().expect("just filled in")
    }

    /// Raises the pair's lower bounds by what balls about its parts tell.
    fn bound_by_balls(&mut self, pair: &mut Active) {
        let [a, b] = pair.parts.map(|part| {
            let motion = self.motion(part.body, pair.inner);
            let placed = self.placed(part);
            (placed.centre, placed.radius, motion)
        });
        let reach = a.1 + b.1 + a.2.displacement + b.2.displacement;
        let lower = (a.0 - b.0).norm() - reach - ROUNDING;
        self.raise(pair, lower, [&a.2, &b.2]);
    }

    fn raise(&self, pair: &mut Active, lower: f64, [a, b]: [&BodyMotion; 2]) {
        let growth: f64 = pair.parts.iter().map(|part| self.of.mechanism.body(part.body).growth).sum();
        pair.nominal = pair.nominal.max(lower);
        pair.worst = pair.worst.max(lower - a.tolerance - b.tolerance - growth);
        pair.stopping = pair.stopping.max(lower - a.stopping - b.stopping - growth);
    }

    /// Measures a pair at the midpoint: an upper bound for the motion, a lower one for the interval.
    fn measure(&mut self, interval: Interval, pair: &mut Active) {
        self.bound_by_balls(pair);
        let entry = &self.entries[pair.entry];
        let far = pair.nominal >= self.groups[&entry.group] - self.of.budget.gap
            && pair.worst >= entry.rule.limit
            && pair.stopping >= entry.rule.stopping_limit;
        if far {
            return;
        }
        let [a_motion, b_motion] = pair.parts.map(|part| self.motion(part.body, pair.inner));
        self.placed(pair.parts[0]);
        self.placed(pair.parts[1]);
        let (a, b) = (self.present(pair.parts[0]), self.present(pair.parts[1]));
        let apart = separation(a, b);
        pair.unresolved = apart.upper - apart.lower;
        let lower = pair_lower_bound((a, &a_motion), (b, &b_motion), &apart.normal);
        let growth: f64 = pair.parts.iter().map(|part| self.of.mechanism.body(part.body).growth).sum();
        let seen =
            || Seen { segment: interval.segment, fraction: interval.middle(), points: [apart.point_a, apart.point_b] };
        let entry = &mut self.entries[pair.entry];
        entry.nominal.saw(apart.upper, seen);
        entry.worst.saw(apart.upper - a_motion.tolerance_here - b_motion.tolerance_here - growth, seen);
        entry.stopping.saw(apart.upper - a_motion.stopping_here - b_motion.stopping_here - growth, seen);
        let group = entry.group;
        let least = self.groups.get_mut(&group).expect("every entry's group is listed");
        *least = least.min(apart.upper);
        self.raise(pair, lower, [&a_motion, &b_motion]);
    }

    /// A part that [`Self::placed`] has placed on the present interval.
    fn present(&self, part: PartId) -> &PosedConvex<'a> {
        let index = self.first_part[part.body.0] + part.part;
        let placed = if self.of.mechanism.body(part.body).link == LinkId::STRUCTURE {
            &self.still_placed[index]
        } else {
            self.placed[index].value.as_ref().expect("placed before")
        };
        &placed.shape
    }

    pub fn finish(self) -> Clearance {
        let within_cap = |(entry, _): &(Entry, _)| entry.nominal.bound.lower.is_finite();
        let mut entries: Vec<Entry> = self
            .entries
            .into_iter()
            .zip(self.dropped)
            .filter(within_cap)
            .map(|(mut entry, dropped)| {
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
        Clearance { entries, above_cap, intervals: self.intervals, budget_spent: self.budget_spent }
    }
}
