//! At which moments does everything stand still, so that it must be clear of everything else as it stands?
//!
//! One for each stay, and one wherever somebody got in, took hold of a payload or put one down. A moment that was told
//! already, for the same crewmember and under no more contacts, is not told again.

use std::sync::Arc;

use crate::model::{Contact, Who};

use super::moment::{Carried, Moment};

/// A crewmember and all that carries them, at rest at a worksite.
#[derive(Clone, Debug, PartialEq)]
pub struct Rest {
    pub step: String,
    pub worksite: String,
    /// Whose restraint, body, payload and arm are asked about.
    pub who: Who,
    pub moment: Moment,
    /// The payload that was put into its seat just now (its number in the plan): it is asked about, too.
    pub placed: Option<usize>,
}

impl Rest {
    /// The payload in the rider's hands.
    pub fn carried(&self) -> Option<usize> {
        self.moment.payloads.iter().position(|payload| matches!(payload, Carried::InHands { .. }))
    }

    /// Whether the other says all that this one could: the same at rest, under no more contacts.
    fn is_told_by(&self, other: &Self, contacts: &[Contact]) -> bool {
        let same = self.who == other.who && self.moment == other.moment && self.placed == other.placed;
        let holds = |contact: &Contact, step: &String| contact.steps.contains(step);
        same && contacts.iter().all(|contact| holds(contact, &self.step) || !holds(contact, &other.step))
    }
}

/// Adds a rest, unless one that is there tells it; of two that tell each other, the later one stays.
pub(super) fn add(rests: &mut Vec<Arc<Rest>>, rest: Rest, contacts: &[Contact]) {
    let Some(known) = rests.iter_mut().find(|known| rest.is_told_by(known, contacts)) else {
        return rests.push(Arc::new(rest));
    };
    if known.is_told_by(&rest, contacts) {
        *known = Arc::new(rest);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Deed, Step};
    use crate::state::testing::with_edited;
    use crate::state::walk;

    fn told(contact: Option<[&str; 1]>, edit: impl Fn(&mut Vec<Step>)) -> Vec<(String, Who)> {
        let mut told = Vec::new();
        let edited = |project: &mut crate::model::Project| {
            project.plan.contact.extend(contact.map(|steps| Contact {
                a: "arm/".to_owned(),
                b: "near-panel".to_owned(),
                steps: steps.map(str::to_owned).to_vec(),
                within_m: 0.0,
                overlap_m: 0.0,
                source: None,
            }));
            edit(&mut project.plan.step);
        };
        with_edited(edited, |scene| {
            told = walk(scene).rests.into_iter().map(|rest| (rest.step.clone(), rest.who)).collect();
        });
        told
    }

    fn of(step: &str) -> (String, Who) {
        (step.to_owned(), Who::Rider)
    }

    #[test]
    fn each_moment_is_told_once_as_the_stay_that_it_is() {
        assert_eq!(told(None, |_| ()), [of("step-2"), of("step-4")]);
    }

    #[test]
    fn getting_in_is_told_where_nothing_is_done_after_it() {
        assert_eq!(told(None, |steps| steps.retain(|step| step.deed == Deed::Ingress)), [of("step-1")]);
    }

    #[test]
    fn a_contact_that_holds_in_the_work_alone_excuses_nobody_who_gets_in() {
        assert_eq!(told(Some(["step-2"]), |_| ()), [of("step-1"), of("step-4")]);
        assert_eq!(told(Some(["step-1"]), |_| ()), [of("step-1"), of("step-2"), of("step-4")]);
    }
}
