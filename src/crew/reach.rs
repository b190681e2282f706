//! How much farther than the target do the hands reach?
//!
//! # Law
//! Along the ray from the shoulder of the neutral posture on this plate through the target, the margin is
//! sup { s : a posture does the task with the target moved by s along the ray } [m], s no less than minus the distance
//! shoulder–target. *Lower*: the farthest s with a posture that [`Crewmember::verify`] accepts, found by going outwards
//! with warm starts until a step of [`RESOLUTION`] fails. *Upper*: the farthest that isn't excluded by lengths and ranges of the body
//! ([`super::reach_bound`]). For both hands, the ray starts in the middle between the shoulders and both targets move.
//!
//! # Limits
//! What stands behind the target is left out, or a target on a wall would have no margin: give the crewmember empty
//! surroundings. The posture at the target itself is another question, asked with everything that stands there.

use nalgebra::center;

use crate::mechanism::Posed;
use crate::space::{Direction, Point};

use super::crewmember::Crewmember;
use super::posture::{Posture, PostureOutcome, PostureSearch};
use super::reach_bound::Ray;
use super::rows::N;
use super::task::Task;

/// The search for the farthest posture ends when the next one would be no more than this farther, m.
pub const RESOLUTION: f64 = 1e-3;
/// The first step outwards from a posture, m; longer after a success, shorter after a failure.
const FIRST_STEP: f64 = 0.1;
/// So far beyond the last posture others are looked for from elsewhere, m.
const HOP: f64 = 0.02;
/// Starts at a place that has no posture before it to start from.
const STARTS: usize = 4;
/// Pieces into which the ray is cut where even the target has no posture.
const PIECES: usize = 8;

/// A reach margin, m: positive where the hands reach beyond the target.
#[derive(Clone, Debug, PartialEq)]
pub struct Reach {
    /// The farthest with a posture, and that posture; none where no posture was found anywhere on the ray.
    pub found: Option<(f64, Posture)>,
    /// Proven: nothing beyond this is reached.
    pub upper: f64,
    /// Starts at each place where nothing was found.
    pub starts: usize,
}

impl Crewmember<'_> {
    /// The reach margin of a task with at least one hand; none for a task without hands, or with the target in the
    /// shoulder. `start` is the posture at the target, if one is known.
    pub fn reach(&self, task: &Task, start: Option<&[f64; N]>) -> Option<Reach> {
        let standing = match self.solve(&Task::default(), &PostureSearch::default()) {
            PostureOutcome::Found(posture) => posture.q,
            PostureOutcome::NotFound(_) => self.neutral(),
        };
        let posed = self.mechanism.pose(&standing);
        let (shoulder, target) = self.ray_ends(task, &posed)?;
        let along = Direction::try_new(target - shoulder, 1e-6)?;
        let distance = (target - shoulder).norm();
        let upper = self.never_reached(task, &along, &posed).max(-distance);
        let found = self.farthest(task, &along, (start.unwrap_or(&standing), &standing), (-distance, upper));
        Some(Reach { found, upper, starts: STARTS })
    }

    /// The middles of shoulders and of targets of the hands in use.
    fn ray_ends(&self, task: &Task, posed: &Posed) -> Option<(Point, Point)> {
        let shoulder = |side| Point::from(posed.link(*self.links.shoulder.on(side)).translation.vector);
        match task.grips.as_slice() {
            [] => None,
            [one] => Some((shoulder(one.side), one.at)),
            [one, other, ..] => Some((center(&shoulder(one.side), &shoulder(other.side)), center(&one.at, &other.at))),
        }
    }

    /// The least upper bound of all hands.
    fn never_reached(&self, task: &Task, along: &Direction, posed: &Posed) -> f64 {
        let plate = posed.link(self.links.plate);
        let bounds = task.grips.iter().map(|grip| {
            let ray = Ray { from: grip.at, along: *along };
            self.never_beyond((grip.side, grip.tool), &ray, plate)
        });
        bounds.fold(f64::INFINITY, f64::min)
    }

    /// The farthest posture found on the ray, between `nearest` (at the shoulder) and `upper`.
    fn farthest(
        &self,
        task: &Task,
        along: &Direction,
        (start, standing): (&[f64; N], &[f64; N]),
        (nearest, upper): (f64, f64),
    ) -> Option<(f64, Posture)> {
        let solve_at = |s: f64, search: &PostureSearch| match self.solve(&task.moved(&(along.into_inner() * s)), search)
        {
            PostureOutcome::Found(posture) => Some((s, posture)),
            PostureOutcome::NotFound(_) => None,
        };
        let warm = |start: &[f64; N]| PostureSearch { start: Some(*start), attract: Some(*start), starts: 1 };
        let anew = PostureSearch { start: Some(*start), attract: Some(*standing), starts: STARTS };
        // The target first, then nearer and nearer to the shoulder.
        let mut places = (0..PIECES).map(|piece| nearest * piece as f64 / PIECES as f64).filter(|s| *s <= upper);
        let mut farthest = places.find_map(|s| solve_at(s, &anew))?;
        // As far out as the body stretches towards what it can't reach.
        let out_of_reach = task.moved(&(along.into_inner() * upper));
        let stretched = self.descend(&out_of_reach, (start, standing), &[]).q;
        let outwards = |mut farthest: (f64, Posture)| {
            let mut step = FIRST_STEP;
            while farthest.0 < upper {
                match solve_at((farthest.0 + step).min(upper), &warm(&farthest.1.q)) {
                    Some(posture) => (farthest, step) = (posture, step * 1.5),
                    None if step <= RESOLUTION => break,
                    None => step = (step * 0.3).max(RESOLUTION),
                }
            }
            farthest
        };
        farthest = outwards(farthest);
        // Where one kind of posture ends, another may go on.
        for other in [anew, warm(&stretched)] {
            if let Some(beyond) = solve_at((farthest.0 + HOP).min(upper), &other) {
                farthest = outwards(beyond);
            }
        }
        Some(farthest)
    }
}
