//! Which meshes do the shapes of a plan name, and are they what the plan says they are?

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::model::Project;
use crate::space::Mesh;

use super::project::Reader;

/// Meshes by file (as seen from the plan's folder) and node.
#[derive(Clone, Debug, Default)]
pub struct Meshes(BTreeMap<(String, String), Arc<Mesh>>);

impl Meshes {
    /// The mesh of a node of a file, in the frame of the glTF's scene turned to z-up.
    pub fn get(&self, file: &str, node: &str) -> Option<&Arc<Mesh>> {
        self.0.get(&(file.to_owned(), node.to_owned()))
    }
}

/// Reads all meshes that a project's shapes name.
pub(super) fn read(_: &mut Reader<'_>, _: &mut Project) -> Meshes {
    Meshes::default()
}
