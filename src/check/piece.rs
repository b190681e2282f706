//! What is said of one piece of a plan: one motion, stay, stance or moment at rest?
//!
//! All that is said of a piece follows from the piece and from what the whole plan shares ([`super::known`]); it is said
//! once, where the piece is looked at, and holds as long as the piece does.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::state::Scene;

use super::CHECKS;
use super::case::{MoveCase, StayCase};
use super::exemptions::exemptions;
use super::finding::Finding;
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

/// What is said of a piece.
#[derive(Default)]
pub struct Said {
    /// Of each check, in the order of [`CHECKS`].
    pub findings: Vec<Vec<Finding>>,
    /// What may touch in it.
    pub exemptions: BTreeSet<Exemption>,
}

impl Said {
    /// Has every check look at a piece; neither the plan's steps nor its worksites may be asked.
    pub fn of(scene: &Scene, piece: Piece) -> Self {
        let (findings, exemptions) = rayon::join(
            || CHECKS.par_iter().map(|check| (check.of_piece)(scene, piece)).collect(),
            || exemptions(scene, piece),
        );
        Self { findings, exemptions }
    }
}
