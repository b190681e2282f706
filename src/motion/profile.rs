//! How does the clearance run over the time of a motion?

use crate::model::Bound;

use super::clearance::{ClearanceSearch, Group, Task};
use super::segment::Interval;

/// The bracket of a group's clearance on each of `pieces` equal intervals of each segment, in order; none where the
/// group stays above the cap. Each is a true bound, so its least end agrees with that of the whole motion.
pub fn profile(search: &ClearanceSearch, task: &Task, group: Group, pieces: usize) -> Vec<(Interval, Option<Bound>)> {
    let share = |k: usize| k as f64 / pieces as f64;
    (0..task.segments.len())
        .flat_map(|segment| (0..pieces).map(move |k| Interval { segment, start: share(k), end: share(k + 1) }))
        .map(|interval| (interval, search.run_on(task, &[interval]).bound(group)))
        .collect()
}
