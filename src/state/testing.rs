//! The starter plan, for tests of this layer.

use std::path::Path;

use super::scene::Scene;
use crate::files::{Loaded, read_project};
use crate::model::Project;

fn starter() -> Loaded {
    read_project(Path::new("scenes/starter")).expect("the starter plan is sound")
}

/// Runs a test on the starter plan's scene.
pub fn with_starter(test: impl FnOnce(&Scene)) {
    with_edited(|_| {}, test);
}

/// Runs a test on the starter plan's scene after an edit.
pub fn with_edited(edit: impl FnOnce(&mut Project), test: impl FnOnce(&Scene)) {
    let mut loaded = starter();
    edit(&mut loaded.project);
    test(&Scene::new(&loaded.project, &loaded.meshes));
}
