//! Tests of the engine: everything but the viewer.

mod bad_input;
mod bound_clearance;
mod bound_line;
mod bound_motion;
mod bound_restated;
mod cli_check;
mod cli_new;
mod cli_poses;
mod cli_usage;
mod contacts;
mod deviations;
mod effort;
mod layers;
mod made_up;
mod random;
mod readme;
mod reference_distances;
mod reference_figure;
mod reference_kinematics;
mod reference_sight;
mod reference_six_joint;
mod reference_time;
mod report_snapshots;
mod scenes;
mod stored;
