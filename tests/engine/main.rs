//! Tests of the engine: everything but the viewer.

mod layers;
mod made_up;
mod report_snapshots;
//! The library and its binary, from outside.

mod bad_input;
