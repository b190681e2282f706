//! What can differ from one moment of a plan to the next?

use crate::space::Pose;

/// A plan at a moment, everything at rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment {
    /// The arm's stand, by id.
    pub stand: String,
    /// The arm's configuration (rad or m).
    pub arm: Vec<f64>,
    /// The rider's restraint, rad.
    pub detents: Vec<f64>,
    /// The rider's body joints (rad); none while nobody stands in the restraint.
    pub rider: Option<Vec<f64>>,
    /// The second crew, while they stand in a restraint of the structure.
    pub second_crew: Option<SecondCrew>,
    /// Where each payload is, in the plan's order.
    pub payloads: Vec<Carried>,
    /// The worksite that the rider is at.
    pub worksite: Option<String>,
}

/// The second crew in a restraint of the structure.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondCrew {
    pub worksite: String,
    pub socket: String,
    /// Their restraint, rad.
    pub detents: Vec<f64>,
    /// Body joints, rad.
    pub body: Vec<f64>,
}

/// Where a payload is.
#[derive(Clone, Debug, PartialEq)]
pub enum Carried {
    /// Standing at a place of the structure.
    Standing { structure_from_payload: Pose },
    /// In the rider's hands, rigid with the boot plate.
    InHands { plate_from_payload: Pose },
}
