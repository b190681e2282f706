//! What happens on the way from one configuration to the next?
//!
//! A [`Segment`] is a straight line in joint space, at rest at both ends. This layer bounds what happens along it; it
//! never chooses a path.

mod clearance;
mod clearance_queue;
mod doubt;
mod margin;
mod margin_search;
mod normals;
mod overrun;
mod pair_bound;
mod piece;
mod present;
mod profile;
mod segment;
mod segment_time;
mod singularity;
mod stray;
mod timing;

pub use clearance::{
    Bracket, Budget, Clearance, ClearanceSearch, Entry, Group, Rule, Rules, Seen, Task, still_parts, still_world,
};
pub use margin::{Ask, Broken, Margin, MarginSearch, MarginTask, PairRule, Pairs, TO_SPARE};
pub use overrun::Overrun;
pub use pair_bound::{Moving, ROUNDING, first_order, pair_lower_bound, second_order};
pub use present::Parts;
pub use profile::profile;
pub use segment::{Interval, Segment};
pub use segment_time::{SegmentTime, segment_time};
pub use singularity::{LeastSingularValue, keeps_singular_value, least_singular_value, singular_value_at};
pub use stray::{LineStray, stray_from_line, tip_speed_at, tip_speeds};
pub use timing::{JointPace, Ramp, rest_to_rest, stopping_distance};
