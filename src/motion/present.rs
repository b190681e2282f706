//! Where is everything at the middle of the interval being looked at, and how far does it stray on it?
//!
//! Each answer is worked out once an interval, when it is first asked for.

use std::ops::Range as Span;

use crate::mechanism::{BodyId, BodyMotion, Extent, LinkId, Mechanism, Posed};
use crate::space::{Convex, Point, Pose, PosedConvex};

use super::clearance::still_parts;
use super::segment::{Interval, Segment};

/// Number of a convex part: those of the bodies that move come first, then the others as the world numbers them.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) struct Part(u32);

/// Number of a body among those that move.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Mover(pub usize);

/// A body that moves, or has play.
pub(super) struct MovingBody {
    pub body: BodyId,
    pub link: LinkId,
    extent: Extent,
    parts: Span<u32>,
}

/// What there is to be looked at.
pub(super) struct Parts<'a> {
    pub mechanism: &'a Mechanism,
    pub moving: Vec<MovingBody>,
    /// Body and shape of each part of the bodies that move, and a ball about it in its link's frame.
    shapes: Vec<(Mover, &'a Convex, Ball)>,
    still: Vec<(BodyId, Placed<'a>)>,
    /// Greatest growth of the bodies that stand still, m.
    pub still_growth: f64,
}

#[derive(Clone, Copy)]
pub(super) struct Ball {
    pub centre: Point,
    pub radius: f64,
}

/// A part placed at the interval's midpoint, with a ball about it.
#[derive(Clone)]
pub(super) struct Placed<'a> {
    pub shape: PosedConvex<'a>,
    pub ball: Ball,
}

impl<'a> Parts<'a> {
    pub fn of(mechanism: &'a Mechanism) -> Self {
        let (mut moving, mut shapes) = (Vec::new(), Vec::new());
        for id in mechanism.body_ids().filter(|id| mechanism.body(*id).link != LinkId::STRUCTURE) {
            let (body, mover, first) = (mechanism.body(id), Mover(moving.len()), shapes.len());
            shapes.extend(body.parts.iter().map(|shape| (mover, shape, ball(shape))));
            let parts = number(first)..number(shapes.len());
            moving.push(MovingBody { body: id, link: body.link, extent: Extent::of(mechanism, id), parts });
        }
        let still: Vec<(BodyId, Placed)> = still_parts(mechanism)
            .into_iter()
            .map(|part| {
                let shape = mechanism.part(part);
                (part.body, Placed { shape: shape.posed(&Pose::identity()), ball: ball(shape) })
            })
            .collect();
        let growth = still.iter().map(|(body, _)| mechanism.body(*body).growth);
        let still_growth = growth.fold(0.0, f64::max);
        Self { mechanism, moving, shapes, still, still_growth }
    }

    /// All bodies that move.
    pub fn movers(&self) -> impl Iterator<Item = Mover> + use<> {
        (0..self.moving.len()).map(Mover)
    }

    pub fn moving(&self, mover: Mover) -> &MovingBody {
        &self.moving[mover.0]
    }

    /// The parts of a body that moves.
    pub fn of_mover(&self, mover: Mover) -> impl Iterator<Item = Part> + use<> {
        self.moving[mover.0].parts.clone().map(Part)
    }

    /// A part that stands still, by its number in the world, and its body.
    pub fn still(&self, in_world: usize) -> (Part, BodyId) {
        (Part(number(self.shapes.len() + in_world)), self.still[in_world].0)
    }

    /// The body that carries a part, if it moves.
    fn mover(&self, part: Part) -> Option<Mover> {
        self.shapes.get(part.0 as usize).map(|(mover, ..)| *mover)
    }
}

fn number(count: usize) -> u32 {
    u32::try_from(count).expect("reading a file caps the number of shapes")
}

fn ball(shape: &Convex) -> Ball {
    let (centre, radius) = shape.ball();
    Ball { centre, radius }
}

/// A value that holds for one interval only.
#[derive(Clone)]
struct Stamped<T> {
    interval: usize,
    value: Option<T>,
}

/// The interval being looked at.
pub(super) struct Present<'r, 'a> {
    of: &'r Parts<'a>,
    segments: &'r [Segment],
    overrun: &'r [Vec<f64>],
    segment: usize,
    posed: Posed,
    delta: Vec<f64>,
    /// Parts of bodies that move.
    placed: Vec<Stamped<Placed<'a>>>,
    /// Motions by body that moves, then by the link that they are seen from.
    motions: Vec<BodyMotion>,
    /// The interval that a body's motions hold for.
    known: Vec<usize>,
    /// Intervals looked at so far; also the stamp of what is known of the present one.
    pub intervals: usize,
}

impl<'r, 'a> Present<'r, 'a> {
    pub fn new(of: &'r Parts<'a>, segments: &'r [Segment], overrun: &'r [Vec<f64>]) -> Self {
        let mechanism = of.mechanism;
        Self {
            of,
            segments,
            overrun,
            segment: 0,
            posed: mechanism.workspace(),
            delta: vec![0.0; mechanism.variable_count()],
            placed: vec![Stamped { interval: 0, value: None }; of.shapes.len()],
            motions: vec![BodyMotion::STILL; of.moving.len() * mechanism.links().len()],
            known: vec![0; of.moving.len()],
            intervals: 0,
        }
    }

    /// Poses the mechanism at the interval's midpoint; what was known of the interval before is void.
    pub fn look_at(&mut self, interval: Interval) {
        self.intervals += 1;
        let segment = &self.segments[interval.segment];
        let half = interval.half();
        for ((delta, from), to) in self.delta.iter_mut().zip(&segment.from).zip(&segment.to) {
            *delta = (to - from) * half;
        }
        self.of.mechanism.pose_into(&segment.at(interval.middle()), &mut self.posed);
        self.segment = interval.segment;
    }

    /// How a body moves as seen from a link that it hangs on.
    pub fn motion(&mut self, mover: Mover, inner: LinkId) -> &BodyMotion {
        let mechanism = self.of.mechanism;
        let links = mechanism.links().len();
        let motions = &mut self.motions[mover.0 * links..][..links];
        if self.known[mover.0] != self.intervals {
            self.known[mover.0] = self.intervals;
            let overrun = self.overrun.get(self.segment).map_or(&[][..], Vec::as_slice);
            let MovingBody { link, extent, .. } = &self.of.moving[mover.0];
            let steps = (self.delta.as_slice(), overrun);
            BodyMotion::to_each(mechanism, &self.posed, *link, extent, steps, |seen_from, motion| {
                motions[seen_from.0] = *motion;
                true
            });
        }
        &motions[inner.0]
    }

    /// How a part moves as seen from a link that it hangs on.
    pub fn part_motion(&mut self, part: Part, inner: LinkId) -> BodyMotion {
        self.of.mover(part).map_or(BodyMotion::STILL, |mover| *self.motion(mover, inner))
    }

    /// Where a part is.
    pub fn placed(&mut self, part: Part) -> &Placed<'a> {
        let index = part.0 as usize;
        let Some((mover, shape, ball)) = self.of.shapes.get(index) else {
            return &self.of.still[index - self.of.shapes.len()].1;
        };
        let stamped = &mut self.placed[index];
        if stamped.interval != self.intervals {
            let structure_from_link = self.posed.link(self.of.moving[mover.0].link);
            let ball = Ball { centre: structure_from_link * ball.centre, ..*ball };
            let placed = Placed { shape: shape.posed(structure_from_link), ball };
            *stamped = Stamped { interval: self.intervals, value: Some(placed) };
        }
        stamped.value.as_ref().expect("just filled in")
    }

    /// Where two parts are.
    pub fn both(&mut self, [a, b]: [Part; 2]) -> [&Placed<'a>; 2] {
        self.placed(a);
        self.placed(b);
        [a, b].map(|part| self.again(part))
    }

    /// A part that [`Self::placed`] has placed on the present interval.
    fn again(&self, part: Part) -> &Placed<'a> {
        let index = part.0 as usize;
        match self.placed.get(index) {
            Some(stamped) => stamped.value.as_ref().expect("placed before"),
            None => &self.of.still[index - self.placed.len()].1,
        }
    }
}
