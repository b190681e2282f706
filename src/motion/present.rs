//! Where is everything at the middle of the interval being looked at, and how far does it stray on it?
//!
//! Each answer is worked out once an interval, when it is first asked for.

use std::ops::Range as Span;

use crate::mechanism::{BodyId, BodyMotion, Extent, LinkId, Mechanism, Posed};
use crate::space::{Aabb, Convex, Point, Pose, PosedConvex, aabb};

use super::clearance::still_parts;
use super::overrun::Overrun;
use super::piece::{Piece, pieces};
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

/// What there is to be looked at in a mechanism: its convex parts, sorted by what moves.
pub struct Parts<'a> {
    pub(super) mechanism: &'a Mechanism,
    pub(super) moving: Vec<MovingBody>,
    pub(super) pieces: Vec<Piece>,
    /// Body and shape of each part of the bodies that move, and a ball about it in its link's frame.
    shapes: Vec<(Mover, &'a Convex, Ball)>,
    still: Vec<(BodyId, Placed<'a>)>,
    /// Boxes about these.
    still_bounds: Vec<Aabb>,
    /// Greatest growth of the bodies that stand still, m.
    pub(super) still_growth: f64,
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
    /// Sorts what hangs on a mechanism.
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
        let still_bounds = still.iter().map(|(_, placed)| aabb(&placed.shape)).collect();
        let pieces = pieces(mechanism, moving.iter().map(|moving: &MovingBody| moving.body));
        Self { mechanism, moving, pieces, shapes, still, still_bounds, still_growth }
    }

    /// All bodies that move.
    pub(super) fn movers(&self) -> impl Iterator<Item = Mover> + use<> {
        (0..self.moving.len()).map(Mover)
    }

    pub(super) fn moving(&self, mover: Mover) -> &MovingBody {
        &self.moving[mover.0]
    }

    /// The parts of a body that moves.
    pub(super) fn of_mover(&self, mover: Mover) -> impl Iterator<Item = Part> + use<> {
        self.moving[mover.0].parts.clone().map(Part)
    }

    /// A part that stands still, by its number in the world, and its body.
    pub(super) fn still(&self, in_world: usize) -> (Part, BodyId) {
        (Part(number(self.shapes.len() + in_world)), self.still[in_world].0)
    }

    /// A box about a part that stands still.
    pub(super) fn still_bounds(&self, in_world: usize) -> &Aabb {
        &self.still_bounds[in_world]
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
    posed: Posed,
    q: Vec<f64>,
    delta: Vec<f64>,
    /// Anywhere on the interval, and at its middle.
    overrun: [Vec<f64>; 2],
    /// Parts of bodies that move.
    placed: Vec<Stamped<Placed<'a>>>,
    /// Motions by body that moves and by piece, then by the link that they are seen from.
    motions: Vec<BodyMotion>,
    /// The interval that these motions hold for.
    known: Vec<usize>,
    /// Intervals looked at so far; also the stamp of what is known of the present one.
    pub intervals: usize,
}

impl<'r, 'a> Present<'r, 'a> {
    pub fn new(of: &'r Parts<'a>) -> Self {
        let mechanism = of.mechanism;
        let hung = of.moving.len() + of.pieces.len();
        Self {
            of,
            posed: mechanism.workspace(),
            q: vec![0.0; mechanism.variable_count()],
            delta: vec![0.0; mechanism.variable_count()],
            overrun: Default::default(),
            placed: vec![Stamped { interval: 0, value: None }; of.shapes.len()],
            motions: vec![BodyMotion::STILL; hung * mechanism.links().len()],
            known: vec![0; hung],
            intervals: 0,
        }
    }

    /// Poses the mechanism at the midpoint of an interval of a segment, on which joints may overrun; what was known of
    /// the interval before is void.
    pub fn look_at(&mut self, interval: Interval, (segment, overrun): (&Segment, &Overrun)) {
        self.intervals += 1;
        let (middle, half) = (interval.middle(), interval.half());
        for (k, (from, to)) in segment.from.iter().zip(&segment.to).enumerate() {
            self.q[k] = from + (to - from) * middle;
            self.delta[k] = (to - from) * half;
        }
        let [anywhere, here] = &mut self.overrun;
        overrun.within([interval.start, interval.end], anywhere);
        overrun.within([middle, middle], here);
        self.of.mechanism.pose_into(&self.q, &mut self.posed);
    }

    /// How a body moves as seen from a link that it hangs on.
    pub fn motion(&mut self, mover: Mover, inner: LinkId) -> &BodyMotion {
        let MovingBody { link, extent, .. } = &self.of.moving[mover.0];
        self.motion_of(mover.0, (*link, extent), inner)
    }

    /// How a piece, by its number, moves as seen from a link that it hangs on, without the play within it.
    pub fn piece_motion(&mut self, piece: usize, inner: LinkId) -> &BodyMotion {
        let Piece { link, extent, .. } = &self.of.pieces[piece];
        self.motion_of(self.of.moving.len() + piece, (*link, extent), inner)
    }

    fn motion_of(&mut self, slot: usize, (link, extent): (LinkId, &Extent), inner: LinkId) -> &BodyMotion {
        let mechanism = self.of.mechanism;
        let links = mechanism.links().len();
        let motions = &mut self.motions[slot * links..][..links];
        if self.known[slot] != self.intervals {
            self.known[slot] = self.intervals;
            let steps = (self.delta.as_slice(), self.overrun.each_ref().map(Vec::as_slice));
            BodyMotion::to_each(mechanism, &self.posed, link, extent, steps, |seen_from, motion| {
                motions[seen_from.0] = *motion;
                true
            });
        }
        &motions[inner.0]
    }

    /// A box about a piece.
    pub fn piece_box(&self, piece: usize) -> Aabb {
        let Piece { link, extent, .. } = &self.of.pieces[piece];
        extent_box(extent, self.posed.link(*link))
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

/// The box that holds an extent.
fn extent_box(extent: &Extent, structure_from_link: &Pose) -> Aabb {
    let mut points = extent.points.iter().map(|point| structure_from_link * point);
    let first = points.next().unwrap_or_else(Point::origin);
    let start = Aabb { min: first, max: first };
    let grown = points.fold(start, |held, point| Aabb { min: held.min.inf(&point), max: held.max.sup(&point) });
    grown.grown(extent.radius)
}
