//! What is said of one piece of a plan: one motion, stay, stance or moment at rest?
//!
//! All that is said of a piece follows from the piece and from what the whole plan shares ([`super::known`]), and of the
//! clearance limits from those that some pair in it is held to; it is said once, where the piece is looked at, and holds as
//! long as these are what they were.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::motion::{Clearance, Group};
use crate::state::Scene;

use super::CHECKS;
use super::case::{Change, MoveCase, StayCase};
use super::exemptions::exemptions;
use super::finding::Finding;
use super::grouping::GroupKey;
use super::outcome::Exemption;
use super::rest::RestCase;
use super::stance::StanceCase;

/// A piece of a plan.
#[derive(Clone, Copy)]
pub enum Piece<'a> {
    Move(&'a MoveCase),
    Stay(&'a StayCase),
    Stance(&'a StanceCase),
    Rest(&'a RestCase),
}

impl<'a> Piece<'a> {
    /// What was bounded. Ways of a change of posture that were tried and not taken have pairs in the same groups.
    fn clearances(self) -> Vec<&'a Clearance> {
        let of_change = |change: &'a Result<Change, String>| change.as_ref().ok().map(|change| &change.clearance);
        match self {
            Self::Move(moved) => vec![&moved.clearance],
            Self::Stay(stay) => {
                stay.uses.iter().map(|used| &used.change).chain(&stay.back).filter_map(of_change).collect()
            }
            Self::Stance(stance) => stance.change.iter().filter_map(of_change).collect(),
            Self::Rest(rest) => vec![&rest.clearance],
        }
    }
}

/// What is said of a piece.
#[derive(Default)]
pub struct Said {
    /// Of each check, in the order of [`CHECKS`].
    pub findings: Vec<Vec<Finding>>,
    /// What may touch in it.
    pub exemptions: BTreeSet<Exemption>,
    /// The clearance limits that it is held to.
    held_to: Vec<(Group, GroupKey)>,
}

impl Said {
    /// Has every check look at a piece; neither the plan's steps nor its worksites may be asked.
    pub fn of(scene: &Scene, piece: Piece) -> Self {
        let (findings, exemptions) = rayon::join(
            || CHECKS.par_iter().map(|check| (check.of_piece)(scene, piece)).collect(),
            || exemptions(scene, piece),
        );
        let groups: BTreeSet<Group> = piece.clearances().into_iter().flat_map(Clearance::all_groups).collect();
        let held_to = groups.into_iter().map(|group| (group, GroupKey::of(scene, group))).collect();
        Self { findings, exemptions, held_to }
    }

    /// Whether the clearance limits that the piece is held to are the same in a plan that has all else in common.
    pub fn is_under_the_limits_of(&self, scene: &Scene) -> bool {
        self.held_to.iter().all(|(group, key)| GroupKey::of(scene, *group) == *key)
    }
}
