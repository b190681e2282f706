//! Can this arm carry this crewmember through this job?

pub mod check;
pub mod commands;
pub mod crew;
pub mod files;
pub mod mechanism;
pub mod model;
pub mod motion;
pub mod report;
pub mod space;
pub mod state;
