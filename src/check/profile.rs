//! How does the clearance of a motion run over its time?
//!
//! Each piece of the motion is bounded like a motion of its own, to a gap that is wide enough for a picture; the bracket of
//! the whole motion is the finding's.

use std::sync::atomic::AtomicBool;

use crate::model::ClassPair;
use crate::motion::{Budget, Clearance, ClearanceSearch, Interval, Task, still_world};
use crate::state::Scene;

use super::case::MoveCase;
use super::grouping::{GroupKey, PairRules, Situation};
use super::progress::{Stopped, go_on};

/// Brackets are so narrow or narrower, m.
const GAP: f64 = 0.01;

/// The clearance of each pair of classes along a motion.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// One for each pair of classes that comes within the cap, in the order of classes.
    pub lines: Vec<ProfileLine>,
}

/// One pair of classes along a motion.
#[derive(Clone, Debug, PartialEq)]
pub struct ProfileLine {
    pub classes: ClassPair,
    pub pieces: Vec<ProfilePiece>,
}

/// The bracket on one piece of a segment; none above the cap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProfilePiece {
    pub interval: Interval,
    pub clearance: Option<crate::model::Bound>,
    /// The strictest limit that holds there, m.
    pub limit: f64,
}

/// Bounds a motion on `pieces` equal intervals of each segment.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn profile(scene: &Scene, case: &MoveCase, pieces: usize, stop: &AtomicBool) -> Result<Profile, Stopped> {
    let rules = PairRules::of_move(scene, &case.moved, &case.assembly, &case.frozen);
    let world = still_world(&case.frozen);
    let budget = Budget { cap: rules.cap(), gap: GAP, ..Budget::default() };
    let search = ClearanceSearch::new(&case.frozen, &world, budget);
    let task = Task {
        segments: &case.moved.segments,
        rules: &|segment, a, b| rules.rule(segment, a, b),
        same_rules: &|one, other| rules.same(one, other),
        overrun: &[],
    };
    let share = |k: usize| k as f64 / pieces as f64;
    let mut profile = Profile::default();
    for segment in 0..case.moved.segments.len() {
        for k in 0..pieces {
            let interval = Interval { segment, start: share(k), end: share(k + 1) };
            go_on(stop)?;
            profile.add(scene, interval, &search.run_on(&task, &[interval]));
        }
    }
    profile.lines.sort_by_key(|line| line.classes);
    Ok(profile)
}

impl Profile {
    /// Adds what was found on one interval. Pairs carried as one piece, and contacts, have no run over time.
    fn add(&mut self, scene: &Scene, interval: Interval, found: &Clearance) {
        for group in found.groups() {
            let key = GroupKey::of(scene, group);
            if !matches!(key.situation, Situation::Moving | Situation::NearWorksite) {
                continue;
            }
            let piece = ProfilePiece { interval, clearance: found.bound(group), limit: key.limit.value };
            match self.lines.iter_mut().find(|line| line.classes == key.classes) {
                Some(line) => line.pieces.push(piece),
                None => self.lines.push(ProfileLine { classes: key.classes, pieces: vec![piece] }),
            }
        }
    }
}
