//! Is there the posture in which a crewmember is to stand or to be carried, and what is near on the way into it?

use std::sync::Arc;

use crate::crew::PostureOutcome;
use crate::state::{Assembly, Extras, Scene, Stance, Standing};

use super::case::Change;
use super::change::{Way, bound_change};
use super::finding::Place;
use super::piece::{Piece, Said};

/// A crewmember gets into a posture.
pub struct StanceCase {
    pub stance: Arc<Stance>,
    pub standing: Standing,
    /// From the posture before; none where nothing changes, or they came from nowhere.
    pub change: Option<Result<Change, String>>,
    pub(super) said: Said,
}

impl StanceCase {
    /// Bounds the way into the posture; none where nobody stands there.
    pub fn new(scene: &Scene, stance: &Arc<Stance>) -> Option<Self> {
        let extras = Extras { held: stance.held, ..Extras::default() };
        let standing = Standing::new(Assembly::with(scene, &stance.moment, &extras), stance.who)?;
        let change = stance.from.and_then(|from| match &stance.outcome {
            PostureOutcome::NotFound(_) => Some(Err("no posture was found".to_owned())),
            PostureOutcome::Found(posture) if posture.q == from => None,
            PostureOutcome::Found(posture) => {
                let steps: Vec<&str> = stance.contact_steps.iter().map(String::as_str).collect();
                let distance = if stance.at_worksite { 0.0 } else { f64::INFINITY };
                let way = Way { from: &from, to: &posture.q, contact_steps: &steps, distance, detours: &Vec::new };
                Some(bound_change(scene, &standing, &way))
            }
        });
        Some(Self { stance: Arc::clone(stance), standing, change, said: Said::default() })
    }

    /// The same, with what is said of it.
    pub(super) fn judged(self, scene: &Scene) -> Self {
        Self { said: Said::of(scene, Piece::Stance(&self)), ..self }
    }

    /// Where its findings belong.
    pub fn place(&self) -> Place {
        Place::Step { step: self.stance.step.clone() }
    }
}
