//! The library and its binary, from outside.

mod bad_input;
mod layers;
mod made_up;
mod report_snapshots;
