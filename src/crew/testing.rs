//! A body on a plate in empty space, for tests.

use crate::mechanism::{LinkId, Mechanism, MechanismBuilder};
use crate::model::{BodyClass, Crew, Suit};
use crate::space::Pose;

use super::{BodyLinks, Figure, attach};

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
