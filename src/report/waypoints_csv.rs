//! Which joint values does an operator key in?
//!
//! One row for each waypoint, motions in the plan's order; joints in the arm's order, with its signs, in degrees or
//! metres as the heading says. The motions of base and restraint have no joints of the arm, and so no rows. Waypoints
//! count from 0, so that segment `n` leads from waypoint `n` to the next. The values are those that were checked.

use super::number::{self, Rounding};
use super::{Report, json};
use crate::check::Unit;

/// The waypoints of all motions as CSV with a row of headings.
///
/// # Errors
/// If a row cannot be written.
pub fn waypoints_csv(report: &Report) -> csv::Result<Vec<u8>> {
    let joints = &report.outcome.arm_joints;
    let mut writer = csv::Writer::from_writer(Vec::new());
    let unit = |turns| json::unit_word(if turns { Unit::Radian } else { Unit::Metre });
    let headings = joints.iter().map(|joint| format!("{}_{}", joint.name, unit(joint.turns)));
    writer.write_record(["motion", "kind", "waypoint"].map(str::to_owned).into_iter().chain(headings))?;
    for motion in report.outcome.motions.iter().filter(|motion| motion.kind.is_of_arm()) {
        for (index, waypoint) in motion.waypoints.iter().enumerate() {
            let values = joints.iter().zip(waypoint).map(|(joint, value)| {
                let decimals = if joint.turns { 3 } else { 6 };
                number::fixed(number::keyed(*value, joint.turns), decimals, Rounding::Nearest)
            });
            let place = [motion.id.clone(), motion.kind.word().to_owned(), index.to_string()];
            writer.write_record(place.into_iter().chain(values))?;
        }
    }
    writer.into_inner().map_err(|error| error.into_error().into())
}
