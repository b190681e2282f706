//! Which plan is timed?

use std::env;
use std::path::Path;

use trusswalk::files::{Loaded, read_project};

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/scenes/demo");

/// The plan that `PLAN` names, else the demo.
pub fn load() -> Loaded {
    let path = env::var("PLAN").unwrap_or_else(|_| DEMO.to_owned());
    read_project(Path::new(&path))
        .unwrap_or_else(|_| panic!("the plan {path} can't be used; `trusswalk check` says why"))
}

/// The demo.
pub fn demo() -> Loaded {
    read_project(Path::new(DEMO)).unwrap_or_else(|_| panic!("the demo can't be used; `trusswalk check` says why"))
}
