//! Where does the arm come to rest when it is stopped?
//!
//! # Question
//! From any moment of a motion, stopped at full rate: how near can anything come to anything?
//! # Law
//! Joint *k* may overrun by q̇_k·t_react + q̇_k²/(2a_k), each joint on its own: a tolerance of that size on each joint, in
//! a clearance bound of its own. q̇_k is the joint's greatest rate on the segment.
//! # Source
//! Constant-acceleration kinematics; the limit is the plan's, else: no overlap.
//! # Limits
//! Only motions that are timed.
//! # Findings
//! One a motion and group for the governing pair, and one for every other pair that breaks its limit.

use super::case::Case;
use super::clearance::Told;
use super::finding::{Finding, Place, Unit};
use super::judge::key;

pub const NAME: &str = "stopping";

/// Findings of all motions.
pub fn findings(case: &Case) -> Vec<Finding> {
    case.moves
        .iter()
        .flat_map(|moved| {
            if moved.seconds().is_none() || moved.moved.segments.is_empty() {
                let place = Place::Motion { motion: moved.moved.id.clone() };
                let key = key(NAME, place, None, "all pairs");
                return vec![Finding::not_checked(key, Unit::Metre, "the motion is not timed")];
            }
            Told::of_move(case, moved)
                .findings(&moved.clearance, NAME, |entry| (entry.stopping, entry.rule.stopping_limit))
        })
        .collect()
}
