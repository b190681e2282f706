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
