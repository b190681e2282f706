//! What is found first of a plan that is checked again?
//!
//! One place alone is looked at, that which somebody is looking at, before all the others. It is judged as ever, and what is
//! known of it then is not computed again.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::state::{Event, Scene, Walk};

use super::CHECKS;
use super::case::Case;
use super::finding::{Finding, Place};
use super::known::Known;
use super::progress::{Silent, Stopped};

/// The place that is looked at first, and who hears what was found there.
pub struct First<'a> {
    pub place: &'a Place,
    pub tell: &'a (dyn Fn(&Place, Vec<Finding>) + Sync),
}

impl First<'_> {
    /// Looks at what happens in the place, tells what was found, and adds it to what is known.
    pub(super) fn look(
        &self,
        (scene, walk): (&Scene, &Walk),
        known: Known,
        stop: &AtomicBool,
    ) -> Result<Known, Stopped> {
        let there = self.happens_in(walk);
        if there.events.is_empty() && there.rests.is_empty() {
            return Ok(known);
        }
        let case = Case::new((scene, &there), &known, &Silent, stop)?;
        (self.tell)(self.place, case.findings_of_pieces());
        let found = Known::of(&case);
        Ok(known.and(found))
    }

    fn happens_in(&self, walk: &Walk) -> Walk {
        let is_there = |event: &&Event| match (self.place, event) {
            (Place::Motion { motion }, Event::Move(moved)) => moved.id == *motion,
            (Place::Worksite { worksite, step }, Event::Stay(stay)) => (&stay.worksite, &stay.step) == (worksite, step),
            (Place::Step { step }, Event::Stance(stance)) => stance.step == *step,
            _ => false,
        };
        let rests = walk.rests.iter().filter(|rest| match self.place {
            Place::Worksite { worksite, step } => (&rest.worksite, &rest.step) == (worksite, step),
            Place::Motion { .. } | Place::Step { .. } => false,
        });
        Walk { events: walk.events.iter().filter(is_there).cloned().collect(), rests: rests.map(Arc::clone).collect() }
    }
}

/// Findings of before, with those that were found first in one place instead of what they tell anew. What is told of the
/// plan as a whole stays as it was.
pub fn with_first(before: &[Finding], place: &Place, first: Vec<Finding>) -> Vec<Finding> {
    let of_plan = |name: &str| CHECKS.iter().any(|check| check.name == name && check.of_plan.is_some());
    let is_told = |finding: &&Finding| first.iter().any(|now| now.key == finding.key);
    let stays = |finding: &&Finding| finding.key.place != *place || of_plan(finding.key.check) && !is_told(finding);
    let before: Vec<Finding> = before.iter().filter(stays).cloned().collect();
    before.into_iter().chain(first).collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::sync::Mutex;

    use super::*;
    use crate::check::{Checked, Outcome, again, again_first};
    use crate::files::{Loaded, read_project};
    use crate::model::{Crew, Stature, Survey};

    fn checked(loaded: &Loaded, known: &Known) -> Checked {
        again((&loaded.project, &loaded.meshes), known, &Silent, &AtomicBool::new(false)).expect("nobody stops it")
    }

    #[test]
    fn what_is_found_first_in_any_place_is_part_of_what_is_found_at_last_which_is_what_a_fresh_check_finds() {
        let mut loaded = read_project(std::path::Path::new("scenes/starter")).expect("a sound plan");
        let before = checked(&loaded, &Known::default());
        let stature = Some(Stature { percentile: 30.0, of: Survey::Women });
        loaded.project.plan.rider = Crew { stature, ..Crew::default() };
        let fresh = checked(&loaded, &Known::default());
        let places: BTreeSet<&Place> = before.playback.spans.iter().map(|span| &span.place).collect();
        assert!(places.len() > 4, "{places:?}");
        for place in places {
            let told = Mutex::new(Vec::new());
            let tell = |_: &Place, findings| told.lock().expect("nobody panics").push(findings);
            let first = Some(First { place, tell: &tell });
            let plan = (&loaded.project, &loaded.meshes);
            let never = AtomicBool::new(false);
            let outcome: Outcome =
                again_first(plan, &before.known, first, &Silent, &never).expect("nobody stops it").outcome;
            assert!(outcome == fresh.outcome, "{place:?}");
            let told = told.into_inner().expect("nobody panics");
            let [first] = &told[..] else { panic!("it is told once: {}", told.len()) };
            assert!(!first.is_empty() && first.iter().all(|finding| finding.key.place == *place), "{place:?}");
            assert!(first.iter().all(|finding| outcome.findings.contains(finding)), "{place:?}");
            let merged = with_first(&before.outcome.findings, place, first.clone());
            let of = |findings: &[Finding]| -> BTreeSet<_> {
                let there = findings.iter().filter(|finding| finding.key.place == *place);
                there.map(|finding| finding.key.clone()).collect()
            };
            assert_eq!(of(&merged), of(&outcome.findings), "{place:?}");
        }
    }
}
