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
//! surroundings. The posture at the target itself is another question, asked with everything that stands there; so is
//! sight: a task that looks at nothing asks of boots and hands alone.

use nalgebra::center;

use crate::mechanism::Posed;
use crate::space::{Direction, Point};

use super::crewmember::Crewmember;
use super::posture::{Posture, PostureOutcome, PostureSearch, Start};
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
        let warm =
            |start: &[f64; N]| PostureSearch { start: Some(*start), attract: Some(*start), stance: None, starts: 1 };
        let anew = PostureSearch { start: Some(*start), attract: Some(*standing), starts: STARTS, stance: None };
        // The target first, then nearer and nearer to the shoulder.
        let mut places = (0..PIECES).map(|piece| nearest * piece as f64 / PIECES as f64).filter(|s| *s <= upper);
        let mut farthest = places.find_map(|s| solve_at(s, &anew))?;
        // As far out as the body stretches towards what it can't reach.
        let out_of_reach = task.moved(&(along.into_inner() * upper));
        let stretched = self.descend(&out_of_reach, &Start { q: *start, attract: *standing, keeps_legs: false }, &[]).q;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::testing::{closed_postures, in_empty_space, near, task_before_the_chest};
    use crate::crew::{Grip, Side, Sides};
    use crate::mechanism::random_tree::Draw;
    use crate::space::Vector;

    /// A hand at a place, in any direction.
    fn hand(side: Side, at: Point) -> Task {
        Task { grips: vec![Grip { side, at, axis: None, tool: 0.0 }], look_at: None }
    }

    #[test]
    fn the_farthest_found_is_a_posture_not_far_short_of_what_is_proven() {
        in_empty_space(|crew| {
            let mut draw = Draw(41);
            let (mut found, mut widest) = (0, 0.0_f64);
            for _ in 0..40 {
                let task = task_before_the_chest(&mut draw);
                let reach = crew.reach(&task, None).expect("a hand and a ray");
                let Some((margin, posture)) = reach.found else {
                    continue;
                };
                found += 1;
                widest = widest.max(reach.upper - margin);
                let standing = crew.solve(&Task::default(), &PostureSearch::default());
                let PostureOutcome::Found(standing) = standing else { panic!("no way to stand on the plate") };
                let (shoulder, target) = crew.ray_ends(&task, &crew.mechanism.pose(&standing.q)).expect("a hand");
                let moved = task.moved(&((target - shoulder).normalize() * margin));
                assert!(crew.verify(&moved, &posture.q).is_ok());
            }
            assert!(found >= 38, "{found} of 40");
            assert!(widest < 0.6, "{widest}");
        });
    }

    #[test]
    fn no_posture_is_beyond_what_is_proven() {
        // Closed postures from all over the ranges, and the same stretched outwards as far as they go: on the line through
        // the grip the bound lies beyond it.
        in_empty_space(|crew| {
            let mut draw = Draw(43);
            let mut nearest = f64::INFINITY;
            for q in closed_postures(200) {
                let posed = crew.mechanism.pose(&q);
                for side in Side::BOTH {
                    let grip_of = |q: &[f64; N]| {
                        Point::from(crew.mechanism.pose(q).link(*crew.links.grip.on(side)).translation.vector)
                    };
                    let outwards = grip_of(&q).coords - posed.link(crew.links.pelvis).translation.vector;
                    let along = Direction::new_normalize(outwards.normalize() + draw.vector(0.5));
                    let far = hand(side, grip_of(&q) + along.into_inner() * 2.0);
                    let stretched = crew.descend(&far, &near(&q), &[]).q;
                    let closed = crew.descend(&Task::default(), &near(&stretched), &[]);
                    for q in [q, closed.q].iter().take(if closed.norm < 1e-9 { 2 } else { 1 }) {
                        let at = grip_of(q) - along.into_inner() * draw.between(0.0, 1.0);
                        let upper = crew.never_reached(&hand(side, at), &along, &posed);
                        let reached = (grip_of(q) - at).dot(&along);
                        assert!(reached <= upper, "{reached} beyond {upper}");
                        nearest = nearest.min(upper - reached);
                    }
                }
            }
            assert!(nearest < 0.03, "the farthest of them comes no nearer than {nearest}");
        });
    }

    #[test]
    fn a_target_far_away_is_proven_out_of_reach() {
        in_empty_space(|crew| {
            let reach = crew.reach(&hand(Side::Right, Point::new(3.0, 0.0, 1.2)), None).expect("a ray");
            assert!(reach.upper < -0.5, "{}", reach.upper);
            let (margin, _) = reach.found.expect("nearer to the shoulder there is a posture");
            assert!(margin < reach.upper && margin > reach.upper - 0.2, "{margin} {}", reach.upper);
        });
    }

    #[test]
    fn both_hands_reach_no_farther_than_either() {
        in_empty_space(|crew| {
            let at = Sides { left: Point::new(0.4, 0.1, 1.1), right: Point::new(0.4, -0.1, 1.1) };
            let one = |side| {
                crew.never_reached(&hand(side, *at.on(side)), &Vector::x_axis(), &crew.mechanism.pose(&crew.neutral()))
            };
            let mut both = hand(Side::Left, at.left);
            both.grips.extend(hand(Side::Right, at.right).grips);
            let reach = crew.reach(&both, None).expect("a ray");
            let (margin, posture) = reach.found.expect("both hands before the chest");
            assert_eq!(posture.witness.grips.len(), 2);
            assert!(margin <= reach.upper && reach.upper <= one(Side::Left).min(one(Side::Right)) + 0.1);
        });
    }
}
