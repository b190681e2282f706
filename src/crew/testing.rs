//! A body on a plate in empty space, for tests.

use crate::mechanism::random_tree::Draw;
use crate::mechanism::{LinkId, Mechanism, MechanismBuilder};
use crate::model::{BodyClass, Crew, Suit};
use crate::space::{Direction, Point, Pose, Vector};

use super::posture::Start;
use super::rows::N;
use super::{BodyLinks, Crewmember, Figure, Grip, Side, Surroundings, Task, attach};

/// Between the boots' middle lines, m.
pub const BOOT_SPACING: f64 = 0.26;

/// The median man in the default suit on a plate at the structure's origin.
pub fn standing() -> (Mechanism, BodyLinks) {
    standing_as(&Crew::default(), &Suit::default())
}

/// Someone in some suit on a plate at the structure's origin.
pub fn standing_as(crew: &Crew, suit: &Suit) -> (Mechanism, BodyLinks) {
    let mut builder = MechanismBuilder::new();
    let plate = builder.fixed("plate", LinkId::STRUCTURE, Pose::identity());
    let figure = Figure::from(crew, suit);
    let links = attach(&mut builder, (plate, BOOT_SPACING), BodyClass::Rider, (&figure, suit));
    (builder.finish(), links)
}

/// Postures of [`standing`] with both boots on the plate, from anywhere in the ranges; every other one with legs that
/// are nearly straight.
pub fn closed_postures(count: usize) -> Vec<[f64; N]> {
    let (mechanism, links) = standing();
    let surroundings = Surroundings::none();
    let crew = Crewmember::new(&mechanism, &links, &surroundings);
    let mut draw = Draw(23);
    let mut found = Vec::new();
    while found.len() < count {
        let straight = found.len() % 2 == 1;
        let start = std::array::from_fn(|k| {
            let leg = !(6..N - 6).contains(&k);
            let range = crew.ranges[k];
            if straight && leg {
                range.nearest(draw.between(-0.05, 0.05))
            } else {
                draw.between(range.lowest, range.highest)
            }
        });
        let descent = crew.descend(&Task::default(), &near(&start), &[]);
        if descent.norm < 1e-9 {
            found.push(descent.q);
        }
    }
    found
}

/// Asks the median man of [`standing`], alone in empty space.
pub fn in_empty_space<R>(ask: impl FnOnce(&Crewmember) -> R) -> R {
    let (mechanism, links) = standing();
    let surroundings = Surroundings::none();
    ask(&Crewmember::new(&mechanism, &links, &surroundings))
}

/// One hand of [`standing`] at a target before the chest, pushed at away from him, tool or none.
pub fn task_before_the_chest(draw: &mut Draw) -> Task {
    let at = Point::new(draw.between(0.15, 0.5), draw.between(-0.4, 0.4), draw.between(0.8, 1.5));
    let axis = Direction::new_normalize(Vector::new(1.0, draw.between(-0.6, 0.6), draw.between(-0.6, 0.6)));
    let side = if at.y > 0.0 { Side::Left } else { Side::Right };
    let tool = if draw.between(0.0, 1.0) < 0.5 { 0.0 } else { 0.2 };
    Task { grips: vec![Grip { side, at, axis: Some((axis, 0.26)), tool }], look_at: Some(at) }
}

/// From a posture, near it.
pub(in crate::crew) fn near(q: &[f64; N]) -> Start {
    Start { q: *q, attract: *q, keeps_legs: false }
}
