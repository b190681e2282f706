//! Which moment of the plan is shown?

use bevy::prelude::*;

use super::session::{Ask, Session, SessionSystems};
use super::theme::Action;

/// Speeds of playing, seconds of the plan for one second.
const SPEEDS: [f64; 9] = [0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];
/// One step forward or back, s.
const STEP: f64 = 0.5;

/// The moment that is shown.
#[derive(Resource, Clone, Copy, Debug, PartialEq)]
pub struct Clock {
    /// Seconds from the beginning of the playback.
    pub at: f64,
    pub playing: bool,
    /// Which of the speeds.
    speed: usize,
}

impl Default for Clock {
    fn default() -> Self {
        Self { at: 0.0, playing: false, speed: 5 }
    }
}

impl Clock {
    /// Seconds of the plan for one second.
    pub fn speed(&self) -> f64 {
        SPEEDS[self.speed]
    }
}

/// Moves the clock.
pub struct ClockPlugin;

impl Plugin for ClockPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Clock>().add_systems(Update, (set, run).chain().after(SessionSystems));
    }
}

fn set(mut asks: MessageReader<Ask>, session: Res<Session>, mut clock: ResMut<Clock>) {
    let Some(checked) = &session.checked else { return };
    let playback = &checked.playback;
    for ask in asks.read() {
        let spans = playback.span_at(clock.at).map(|(number, span)| (number, span.start));
        let start = |number: Option<usize>| number.and_then(|k| playback.spans.get(k)).map(|span| span.start);
        let to = match ask {
            Ask::Jump(to) => Some(*to),
            Ask::Do(Action::PlayOrPause) => {
                clock.playing = !clock.playing;
                (clock.playing && clock.at >= playback.seconds()).then_some(0.0)
            }
            Ask::Do(Action::Back) => Some(clock.at - STEP),
            Ask::Do(Action::Forward) => Some(clock.at + STEP),
            Ask::Do(Action::SpanBefore) => {
                spans.and_then(
                    |(number, began)| {
                        if clock.at > began + STEP { Some(began) } else { start(number.checked_sub(1)) }
                    },
                )
            }
            Ask::Do(Action::SpanAfter) => spans.and_then(|(number, _)| start(Some(number + 1))),
            Ask::Do(Action::Slower) => {
                clock.speed = clock.speed.saturating_sub(1);
                None
            }
            Ask::Do(Action::Faster) => {
                clock.speed = (clock.speed + 1).min(SPEEDS.len() - 1);
                None
            }
            _ => None,
        };
        if let Some(to) = to {
            clock.at = to.clamp(0.0, playback.seconds());
        }
    }
}

fn run(time: Res<Time>, session: Res<Session>, mut clock: ResMut<Clock>) {
    let Some(checked) = session.checked.as_ref().filter(|_| clock.playing) else { return };
    clock.at += time.delta_secs_f64() * clock.speed();
    if clock.at >= checked.playback.seconds() {
        clock.at = checked.playback.seconds();
        clock.playing = false;
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use bevy::time::TimeUpdateStrategy;

    use super::*;
    use crate::viewer::testing::Opened;

    fn starts(opened: &Opened) -> Vec<f64> {
        let checked = opened.session().checked.as_ref().expect("it is checked");
        checked.playback.spans.iter().map(|span| span.start).collect()
    }

    fn end(opened: &Opened) -> f64 {
        opened.session().checked.as_ref().expect("it is checked").playback.seconds()
    }

    #[test]
    fn one_span_after_the_other_is_gone_to_and_back() {
        let mut opened = Opened::starter();
        let starts = starts(&opened);
        assert!(starts.len() >= 5 && starts[0] == 0.0, "{starts:?}");
        for start in &starts[1..] {
            opened.press(Action::SpanAfter);
            assert_eq!(opened.get::<Clock>().at, *start);
        }
        opened.press(Action::SpanAfter);
        assert_eq!(opened.get::<Clock>().at, starts[starts.len() - 1], "there is none after the last");
        for start in starts[..starts.len() - 1].iter().rev() {
            opened.press(Action::SpanBefore);
            assert_eq!(opened.get::<Clock>().at, *start);
        }
        opened.ask(Ask::Jump(starts[1] + 2.0));
        opened.press(Action::SpanBefore);
        assert_eq!(opened.get::<Clock>().at, starts[1], "first to the beginning of the same");
    }

    #[test]
    fn no_jump_leaves_the_plan() {
        let mut opened = Opened::starter();
        let end = end(&opened);
        for (to, at) in [(-3.0, 0.0), (1e9, end), (0.25 * end, 0.25 * end)] {
            opened.ask(Ask::Jump(to));
            assert_eq!(opened.get::<Clock>().at, at);
        }
    }

    #[test]
    fn playing_runs_at_the_chosen_speed_stops_at_the_end_and_begins_anew() {
        let mut opened = Opened::starter();
        let end = end(&opened);
        opened.app.insert_resource(TimeUpdateStrategy::ManualDuration(Duration::from_millis(100)));
        opened.press(Action::PlayOrPause);
        assert!(opened.get::<Clock>().playing);
        let mut speeds = Vec::new();
        for _ in 0..3 {
            let before = *opened.get::<Clock>();
            opened.app.update();
            let gone = opened.get::<Clock>().at - before.at;
            assert!((gone - 0.1 * before.speed()).abs() < 1e-9, "{gone} at {}", before.speed());
            speeds.push(before.speed());
            opened.press(Action::Faster);
        }
        assert!(speeds.windows(2).all(|pair| pair[0] < pair[1]), "{speeds:?}");
        opened.press(Action::PlayOrPause);
        let at = opened.get::<Clock>().at;
        opened.app.update();
        assert_eq!(opened.get::<Clock>().at, at, "a pause");
        opened.press(Action::PlayOrPause);
        for _ in 0..10_000 {
            opened.app.update();
        }
        assert_eq!((opened.get::<Clock>().at, opened.get::<Clock>().playing), (end, false));
        opened.press(Action::PlayOrPause);
        assert!(opened.get::<Clock>().at < 0.1 * end);
    }
}
