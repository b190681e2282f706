//! What do the user's files say, and where are they wrong?
//!
//! Everything that is read comes through [`Source`], lies inside the plan's tree and under a cap; every mistake is
//! told with its place ([`Problems`]). Nothing that a file holds may panic, hang, or exhaust memory.

mod agreement;
mod arm_file;
pub mod atomic;
mod consistency;
mod contacts;
mod copy;
mod draft;
mod edit;
mod gltf;
mod history;
mod journal;
mod meshes;
mod names;
mod numbers;
mod open_values;
mod order;
mod parts;
mod pieces;
mod plan_path;
mod problem;
mod project;
mod serde_words;
mod source;
mod toml_file;
mod toml_text;
mod urdf;

pub use copy::{copy, copy_as, is_new};
pub use draft::{Change, DiskState, Draft, Found, NotSaved};
pub use edit::{apply, apply_all};
pub use journal::state_folder;
pub use meshes::Meshes;
pub use open_values::OpenSite;
pub use plan_path::{Outside, PlanPath};
pub use problem::{Place, Problem, Problems, Spot, nearest, unknown_name};
pub use project::{Input, Loaded, plan_at, plan_text, read_embedded, read_from, read_open, read_project, sha256};
pub use source::{Disk, Embedded, NotRead, Source};
