//! The library and its binary, from outside.

mod bad_input;
mod cli_new;
mod cli_poses;
mod cli_usage;
mod layers;
mod made_up;
mod readme;
mod report_snapshots;
