//! How do the findings that are shown stand beside those before the last change?
//!
//! Compared once for each check, since the panels ask in every frame.

use std::sync::Arc;

use bevy::prelude::*;

use crate::check::{Checked, Finding};

use super::difference::Before;
use super::effect::{Effect, Turn};
use super::session::Session;

/// What is shown now, compared with what was found before.
#[derive(Resource, Default)]
pub struct Compared {
    /// Before, and now; none where nothing was changed yet.
    of: Option<(Arc<Checked>, Arc<Checked>)>,
    /// By the number of a finding now.
    was: Vec<Option<String>>,
    /// How much is better and worse, in a few words each.
    pub counts: Vec<(Turn, String)>,
}

impl Compared {
    /// How a finding was before, by its number now, in words; none of what is as it was.
    pub fn was(&self, number: usize) -> Option<&str> {
        self.was.get(number)?.as_deref()
    }

    /// The same of a finding among those that are shown now.
    pub fn was_of(&self, finding: &Finding) -> Option<&str> {
        let (_, now) = self.of.as_ref()?;
        self.was(now.outcome.findings.iter().position(|other| std::ptr::eq(other, finding))?)
    }

    fn new(before: Arc<Checked>, now: Arc<Checked>) -> Self {
        let compared = Before::new(&before.outcome.findings);
        let was = now.outcome.findings.iter().map(|finding| compared.words(finding)).collect();
        let counts = Effect::beside(&compared, &now.outcome.findings).counts();
        Self { was, counts, of: Some((before, now)) }
    }
}

/// Compares anew where there is something else to be compared.
pub fn compare(session: Res<Session>, mut compared: ResMut<Compared>) {
    let is_known = match (&compared.of, &session.before, &session.checked) {
        (Some((before, now)), Some(other), Some(shown)) => Arc::ptr_eq(before, other) && Arc::ptr_eq(now, shown),
        (None, Some(_), Some(_)) | (Some(_), _, _) => false,
        (None, _, _) => true,
    };
    if !is_known {
        let both = session.before.clone().zip(session.checked.clone());
        *compared = both.map_or_else(Compared::default, |(before, now)| Compared::new(before, now));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::session::Ask;
    use crate::viewer::testing::{Opened, clearance};

    #[test]
    fn what_is_told_is_of_the_last_change_and_is_found_out_once() {
        let mut opened = Opened::starter();
        opened.app.init_resource::<Compared>().add_systems(PostUpdate, compare);
        opened.app.update();
        assert!(opened.get::<Compared>().of.is_none(), "nothing was changed");
        for at_least in [0.7, 0.21] {
            let before = opened.session().findings().to_vec();
            opened.change(Ask::Edit(clearance(at_least)));
            let now = opened.session().findings();
            let fresh = Before::new(&before);
            let compared = opened.get::<Compared>();
            assert_eq!(compared.counts, Effect::new(&before, now).counts());
            assert!(!compared.counts.is_empty(), "{at_least}");
            for (number, finding) in now.iter().enumerate() {
                assert_eq!(compared.was(number).map(str::to_owned), fresh.words(finding), "{:?}", finding.key);
                assert_eq!(compared.was_of(finding), compared.was(number));
            }
        }
        opened.app.world_mut().clear_trackers();
        opened.app.update();
        let compared = opened.app.world().resource_ref::<Compared>();
        assert!(!compared.is_changed(), "nothing new is to be compared");
    }
}
