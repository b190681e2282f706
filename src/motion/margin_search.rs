//! In which order is a stretch looked at until its margin is told?
//!
//! The law is that of [`super::margin`]. First whole pieces, in equal intervals from coarse to fine (*doubts*); where these
//! are small enough, pairs of parts, the least margin first (*nodes*).

use std::collections::{BinaryHeap, VecDeque};

use crate::mechanism::{BodyId, BodyMotion, LinkId, common_link};
use crate::space::{Aabb, Direction, aabb, separation};

use super::clearance::{Rule, TOO_NARROW};
use super::margin::{Ask, Broken, Margin, MarginTask, Pairs, TO_SPARE};
use super::normals::Normals;
use super::pair_bound::{ROUNDING, pair_lower_bound};
use super::present::{Mover, Part, Present};
use super::segment::{Interval, Segment};

/// Pieces are cut up into parts where nothing of them moves farther than this on half an interval, m.
const CLOSE_UP: f64 = 0.6;
/// But no later than after so many halvings.
const DEEPEST: usize = 8;

/// Something that a box has not told yet.
#[derive(Clone, Copy)]
enum Doubt {
    /// A piece, and what stands still.
    World(usize),
    /// Two pieces, and the link that both hang on.
    Pieces([usize; 2], LinkId),
}

/// An interval on which whole pieces are in doubt.
struct Coarse {
    interval: Interval,
    depth: usize,
    doubts: Vec<Doubt>,
}

/// A pair of convex parts whose margin is not told on an interval.
#[derive(Clone, Copy)]
struct Active {
    parts: [Part; 2],
    /// Number of its bodies among those that are watched.
    watched: u32,
    lower: f64,
}

struct Node {
    lower: f64,
    /// Breaks ties, so that the order depends on nothing else.
    age: usize,
    interval: Interval,
    pairs: Vec<Active>,
}

impl Ord for Node {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        other.lower.total_cmp(&self.lower).then(other.age.cmp(&self.age))
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

/// What has been asked about a pair of bodies.
#[derive(Clone, Copy)]
enum Asked {
    NotYet,
    NotWatched,
    Watched(u32),
}

/// Two bodies that have a rule.
struct Watched {
    bodies: [BodyId; 2],
    /// The link that both hang on.
    inner: LinkId,
    rule: Rule,
    /// By how much both together grow for the worst case, m.
    growth: f64,
}

pub(super) struct Search<'r, 'a> {
    task: MarginTask<'r, 'a>,
    present: Present<'r, 'a>,
    /// Doubts to begin with, by what is asked about.
    moved: Vec<Doubt>,
    all: Vec<Doubt>,
    /// By moving body, then by any body.
    asked: Vec<Asked>,
    watched: Vec<Watched>,
    near: Vec<usize>,
    boxes: Vec<Aabb>,
    coarse: VecDeque<Coarse>,
    nodes: BinaryHeap<Node>,
    age: usize,
    /// Of the present stretch.
    ask: Ask,
    kept: f64,
    least: f64,
    stop: Option<Margin>,
}

type Stretch<'s> = (&'s Segment, &'s [f64]);

impl<'r, 'a> Search<'r, 'a> {
    pub fn new(task: MarginTask<'r, 'a>) -> Self {
        let (parts, mechanism) = (task.parts, task.parts.mechanism);
        let pieces = &parts.pieces;
        let (mut moved, mut all) = (Vec::new(), Vec::new());
        for (number, piece) in pieces.iter().enumerate() {
            let mut doubt = |doubt, driven| {
                all.push(doubt);
                moved.extend(Some(doubt).filter(|_| driven));
            };
            doubt(Doubt::World(number), piece.driven);
            for (other_number, other) in pieces[..=number].iter().enumerate() {
                let inner = common_link(mechanism, piece.link, other.link);
                let driven = number != other_number && (piece.driven || other.driven);
                doubt(Doubt::Pieces([number, other_number], inner), driven);
            }
        }
        Self {
            task,
            present: Present::new(parts),
            moved,
            all,
            asked: vec![Asked::NotYet; parts.moving.len() * mechanism.bodies().len()],
            watched: Vec::new(),
            near: Vec::new(),
            boxes: Vec::new(),
            coarse: VecDeque::new(),
            nodes: BinaryHeap::new(),
            age: 0,
            ask: Ask::kept(0),
            kept: f64::INFINITY,
            least: f64::INFINITY,
            stop: None,
        }
    }

    pub fn run(&mut self, stretch: Stretch, ask: Ask) -> Margin {
        (self.ask, self.kept, self.least, self.stop) = (ask, f64::INFINITY, f64::INFINITY, None);
        self.coarse.clear();
        self.nodes.clear();
        let doubts = match ask.pairs {
            Pairs::All => self.all.clone(),
            Pairs::Moved => self.moved.clone(),
        };
        let end = Interval { segment: 0, start: 1.0, end: 1.0 };
        self.present.look_at(end, stretch);
        let at_end = self.remaining(&doubts);
        self.glance(end, &at_end);
        let begun = self.present.intervals;
        self.coarse.push_back(Coarse { interval: Interval::whole(0), depth: 0, doubts });
        while let (None, Some(coarse)) = (self.stop, self.coarse.pop_front()) {
            self.present.look_at(coarse.interval, stretch);
            self.resolve(coarse);
        }
        while let (None, Some(Node { interval, mut pairs, .. })) = (self.stop, self.nodes.pop()) {
            pairs.retain(|pair| self.is_open(pair));
            if pairs.is_empty() {
                continue;
            }
            if self.present.intervals - begun >= ask.intervals {
                pairs.iter().for_each(|pair| self.spend(pair));
                continue;
            }
            self.present.look_at(interval, stretch);
            pairs.iter_mut().for_each(|pair| self.bound_by_balls(pair));
            self.examine(interval, pairs);
        }
        self.stop.unwrap_or(Margin::Kept(self.kept.min(ask.enough)))
    }

    /// The budget is spent: what is known so far has to do.
    fn spend(&mut self, pair: &Active) {
        if pair.lower >= TO_SPARE {
            self.kept = self.kept.min(pair.lower);
        } else {
            self.stop = Some(Margin::NotTold(self.watched[pair.watched as usize].bodies));
        }
    }

    /// Doubts that boxes about pieces don't settle on the present interval.
    fn remaining(&mut self, doubts: &[Doubt]) -> Vec<Doubt> {
        self.boxes.clear();
        self.boxes.extend((0..self.task.parts.pieces.len()).map(|piece| self.present.piece_box(piece)));
        doubts.iter().copied().filter(|doubt| self.is_in_doubt(*doubt)).collect()
    }

    fn is_in_doubt(&mut self, doubt: Doubt) -> bool {
        let pieces = &self.task.parts.pieces;
        match doubt {
            Doubt::World(piece) => {
                let reach = self.reach_of_piece((piece, LinkId::STRUCTURE), 1.0) + self.task.parts.still_growth;
                let place = self.boxes[piece].grown(reach + self.farthest());
                let mut near = std::mem::take(&mut self.near);
                self.task.world.near_into(&place, &mut near);
                let movers = &pieces[piece].movers;
                let found = near.iter().any(|in_world| {
                    let (_, body) = self.task.parts.still(*in_world);
                    movers.iter().any(|mover| self.watched(*mover, body).is_some())
                });
                self.near = near;
                found
            }
            Doubt::Pieces([a, b], inner) => {
                let reach = self.reach_of_piece((a, inner), 0.5) + self.reach_of_piece((b, inner), 0.5);
                self.boxes[a].grown(reach + self.farthest()).meets(&self.boxes[b])
                    && pieces[a].movers.iter().any(|mover| {
                        pieces[b].movers.iter().any(|other| self.watched_movers([*mover, *other]).is_some())
                    })
            }
        }
    }

    /// A pair whose distance, play and motion taken off, is more than this has margin enough, m.
    fn farthest(&self) -> f64 {
        self.ask.enough.max(TO_SPARE) + ROUNDING
    }

    /// How far a piece, its play and growth counted, strays from its box, and a share of the limits with it, m.
    fn reach_of_piece(&mut self, (piece, inner): (usize, LinkId), share: f64) -> f64 {
        let stray = self.task.parts.pieces[piece].stray;
        let motion = *self.present.piece_motion(piece, inner);
        motion.displacement + stray + with_limits(&motion, self.task.greatest.map(|limit| share * limit))
    }

    /// Looks at whole pieces on an interval: at their parts where these stay near enough, else at halves.
    fn resolve(&mut self, Coarse { interval, depth, doubts }: Coarse) {
        let doubts = self.remaining(&doubts);
        if doubts.is_empty() {
            return;
        }
        let displacement = |doubt: &Doubt| match *doubt {
            Doubt::World(piece) => self.present.piece_motion(piece, LinkId::STRUCTURE).displacement,
            Doubt::Pieces([a, b], inner) => {
                [a, b].map(|piece| self.present.piece_motion(piece, inner).displacement).iter().sum()
            }
        };
        let farthest = doubts.iter().map(displacement).fold(0.0, f64::max);
        if farthest <= CLOSE_UP || depth >= DEEPEST {
            let mut pairs = Vec::new();
            for doubt in &doubts {
                self.add_parts(*doubt, Span::Interval, &mut pairs);
            }
            self.examine(interval, pairs);
        } else {
            self.glance(interval, &doubts);
            let [first, second] = interval.halves();
            for half in [second, first] {
                self.coarse.push_back(Coarse { interval: half, depth: depth + 1, doubts: doubts.clone() });
            }
        }
    }

    /// Measures what breaks its limits at the middle of the present interval.
    fn glance(&mut self, interval: Interval, doubts: &[Doubt]) {
        for doubt in doubts {
            let mut pairs = Vec::new();
            self.add_parts(*doubt, Span::Middle, &mut pairs);
            for pair in &mut pairs {
                self.measure(interval, pair);
                if self.stop.is_some() {
                    return;
                }
            }
        }
    }

    /// The pairs of parts in a doubt that boxes and balls don't settle.
    fn add_parts(&mut self, doubt: Doubt, span: Span, pairs: &mut Vec<Active>) {
        let parts = self.task.parts;
        match doubt {
            Doubt::World(piece) => {
                let mut near = std::mem::take(&mut self.near);
                for mover in parts.pieces[piece].movers.iter().copied() {
                    let motion = *self.present.motion(mover, LinkId::STRUCTURE);
                    let growth = parts.mechanism.body(parts.moving(mover).body).growth + parts.still_growth;
                    let reach = span.reach(&motion, self.task.greatest) + growth + span.beyond(self.farthest());
                    for part in parts.of_mover(mover) {
                        let place = aabb(&self.present.placed(part).shape).grown(reach);
                        self.task.world.near_into(&place, &mut near);
                        for (still, body) in near.iter().map(|in_world| parts.still(*in_world)) {
                            if let Some(watched) = self.watched(mover, body) {
                                self.add_pair([part, still], watched, span, pairs);
                            }
                        }
                    }
                }
                self.near = near;
            }
            Doubt::Pieces([a, b], _) => {
                for mover in parts.pieces[a].movers.iter().copied() {
                    for other in parts.pieces[b].movers.iter().copied() {
                        let Some(watched) = self.watched_movers([mover, other]) else { continue };
                        for part in parts.of_mover(mover) {
                            for other_part in parts.of_mover(other) {
                                self.add_pair([part, other_part], watched, span, pairs);
                            }
                        }
                    }
                }
            }
        }
    }

    fn add_pair(&mut self, parts: [Part; 2], watched: u32, span: Span, pairs: &mut Vec<Active>) {
        let mut pair = Active { parts, watched, lower: f64::NEG_INFINITY };
        let keep = match span {
            Span::Interval => {
                self.bound_by_balls(&mut pair);
                self.is_open(&pair)
            }
            Span::Middle => self.may_be_broken(&pair),
        };
        if keep {
            pairs.push(pair);
        }
    }

    /// The number of a moving body and any other; none where it isn't to be measured.
    fn watched(&mut self, mover: Mover, other: BodyId) -> Option<u32> {
        let (parts, mechanism) = (self.task.parts, self.task.parts.mechanism);
        let slot = mover.0 * mechanism.bodies().len() + other.0;
        if let Asked::NotYet = self.asked[slot] {
            let body = parts.moving(mover).body;
            self.asked[slot] = match (self.task.rule)(body, other) {
                Some(rule) => {
                    let [one, two] = [body, other].map(|body| mechanism.body(body));
                    let inner = common_link(mechanism, one.link, two.link);
                    let growth = one.growth + two.growth;
                    self.watched.push(Watched { bodies: [body, other], inner, rule, growth });
                    Asked::Watched(u32::try_from(self.watched.len() - 1).expect("pairs of bodies in memory"))
                }
                None => Asked::NotWatched,
            };
        }
        match self.asked[slot] {
            Asked::Watched(number) => Some(number),
            Asked::NotYet | Asked::NotWatched => None,
        }
    }

    /// As [`Self::watched`] for two moving bodies, each pair under one number; none for a body and itself.
    fn watched_movers(&mut self, [a, b]: [Mover; 2]) -> Option<u32> {
        let [lesser, greater] = if a < b { [a, b] } else { [b, a] };
        if lesser == greater { None } else { self.watched(greater, self.task.parts.moving(lesser).body) }
    }

    /// Measures the pairs on the present interval and queues its halves with those that stay open.
    fn examine(&mut self, interval: Interval, mut pairs: Vec<Active>) {
        pairs.retain(|pair| self.is_open(pair));
        // The nearest parts of two bodies first: most of the others are settled by them.
        pairs.sort_by(|a, b| a.watched.cmp(&b.watched).then(a.lower.total_cmp(&b.lower)));
        for of_bodies in pairs.chunk_by_mut(|a, b| a.watched == b.watched) {
            let mut normals = Normals::default();
            for pair in of_bodies {
                if self.is_open(pair) && !self.settled_by(&normals, pair) {
                    normals.add(self.measure(interval, pair));
                    if self.stop.is_some() {
                        return;
                    }
                }
            }
        }
        pairs.retain(|pair| self.is_open(pair));
        if pairs.is_empty() {
            return;
        }
        let lower = pairs.iter().map(|pair| pair.lower).fold(f64::INFINITY, f64::min);
        let [first, second] = interval.halves();
        self.age += 2;
        self.nodes.push(Node { lower, age: self.age, interval: first, pairs: pairs.clone() });
        self.nodes.push(Node { lower, age: self.age + 1, interval: second, pairs });
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
        let inner = self.watched[pair.watched as usize].inner;
        let motions = pair.parts.map(|part| self.present.part_motion(part, inner));
        normals.latest().any(|normal| {
            let [a, b] = self.present.both(pair.parts).map(|placed| &placed.shape);
            let lower = pair_lower_bound((a, &motions[0]), (b, &motions[1]), normal);
            pair.lower = pair.lower.max(self.lower_margin(pair, lower, [&motions[0], &motions[1]]));
            !self.is_open(pair)
        })
    }

    /// Raises the pair's lower end by what balls about its parts tell.
    fn bound_by_balls(&mut self, pair: &mut Active) {
        let inner = self.watched[pair.watched as usize].inner;
        let [a, b] = pair.parts.map(|part| self.present.placed(part).ball);
        let [a_motion, b_motion] = pair.parts.map(|part| self.present.part_motion(part, inner));
        let reach = a.radius + b.radius + a_motion.displacement + b_motion.displacement;
        let lower = (a.centre - b.centre).norm() - reach - ROUNDING;
        pair.lower = pair.lower.max(self.lower_margin(pair, lower, [&a_motion, &b_motion]));
    }

    /// Whether balls about its parts leave it open that a pair breaks its limits at the middle.
    fn may_be_broken(&mut self, pair: &Active) -> bool {
        let Watched { inner, rule, growth, .. } = self.watched[pair.watched as usize];
        let [a, b] = pair.parts.map(|part| self.present.placed(part).ball);
        let motions = pair.parts.map(|part| self.present.part_motion(part, inner));
        let apart = (a.centre - b.centre).norm() - a.radius - b.radius;
        apart < growth + limits_here(&motions, &rule)
    }

    fn lower_margin(&self, pair: &Active, distance: f64, [a, b]: [&BodyMotion; 2]) -> f64 {
        let Watched { rule, growth, .. } = &self.watched[pair.watched as usize];
        let worst = a.tolerance + b.tolerance + rule.limit;
        let stopping = a.stopping + b.stopping + rule.stopping_limit;
        distance - growth - worst.max(stopping)
    }

    /// Measures a pair at the midpoint: an upper end for the stretch, a lower one for the interval. The normal that parts
    /// it is handed back.
    fn measure(&mut self, interval: Interval, pair: &mut Active) -> Direction {
        let Watched { bodies, inner, rule, growth } = self.watched[pair.watched as usize];
        let [a_motion, b_motion] = pair.parts.map(|part| self.present.part_motion(part, inner));
        let [a, b] = self.present.both(pair.parts).map(|placed| &placed.shape);
        let apart = separation(a, b);
        let lower = pair_lower_bound((a, &a_motion), (b, &b_motion), &apart.normal);
        pair.lower = pair.lower.max(self.lower_margin(pair, lower, [&a_motion, &b_motion]));
        let upper = apart.upper - growth - limits_here(&[a_motion, b_motion], &rule);
        self.least = self.least.min(upper);
        let unresolved = apart.upper - apart.lower;
        if upper < 0.0 {
            self.stop = Some(Margin::Broken(Broken { bodies, by: -upper, fraction: interval.middle() }));
        } else if pair.lower < TO_SPARE && upper - pair.lower < TOO_NARROW + unresolved && upper < TO_SPARE + unresolved
        {
            self.stop = Some(Margin::NotTold(bodies));
        }
        apart.normal
    }
}

/// Over which part of the present interval are pairs asked about?
#[derive(Clone, Copy)]
enum Span {
    Interval,
    /// Its middle alone.
    Middle,
}

impl Span {
    /// How far a body strays from where it is at the middle, and the limits with it, m.
    fn reach(self, motion: &BodyMotion, limits: [f64; 2]) -> f64 {
        match self {
            Self::Interval => motion.displacement + with_limits(motion, limits),
            Self::Middle => (motion.tolerance_here + limits[0]).max(motion.stopping_here + limits[1]),
        }
    }

    fn beyond(self, farthest: f64) -> f64 {
        match self {
            Self::Interval => farthest,
            Self::Middle => 0.0,
        }
    }
}

/// Play and limit, or play with overrun and stopping limit: the greater, m.
fn with_limits(motion: &BodyMotion, [limit, stopping_limit]: [f64; 2]) -> f64 {
    (motion.tolerance + limit).max(motion.stopping + stopping_limit)
}

/// The same of two bodies at the middle alone, m.
fn limits_here([a, b]: &[BodyMotion; 2], rule: &Rule) -> f64 {
    let worst = a.tolerance_here + b.tolerance_here + rule.limit;
    let stopping = a.stopping_here + b.stopping_here + rule.stopping_limit;
    worst.max(stopping)
}
