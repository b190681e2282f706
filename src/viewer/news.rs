//! What is the user told, and for how long?

use std::time::Duration;

use bevy::prelude::*;

use super::session::Session;

/// What needs no answer is told for so long.
const TOLD: Duration = Duration::from_secs(8);

/// Something to be told to the user.
#[derive(Clone, Debug, PartialEq)]
pub struct News {
    pub text: String,
    /// Whether it needs an answer, and which.
    pub choice: Choice,
}

impl News {
    /// Whether it goes away of itself.
    pub fn fades(&self) -> bool {
        self.choice == Choice::None
    }
}

/// Which answers a message offers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Choice {
    /// None: it goes away.
    None,
    /// None, but it stays until it has been read.
    Read,
    /// The file has changed on disk while there are edits.
    DiskOrMine,
    /// Saving failed where the plan is, or it is the built-in one: another folder may take it.
    Elsewhere,
}

/// Takes news away that have been told for long enough.
pub fn fade(time: Res<Time<Real>>, mut session: ResMut<Session>, mut told: Local<(Option<News>, Duration)>) {
    let (known, since) = &mut *told;
    if *known != session.news {
        (*known, *since) = (session.news.clone(), time.elapsed());
    }
    if known.as_ref().is_some_and(News::fades) && time.elapsed() - *since >= TOLD {
        session.news = None;
    }
}

#[cfg(test)]
mod tests {
    use bevy::time::TimeUpdateStrategy;

    use super::*;
    use crate::viewer::testing::Opened;

    #[test]
    fn news_go_away_after_some_seconds_unless_they_are_to_be_read_or_answered() {
        let mut opened = Opened::starter();
        opened.app.add_systems(Update, fade);
        opened.app.insert_resource(TimeUpdateStrategy::ManualDuration(TOLD.mul_f64(0.7)));
        for (choice, stays) in [(Choice::None, false), (Choice::Read, true), (Choice::DiskOrMine, true)] {
            let text = "something".to_owned();
            opened.app.world_mut().resource_mut::<Session>().news = Some(News { text, choice });
            opened.app.update();
            opened.app.update();
            assert!(opened.session().news.is_some(), "it is told at first");
            opened.app.update();
            assert_eq!(opened.session().news.is_some(), stays, "{choice:?}");
        }
    }
}
