//! Can this arm carry this crewmember through this job?

pub mod check;
pub mod files;
pub mod mechanism;
pub mod model;
pub mod space;
