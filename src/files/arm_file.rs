//! What is the arm, from the TOML or URDF file that the plan names?

use crate::model::Arm;

use super::project::Reader;
use super::toml_file::Node;
use super::{consistency, names, pieces};

/// Reads the arm of a plan; its mistakes go to the reader.
pub(super) fn read(reader: &mut Reader<'_>, plan: Node<'_>) -> Option<Arm> {
    let (path, text) = reader.named(plan.key("arm"))?;
    let source = (path, text);
    let file = reader.parsed(Some(&source))?;
    let arm = reader.checked(&file, &pieces::ARM);
    names::check_links(&file, &mut reader.problems);
    arm.inspect(|read| consistency::check_arm(read, file.node(), &mut reader.problems))
}
