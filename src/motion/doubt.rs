//! Which pairs of parts may break their limits on the interval being looked at?
//!
//! # Law
//! A *doubt* is a piece beside what stands still, or two pieces. It is settled where boxes about them, grown by how far
//! they stray on the interval and by the greatest limit, have nothing in common; else boxes and balls about their parts tell
//! which pairs are left.

use crate::mechanism::{BodyId, BodyMotion, LinkId, common_link};
use crate::space::aabb;

use super::clearance::Rule;
use super::margin::MarginTask;
use super::pair_bound::ROUNDING;
use super::present::{Mover, Part, Present};

/// Something that a box has not told yet.
#[derive(Clone, Copy)]
pub(super) enum Doubt {
    /// A piece, and what stands still.
    World(usize),
    /// Two pieces, and the link that both hang on.
    Pieces([usize; 2], LinkId),
}

/// Over which part of the present interval are pairs asked about?
#[derive(Clone, Copy)]
pub(super) enum Over {
    /// All of it.
    All,
    /// Its middle alone.
    Middle,
}

/// What has been asked about a pair of bodies.
#[derive(Clone, Copy)]
enum Asked {
    NotYet,
    NotWatched,
    Watched(u32),
}

/// Two bodies that have a rule.
#[derive(Clone, Copy)]
pub(super) struct Watched {
    pub bodies: [BodyId; 2],
    /// The link that both hang on.
    pub inner: LinkId,
    pub rule: Rule,
    /// By how much both together grow for the worst case, m.
    pub growth: f64,
}

impl Watched {
    /// The margin on an interval of a distance that is nowhere less there, m.
    pub fn lower(&self, distance: f64, [a, b]: [&BodyMotion; 2]) -> f64 {
        let worst = a.tolerance + b.tolerance + self.rule.limit;
        let stopping = a.stopping + b.stopping + self.rule.stopping_limit;
        distance - self.growth - worst.max(stopping)
    }

    /// The margin of a distance at the middle of an interval, m.
    pub fn here(&self, distance: f64, [a, b]: [&BodyMotion; 2]) -> f64 {
        let worst = a.tolerance_here + b.tolerance_here + self.rule.limit;
        let stopping = a.stopping_here + b.stopping_here + self.rule.stopping_limit;
        distance - self.growth - worst.max(stopping)
    }
}

/// The interval being looked at, and what is known of pairs of bodies.
pub(super) struct Look<'r, 'a> {
    task: MarginTask<'r, 'a>,
    pub present: Present<'r, 'a>,
    /// By moving body, then by any body.
    asked: Vec<Asked>,
    watched: Vec<Watched>,
    /// What stands still near the piece that was asked about last.
    near: Vec<usize>,
}

impl<'r, 'a> Look<'r, 'a> {
    pub fn new(task: MarginTask<'r, 'a>) -> Self {
        let parts = task.parts;
        let pairs = parts.moving.len() * parts.mechanism.bodies().len();
        Self {
            task,
            present: Present::new(parts),
            asked: vec![Asked::NotYet; pairs],
            watched: Vec::new(),
            near: Vec::new(),
        }
    }

    /// All doubts that there can be, each with whether a joint is driven between its two sides.
    pub fn doubts(task: &MarginTask) -> Vec<(Doubt, bool)> {
        let pieces = &task.parts.pieces;
        let mut doubts = Vec::new();
        for (number, piece) in pieces.iter().enumerate() {
            doubts.push((Doubt::World(number), piece.driven));
            for (other_number, other) in pieces[..=number].iter().enumerate() {
                let inner = common_link(task.parts.mechanism, piece.link, other.link);
                let driven = number != other_number && (piece.driven || other.driven);
                doubts.push((Doubt::Pieces([number, other_number], inner), driven));
            }
        }
        doubts
    }

    pub fn watched(&self, number: u32) -> &Watched {
        &self.watched[number as usize]
    }

    /// Whether boxes leave it open that the margin of a doubt is below `enough` (m) on the present interval. Keeps in mind
    /// what stands near.
    pub fn is_open(&mut self, doubt: Doubt, enough: f64) -> bool {
        let parts = self.task.parts;
        match doubt {
            Doubt::World(piece) => {
                let reach = self.reach_of_piece((piece, LinkId::STRUCTURE), 1.0) + parts.still_growth;
                let place = self.present.piece_box(piece).grown(reach + enough + ROUNDING);
                self.task.world.near_into(&place, &mut self.near);
                let mut near = std::mem::take(&mut self.near);
                let movers = &parts.pieces[piece].movers;
                near.retain(|in_world| {
                    let (_, body) = parts.still(*in_world);
                    movers.iter().any(|mover| self.watch(*mover, body).is_some())
                });
                self.near = near;
                !self.near.is_empty()
            }
            Doubt::Pieces([a, b], inner) => {
                let reach = self.reach_of_piece((a, inner), 0.5) + self.reach_of_piece((b, inner), 0.5);
                let [a_box, b_box] = [a, b].map(|piece| self.present.piece_box(piece));
                a_box.grown(reach + enough + ROUNDING).meets(&b_box)
                    && parts.pieces[a].movers.iter().any(|mover| {
                        parts.pieces[b].movers.iter().any(|other| self.watch_movers([*mover, *other]).is_some())
                    })
            }
        }
    }

    /// How far a piece, its play and growth counted, strays from its box, and a share of the limits with it, m.
    fn reach_of_piece(&mut self, (piece, inner): (usize, LinkId), share: f64) -> f64 {
        let stray = self.task.parts.pieces[piece].stray;
        let [limit, stopping_limit] = self.task.greatest.map(|limit| share * limit);
        let motion = self.present.piece_motion(piece, inner);
        motion.displacement + stray + (motion.tolerance + limit).max(motion.stopping + stopping_limit)
    }

    /// Whether an open doubt is better looked at part by part than on shorter intervals: where there are few parts, or
    /// where they move less than the whole is long.
    pub fn is_close_up(&mut self, doubt: Doubt) -> bool {
        /// So few pairs cost no more than boxes do.
        const FEW: usize = 40;
        /// How far a piece may move on half the interval, as a share of its length.
        const SHARE: f64 = 0.5;
        let pieces = &self.task.parts.pieces;
        let (count, moved, length) = match doubt {
            Doubt::World(piece) => {
                let moved = self.present.piece_motion(piece, LinkId::STRUCTURE).displacement;
                (pieces[piece].movers.len() * self.near.len(), moved, pieces[piece].length)
            }
            Doubt::Pieces([a, b], inner) => {
                let moved = [a, b].map(|piece| self.present.piece_motion(piece, inner).displacement);
                let count = pieces[a].movers.len() * pieces[b].movers.len();
                (count, moved[0] + moved[1], pieces[a].length.max(pieces[b].length))
            }
        };
        count <= FEW || moved <= SHARE * length
    }

    /// Tells `found` of the pairs of parts in a doubt that boxes do not settle, and of the number of their bodies. What
    /// stands still is what [`Self::is_open`] keeps in mind of the same doubt.
    pub fn parts(&mut self, doubt: Doubt, (over, enough): (Over, f64), found: &mut Vec<([Part; 2], u32)>) {
        found.clear();
        match doubt {
            Doubt::World(piece) => self.parts_and_world(piece, (over, enough), found),
            Doubt::Pieces([a, b], _) => {
                let parts = self.task.parts;
                for mover in parts.pieces[a].movers.iter().copied() {
                    for other in parts.pieces[b].movers.iter().copied() {
                        let Some(watched) = self.watch_movers([mover, other]) else { continue };
                        for part in parts.of_mover(mover) {
                            found.extend(parts.of_mover(other).map(|other_part| ([part, other_part], watched)));
                        }
                    }
                }
            }
        }
    }

    fn parts_and_world(&mut self, piece: usize, (over, enough): (Over, f64), found: &mut Vec<([Part; 2], u32)>) {
        let parts = self.task.parts;
        let near = std::mem::take(&mut self.near);
        let whole = *self.present.piece_motion(piece, LinkId::STRUCTURE);
        let loose = self.reach(&whole, over) + parts.pieces[piece].stray + parts.still_growth + enough + ROUNDING;
        for mover in parts.pieces[piece].movers.iter().copied() {
            let growth = parts.mechanism.body(parts.moving(mover).body).growth + parts.still_growth;
            for part in parts.of_mover(mover) {
                // The motion of the whole piece is known already and tells of most; the part's own is asked for the rest.
                let bounds = aabb(&self.present.placed(part).shape);
                let may_be_near = |reach: f64, in_world: usize| bounds.grown(reach).meets(parts.still_bounds(in_world));
                if !near.iter().any(|in_world| may_be_near(loose, *in_world)) {
                    continue;
                }
                let motion = *self.present.motion(mover, LinkId::STRUCTURE);
                let reach = self.reach(&motion, over) + growth + enough + ROUNDING;
                for in_world in near.iter().copied().filter(|in_world| may_be_near(reach, *in_world)) {
                    let (still, body) = parts.still(in_world);
                    found.extend(self.watch(mover, body).map(|watched| ([part, still], watched)));
                }
            }
        }
        self.near = near;
    }

    /// How far a body strays from where it is at the middle, and the limits with it, m.
    fn reach(&self, motion: &BodyMotion, over: Over) -> f64 {
        let [limit, stopping_limit] = self.task.greatest;
        match over {
            Over::All => motion.displacement + (motion.tolerance + limit).max(motion.stopping + stopping_limit),
            Over::Middle => (motion.tolerance_here + limit).max(motion.stopping_here + stopping_limit),
        }
    }

    /// The number of a moving body and any other; none where it isn't to be measured.
    fn watch(&mut self, mover: Mover, other: BodyId) -> Option<u32> {
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

    /// As [`Self::watch`] for two moving bodies, each pair under one number; none for a body and itself.
    fn watch_movers(&mut self, [a, b]: [Mover; 2]) -> Option<u32> {
        let [lesser, greater] = if a < b { [a, b] } else { [b, a] };
        if lesser == greater { None } else { self.watch(greater, self.task.parts.moving(lesser).body) }
    }
}
