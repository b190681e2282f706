//! Can this arm carry this crewmember through this job?
//!
//! A plan is read ([`files`]), walked step by step ([`state`]) and checked ([`check`]); what comes out is written by
//! [`report`]. Below lie the mechanisms that everything moves by ([`mechanism`]), the bounds over whole motions
//! ([`motion`]), the suited body ([`crew`]) and the geometry ([`space`]). Each layer knows only those below it.
//!
//! ```
//! use std::path::Path;
//! use std::sync::atomic::AtomicBool;
//!
//! let loaded = trusswalk::files::read_project(Path::new("scenes/starter"))?;
//! let never = AtomicBool::new(false);
//! let outcome = trusswalk::check::run(&loaded.project, &loaded.meshes, &trusswalk::check::Silent, &never)?;
//! assert!(outcome.findings.iter().all(|finding| !finding.status.is_violation()));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod check;
pub mod commands;
pub mod crew;
pub mod files;
pub mod mechanism;
pub mod model;
pub mod motion;
pub mod propose;
pub mod report;
pub mod space;
pub mod state;
#[cfg(feature = "viewer")]
pub mod viewer;
