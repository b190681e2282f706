//! Tests of the engine: everything but the viewer.

mod bad_input;
mod bound_clearance;
mod bound_motion;
mod bound_restated;
mod layers;
mod made_up;
mod random;
mod report_snapshots;
