//! Plans of `scenes/` with an edit: read, changed in memory, checked.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use trusswalk::check::{self, Finding, Outcome, Place, Silent};
use trusswalk::files::{Loaded, read_project};
use trusswalk::model::{Deed, Fixed, Project, Shape, Who};

/// The outcome of a plan of `scenes/` after an edit.
pub fn outcome_of(scene: &str, edit: impl FnOnce(&mut Project)) -> Outcome {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes").join(scene);
    let Loaded { mut project, meshes, .. } = read_project(&folder).expect("the scene is sound");
    edit(&mut project);
    check::run(&project, &meshes, &Silent, &AtomicBool::new(false)).expect("nobody stops it")
}

/// A ball of the structure.
pub fn ball(id: &str, at_m: [f64; 3], radius_m: f64) -> Fixed {
    let place = trusswalk::model::Place { at_m, ..Default::default() };
    Fixed { id: id.to_owned(), place, shape: Shape::Sphere { radius_m } }
}

/// Leaves only some of the steps; without an id, they go by their number from 1.
pub fn keep_steps(project: &mut Project, ids: &[&str]) {
    for (number, step) in project.plan.step.iter_mut().enumerate() {
        step.id.get_or_insert_with(|| format!("step-{}", number + 1));
    }
    project.plan.step.retain(|step| step.id.as_deref().is_some_and(|id| ids.contains(&id)));
}

/// Leaves only what one crewmember does, and of that only some deeds.
pub fn keep_deeds(project: &mut Project, who: Who, deeds: &[Deed]) {
    project.plan.step.retain(|step| step.who == who && deeds.contains(&step.deed));
}

/// The violations of one check.
pub fn violations<'a>(outcome: &'a Outcome, check: &str) -> Vec<&'a Finding> {
    let of_check = |finding: &&Finding| finding.key.check == check && finding.status.is_violation();
    outcome.findings.iter().filter(of_check).collect()
}

/// The worksite and step of a finding at a worksite.
pub fn worksite_of(finding: &Finding) -> Option<(&str, &str)> {
    match &finding.key.place {
        Place::Worksite { worksite, step } => Some((worksite, step)),
        Place::Motion { .. } | Place::Step { .. } => None,
    }
}
