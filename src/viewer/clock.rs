//! Which moment of the plan is shown?

use std::sync::Arc;

use bevy::prelude::*;

use crate::check::{Checked, Playback};

use super::session::{Ask, Session, SessionSystems};
use super::theme::Action;

/// Speeds of playing, seconds of the plan for one second.
const SPEEDS: [f64; 9] = [0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];
/// One step forward or back, s.
const STEP: f64 = 0.5;
/// A moment that stays within its span is at least so long before its end, s.
const BEFORE_END: f64 = 1e-6;

/// The moment that is shown.
#[derive(Resource, Clone, Copy, Debug, PartialEq)]
pub struct Clock {
    /// Seconds from the beginning of the playback.
    pub at: f64,
    pub playing: bool,
    /// Which of the speeds.
    speed: usize,
    /// While it plays: how long a picture stays before the next one comes, s, over the last few.
    pub pace: Option<f64>,
}

impl Default for Clock {
    fn default() -> Self {
        Self { at: 0.0, playing: false, speed: 5, pace: None }
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

/// When the clock is moved, within a frame.
#[derive(SystemSet, Debug, Clone, PartialEq, Eq, Hash)]
pub struct ClockSystems;

impl Plugin for ClockPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Clock>()
            .add_systems(Update, (stay, set, run).chain().in_set(ClockSystems).after(SessionSystems));
    }
}

/// An edit may change how long motions take: what is shown stays, not its number of seconds.
fn stay(session: Res<Session>, mut last: Local<Option<Arc<Checked>>>, mut clock: ResMut<Clock>) {
    let Some(now) = &session.checked else { return };
    if last.as_ref().is_some_and(|last| Arc::ptr_eq(last, now)) {
        return;
    }
    if let Some(before) = last.replace(Arc::clone(now)) {
        let at = again(&before.playback, &now.playback, clock.at);
        clock.set_if_neq(Clock { at, ..*clock });
    }
}

/// When a moment of one playback is in another: in the same span and, of a motion with as many segments as before, as far
/// along the same segment (in a posture that is held: for as long), else after the same share of its time. A span that is gone leaves the seconds as they are.
fn again(before: &Playback, now: &Playback, at: f64) -> f64 {
    let Some((number, was)) = before.span_at(at).filter(|_| at < before.seconds()) else { return now.seconds() };
    let same = |playback: &Playback| {
        let spans = playback.spans.iter().enumerate();
        let same = spans.filter(|(_, is)| (&is.place, is.who, &is.subject) == (&was.place, was.who, &was.subject));
        same.map(|(number, _)| number).collect::<Vec<_>>()
    };
    let visit = same(before).iter().position(|same| *same == number);
    let Some(is) = visit.and_then(|visit| now.spans.get(*same(now).get(visit)?)) else {
        return at.min(now.seconds());
    };
    let gone = at - was.start;
    let within = match was.at(gone).filter(|_| was.segments().len() == is.segments().len()) {
        Some(at) => is.seconds_at(at) + (gone - was.seconds_at(at)),
        None => is.seconds * (gone / was.seconds),
    };
    is.start + within.clamp(0.0, (is.seconds - BEFORE_END).max(0.0))
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

/// Plays by the time that really passes, however slowly pictures come.
fn run(time: Res<Time<Real>>, session: Res<Session>, mut clock: ResMut<Clock>, mut was_playing: Local<bool>) {
    // The frame in which playing begins may have been waited for since long ago.
    let goes_on = std::mem::replace(&mut *was_playing, clock.playing) && clock.playing;
    let Some(checked) = session.checked.as_ref().filter(|_| goes_on) else {
        if clock.pace.is_some() {
            clock.pace = None;
        }
        return;
    };
    let passed = time.delta_secs_f64();
    clock.at += passed * clock.speed();
    clock.pace = Some(clock.pace.map_or(passed, |pace| pace + 0.2 * (passed - pace)));
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
    use crate::viewer::testing::{Opened, elbow};

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
    fn an_edit_that_makes_motions_longer_stays_at_the_moment_that_is_shown() {
        let mut opened = Opened::starter();
        let checked = opened.session().checked.clone().expect("it is checked");
        let late = checked.playback.spans.iter().rev().find(|span| span.segments().len() == 1);
        let late = late.expect("a motion that is straight");
        opened.ask(Ask::Jump(late.start + 0.4 * late.seconds));
        let fraction = late.at(0.4 * late.seconds).expect("a motion").fraction;
        opened.change(Ask::Edit(elbow(70.0)));
        opened.app.update();
        let now = opened.session().checked.clone().expect("it is checked");
        assert!((now.playback.seconds() - checked.playback.seconds()).abs() > 0.1, "the edit changes times");
        let at = opened.get::<Clock>().at;
        let (_, span) = now.playback.span_at(at).expect("a span");
        assert_eq!(span.place, late.place);
        let there = span.at(at - span.start).expect("a motion").fraction;
        assert!((there - fraction).abs() < 1e-9, "{there}, was {fraction}");
        opened.ask(Ask::Jump(1e9));
        opened.press(Action::Undo);
        opened.until("it is checked", |session| !session.checking);
        opened.app.update();
        assert_eq!(opened.get::<Clock>().at, checked.playback.seconds(), "the end stays the end");
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
    fn it_plays_by_the_time_that_passes_however_slow_the_frames_but_not_by_that_before_it_began() {
        let mut opened = Opened::starter();
        let wait = |opened: &mut Opened, seconds: f64| {
            let step = TimeUpdateStrategy::ManualDuration(Duration::from_secs_f64(seconds));
            opened.app.insert_resource(step);
        };
        wait(&mut opened, 3000.0);
        opened.press(Action::PlayOrPause);
        assert_eq!((opened.get::<Clock>().at, opened.get::<Clock>().pace), (0.0, None));
        let mut at = 0.0;
        for seconds in [0.02, 0.3, 1.5] {
            wait(&mut opened, seconds);
            opened.app.update();
            at += seconds * opened.get::<Clock>().speed();
            assert!((opened.get::<Clock>().at - at).abs() < 1e-9, "{} of {at}", opened.get::<Clock>().at);
        }
        let pace = opened.get::<Clock>().pace.expect("it plays");
        assert!(pace > 0.02 && pace < 1.5, "{pace}");
        opened.press(Action::PlayOrPause);
        opened.app.update();
        assert_eq!(opened.get::<Clock>().pace, None);
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
