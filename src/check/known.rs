//! What of a plan need not be computed again?
//!
//! A motion's bounds, a stay's postures and all findings about them depend on what moves, and on what the whole plan
//! shares: structure, arm, crew, limits, tolerances, contacts. Where both are what they were, the results are, too. Steps and worksites are not
//! shared: what a motion or a stay takes from them, it carries.

use std::sync::Arc;

use super::case::{Case, MoveCase, StayCase};
use super::rest::RestCase;
use super::stance::StanceCase;
use crate::files::Meshes;
use crate::model::{Project, Worksite};
use crate::state::{Move, Rest, Stance, Stay};

/// Results of an earlier check.
#[derive(Clone, Default)]
pub struct Known {
    shared: Option<(Project, Meshes)>,
    stays: Vec<Arc<StayCase>>,
    moves: Vec<Arc<MoveCase>>,
    rests: Vec<Arc<RestCase>>,
    stances: Vec<Arc<StanceCase>>,
}

impl Known {
    /// What a case has found.
    pub(super) fn of(case: &Case) -> Self {
        let shared = Some((shared(case.scene.project), case.scene.meshes.clone()));
        Self {
            shared,
            stays: case.stays.clone(),
            moves: case.moves.clone(),
            rests: case.rests.clone(),
            stances: case.stances.clone(),
        }
    }

    /// What of it still holds for a plan; nothing where anything that all results share has changed.
    pub(super) fn still_true_of(&self, project: &Project, meshes: &Meshes) -> Self {
        match &self.shared {
            Some((known, known_meshes)) if *known == shared(project) && known_meshes == meshes => self.clone(),
            _ => Self::default(),
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

fn shared(project: &Project) -> Project {
    let mut project = project.clone();
    project.plan.title.clear();
    project.plan.camera.clear();
    project.plan.step.clear();
    project.plan.worksite.clear();
    project
}
