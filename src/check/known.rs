//! What of a plan need not be computed again?
//!
//! A motion's bounds, a stay's postures and all findings about them depend on what moves, and on what the whole plan
//! shares: structure, arm, crew, limits, tolerances, contacts. Where both are what they were, the results are, too. Of the
//! clearance limits only those are meant that some pair of bodies is held to there, and the cap that follows from all. Steps and worksites are not
//! shared: what a motion or a stay takes from them, it carries.

use std::sync::Arc;

use super::case::{Case, MoveCase, StayCase};
use super::grouping::cap;
use super::rest::RestCase;
use super::stance::StanceCase;
use crate::files::Meshes;
use crate::model::{Project, Worksite};
use crate::state::{Move, Rest, Scene, Stance, Stay};

/// Results of an earlier check.
#[derive(Clone, Default)]
pub struct Known {
    shared: Option<Shared>,
    stays: Vec<Arc<StayCase>>,
    moves: Vec<Arc<MoveCase>>,
    rests: Vec<Arc<RestCase>>,
    stances: Vec<Arc<StanceCase>>,
}

/// What all results share.
#[derive(Clone, PartialEq)]
struct Shared {
    /// Without steps, worksites and clearance limits.
    project: Project,
    meshes: Meshes,
    /// Pairs farther apart than this were not measured, m.
    cap: f64,
}

impl Shared {
    fn of(scene: &Scene) -> Self {
        let mut project = scene.project.clone();
        project.plan.title.clear();
        project.plan.camera.clear();
        project.plan.step.clear();
        project.plan.worksite.clear();
        let limits = &mut project.plan.limits;
        for regime in [&mut limits.moving, &mut limits.at_work, &mut limits.stopping] {
            regime.clearance_m.clear();
        }
        Self { project, meshes: scene.meshes.clone(), cap: cap(&scene.project.plan) }
    }
}

impl Known {
    /// What a case has found.
    pub(super) fn of(case: &Case) -> Self {
        Self {
            shared: Some(Shared::of(case.scene)),
            stays: case.stays.clone(),
            moves: case.moves.clone(),
            rests: case.rests.clone(),
            stances: case.stances.clone(),
        }
    }

    /// This and what was found after it, of the same plan.
    pub(super) fn and(mut self, later: Self) -> Self {
        self.shared = later.shared.or(self.shared);
        self.stays.extend(later.stays);
        self.moves.extend(later.moves);
        self.rests.extend(later.rests);
        self.stances.extend(later.stances);
        self
    }

    /// What of it still holds for a plan; nothing where anything that all results share has changed.
    pub(super) fn still_true_of(&self, scene: &Scene) -> Self {
        let Some(shared) = self.shared.as_ref().filter(|shared| **shared == Shared::of(scene)) else {
            return Self::default();
        };
        fn kept<T>(cases: &[Arc<T>], holds: impl Fn(&T) -> bool) -> Vec<Arc<T>> {
            cases.iter().filter(|case| holds(case)).cloned().collect()
        }
        Self {
            shared: Some(shared.clone()),
            stays: kept(&self.stays, |case| case.said.is_under_the_limits_of(scene)),
            moves: kept(&self.moves, |case| case.said.is_under_the_limits_of(scene)),
            rests: kept(&self.rests, |case| case.said.is_under_the_limits_of(scene)),
            stances: kept(&self.stances, |case| case.said.is_under_the_limits_of(scene)),
        }
    }

    /// The motion as it was bounded before.
    pub(super) fn motion(&self, moved: &Move) -> Option<&Arc<MoveCase>> {
        self.moves.iter().find(|case| *case.moved == *moved)
    }

    /// The moment at rest as it was bounded before.
    pub(super) fn rest(&self, rest: &Rest) -> Option<&Arc<RestCase>> {
        self.rests.iter().find(|case| *case.rest == *rest)
    }

    /// The way into a posture as it was bounded before.
    pub(super) fn stance(&self, stance: &Stance) -> Option<&Arc<StanceCase>> {
        self.stances.iter().find(|case| *case.stance == *stance)
    }

    /// The stay as it was looked at before.
    pub(super) fn stay(&self, stay: &Stay, site: &Worksite) -> Option<&Arc<StayCase>> {
        self.stays.iter().find(|case| *case.stay == *stay && case.site == *site)
    }
}
