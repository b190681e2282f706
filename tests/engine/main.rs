//! Tests of the engine: everything but the viewer.

mod bad_input;
mod layers;
mod made_up;
mod report_snapshots;
