//! Can this arm carry this crewmember through this job?

pub mod model;
pub mod space;
