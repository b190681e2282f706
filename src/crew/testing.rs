//! A body on a plate in empty space, for tests.

use crate::mechanism::random_tree::Draw;
use crate::mechanism::{LinkId, Mechanism, MechanismBuilder};
use crate::model::{BodyClass, Crew, Suit};
use crate::space::Pose;

use super::rows::N;
use super::{BodyLinks, Crewmember, Figure, Surroundings, Task, attach};

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

/// Postures of [`standing`] with both boots on the plate, from anywhere in the ranges.
pub fn closed_postures(count: usize) -> Vec<[f64; N]> {
    let (mechanism, links) = standing();
    let surroundings = Surroundings::none();
    let crew = Crewmember::new(&mechanism, &links, &surroundings);
    let mut draw = Draw(23);
    let mut found = Vec::new();
    while found.len() < count {
        let start = std::array::from_fn(|k| draw.between(crew.ranges[k].lowest, crew.ranges[k].highest));
        let descent = crew.descend(&Task::default(), (&start, &start), &[]);
        if descent.norm < 1e-9 {
            found.push(descent.q);
        }
    }
    found
}
