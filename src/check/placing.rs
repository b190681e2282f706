//! Does a placed payload arrive in its seat?
//!
//! # Question
//! How far is the payload from its seat, and how much is it turned, where the arm brings it to be placed?
//! # Law
//! The payload is rigid with the boot plate from the moment at which it was taken; its place is the plate's pose times
//! the one at taking. Distance of the origins, angle of the rotation between the two.
//! # Source
//! common practice, no source.
//! # Limits
//! What the hands can still correct is what the limits `place_m` and `place_deg` allow.
//! # Findings
//! Two for each `place` step.

use crate::state::{Doing, Scene};

use super::finding::{Finding, Place, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;

pub const NAME: &str = "placing";

/// Findings of a stay in which a payload is placed.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Stay(stay) = piece else { return Vec::new() };
    let Doing::Place { payload, structure_from_payload, structure_from_seat } = &stay.stay.doing else {
        return Vec::new();
    };
    let limits = &scene.project.plan.limits;
    let distance =
        Measure::of(&limits.place_m, Unit::Metre).with_default_band(&limits.place_m, 0.1 * limits.place_m.value);
    let turn =
        Measure::of(&limits.place, Unit::Radian).with_default_band(&limits.place, 0.1 * limits.place.value.radians());
    let seat_from_payload = structure_from_seat.inv_mul(structure_from_payload);
    let id = &scene.project.plan.payload[*payload].id;
    let place = || Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() };
    let who = Some(stay.stay.who);
    let by = seat_from_payload.translation.vector;
    let help = format!("move the tip by ({:+.3}, {:+.3}, {:+.3}) m in the seat's axes", -by.x, -by.y, -by.z);
    vec![
        Finding::exact(key(NAME, place(), who, format!("{id} off its seat")), by.norm(), &distance).helped(Some(help)),
        Finding::exact(key(NAME, place(), who, format!("{id} turned")), seat_from_payload.rotation.angle(), &turn),
    ]
}
