//! What may touch in one piece of a plan, and why?

use std::collections::BTreeSet;

use crate::mechanism::BodyId;
use crate::model::BodyClass;
use crate::state::{Assembly, Scene, Touch, touch};

use super::outcome::Exemption;
use super::piece::Piece;

/// Every pair that may touch, but for declared contacts.
pub fn exemptions(scene: &Scene, piece: Piece) -> BTreeSet<Exemption> {
    let assemblies: Vec<&Assembly> = match piece {
        Piece::Move(moved) => vec![&moved.assembly],
        Piece::Stay(stay) => stay.uses.iter().map(|used| &used.standing.assembly).collect(),
        Piece::Stance(stance) => vec![&stance.standing.assembly],
        Piece::Rest(rest) => vec![&rest.assembly],
    };
    let mut found = BTreeSet::new();
    for assembly in assemblies {
        let bodies = assembly.mechanism.body_ids();
        let moving: Vec<BodyId> = bodies.filter(|id| assembly.body(*id).class != BodyClass::Structure).collect();
        for (k, a) in moving.iter().enumerate() {
            for b in &moving[..k] {
                if let Some(Touch::Neighbours(reason) | Touch::InHand(reason)) = touch(assembly, (*a, *b), &[], &[]) {
                    let [a, b] = [assembly.name(*a), assembly.name(*b)];
                    let (a, b) = (a.min(b).to_owned(), a.max(b).to_owned());
                    found.insert(Exemption { a, b, reason: reason.to_owned() });
                }
            }
        }
        for on in &assembly.worked_on {
            let overlap = scene.project.plan.limits.overlap_on_target_m.value;
            let reason = format!("glove and tool on what they work on, overlap at most {overlap:.3} m");
            found.insert(Exemption { a: "glove and tool".to_owned(), b: on.bodies.clone(), reason });
        }
    }
    found
}
