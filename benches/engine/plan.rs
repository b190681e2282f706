//! Which plan is timed?

use std::env;
use std::path::Path;

use trusswalk::files::{Loaded, read_project};

/// The plan that `PLAN` names, else the demo.
pub fn load() -> Loaded {
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/scenes/demo");
    let path = env::var("PLAN").unwrap_or_else(|_| demo.to_owned());
    read_project(Path::new(&path))
        .unwrap_or_else(|_| panic!("the plan {path} can't be used; `trusswalk check` says why"))
}
