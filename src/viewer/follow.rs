//! Is what the moment shows in view?
//!
//! The orbit goes after who is carried or at work, without turning: when another motion or worksite is shown, or a preview,
//! and when they leave what is seen of themselves. Who was turned away from by hand stays out of view until then, and as
//! long as they are seen nothing moves.

use std::sync::Arc;

use bevy::prelude::*;

use crate::check::{Checked, Place, Span};
use crate::mechanism::Posed;
use crate::model::Who;
use crate::space::Point;

use super::bodies::Shown;
use super::cameras::{MainCamera, Standpoint, View, orbit};
use super::handle::Handle;
use super::place::SceneOrigin;
use super::session::Session;

/// In view is what lies within this share of the scene's part of the screen, so that a whole body is.
const INNER: f32 = 0.85;
/// Who is gone after is not looked at from nearer than this, m.
const NEAREST: f32 = 2.5;

/// What was shown in the last frame.
#[derive(Default)]
pub(super) struct Last {
    checked: Option<Arc<Checked>>,
    place: Option<Place>,
    view: Option<View>,
    was_seen: bool,
}

/// Brings who is carried or at work back into view.
pub(super) fn follow(
    (session, shown, origin, handle): (Res<Session>, Res<Shown>, Res<SceneOrigin>, Res<Handle>),
    camera: Single<&Camera, With<MainCamera>>,
    mut view: ResMut<View>,
    mut last: Local<Last>,
) {
    let was_framed = std::mem::take(&mut view.bypass_change_detection().is_framed);
    let Some(((span, posed), checked)) = shown.present(&session).zip(session.checked.as_ref()) else { return };
    let who = who(span, posed);
    let size = camera.logical_viewport_size().unwrap_or(Vec2::new(16.0, 9.0));
    let aspect = size.x / size.y.max(1.0);
    let is_first = last.place.is_none();
    let is_elsewhere = last.place.as_ref() != Some(&span.place);
    let is_checked_anew = !last.checked.as_ref().is_some_and(|last| Arc::ptr_eq(last, checked));
    let is_preview = is_checked_anew && session.preview.is_some() && !session.checking;
    let has_turned = last.view.as_ref() != Some(&view);
    let has_left = last.was_seen && !has_turned;
    let is_free = view.standpoint == Standpoint::Orbit && !is_first && !was_framed && !handle.is_wanted();
    let mut is_seen = is_in_view(&view, *origin, &who, aspect);
    if is_free && !is_seen && (is_elsewhere || is_preview || has_left) {
        view.focus = who;
        view.distance = view.distance.max(NEAREST);
        is_seen = true;
    }
    if is_elsewhere {
        last.place = Some(span.place.clone());
    }
    if is_checked_anew {
        last.checked = Some(Arc::clone(checked));
    }
    if last.view.as_ref() != Some(&view) {
        last.view = Some(view.clone());
    }
    last.was_seen = is_seen;
}

/// The middle of who is carried or at work; the arm's tip where nobody is on it.
fn who(span: &Span, posed: &Posed) -> Point {
    let at = |link| Point::from(posed.link(link).translation.vector);
    let tip = at(span.assembly().arm.tip);
    let eye = span.assembly().body_links(span.who).map(|links| at(links.eye));
    match (span.who, eye) {
        (Who::Rider, Some(eye)) => nalgebra::center(&tip, &eye),
        (Who::SecondCrew, Some(eye)) => eye,
        (_, None) => tip,
    }
}

/// Whether a place is seen well within a part of the screen that is so many times as wide as high.
fn is_in_view(view: &View, origin: SceneOrigin, at: &Point, aspect: f32) -> bool {
    let (from, field) = orbit(view, origin);
    let seen = from.compute_affine().inverse().transform_point3(origin.point(at));
    let half = INNER * (0.5 * field).tan() * -seen.z;
    seen.z < 0.0 && seen.y.abs() <= half && seen.x.abs() <= half * aspect
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::PlanEdit;
    use crate::space::Vector;
    use crate::viewer::bodies::{BodiesPlugin, BodiesSystems};
    use crate::viewer::clock::Clock;
    use crate::viewer::session::Ask;
    use crate::viewer::testing::{Opened, elbow};

    fn opened() -> Opened {
        let mut opened = Opened::starter();
        opened.app.init_resource::<Assets<Mesh>>().init_resource::<Assets<StandardMaterial>>();
        opened.app.add_plugins(BodiesPlugin).init_resource::<View>().init_resource::<Handle>();
        opened.app.world_mut().spawn((MainCamera, Camera::default()));
        opened.app.add_systems(Update, follow.after(BodiesSystems));
        opened.app.update();
        opened
    }

    fn view(opened: &mut Opened) -> Mut<'_, View> {
        opened.app.world_mut().resource_mut::<View>()
    }

    fn who_is_shown(opened: &Opened) -> Point {
        let (span, posed) = opened.get::<Shown>().present(opened.session()).expect("something is shown");
        who(span, posed)
    }

    fn is_seen(opened: &Opened) -> bool {
        is_in_view(opened.get::<View>(), *opened.get::<SceneOrigin>(), &who_is_shown(opened), 16.0 / 9.0)
    }

    /// Spans that begin somewhere else than the one before.
    fn starts(opened: &Opened) -> Vec<f64> {
        let spans = &opened.session().checked.as_ref().expect("it is checked").playback.spans;
        let elsewhere = spans.windows(2).filter(|pair| pair[0].place != pair[1].place);
        elsewhere.map(|pair| pair[1].start + 0.5 * pair[1].seconds).collect()
    }

    #[test]
    fn another_place_that_is_out_of_view_is_brought_in_without_turning() {
        let mut opened = opened();
        let starts = starts(&opened);
        assert!(starts.len() >= 4, "{starts:?}");
        for (number, start) in starts.into_iter().enumerate() {
            view(&mut opened).focus += Vector::new(0.0, 0.0, if number % 2 == 0 { 80.0 } else { -80.0 });
            opened.app.update();
            let before = opened.get::<View>().clone();
            assert!(!is_seen(&opened), "turned away from by hand");
            opened.ask(Ask::Jump(start));
            let after = opened.get::<View>().clone();
            assert!(is_seen(&opened), "{after:?}");
            assert_eq!(after.focus, who_is_shown(&opened));
            assert_eq!((after.yaw, after.height, after.distance), (before.yaw, before.height, before.distance));
        }
    }

    #[test]
    fn as_long_as_who_is_shown_is_seen_nothing_moves() {
        let mut opened = opened();
        view(&mut opened).distance = 60.0;
        opened.app.update();
        let before = opened.get::<View>().clone();
        let end = opened.session().checked.as_ref().expect("it is checked").playback.seconds();
        for share in 0..60 {
            opened.ask(Ask::Jump(f64::from((share * 37) % 60) / 60.0 * end));
            assert!(is_seen(&opened));
            assert_eq!(*opened.get::<View>(), before);
        }
    }

    #[test]
    fn who_leaves_is_gone_after_and_who_was_turned_away_from_is_not() {
        let mut opened = opened();
        let checked = opened.session().checked.clone().expect("it is checked");
        let way = |span: &Span| {
            let at = |seconds: f64| who(span, &span.mechanism().pose(&span.joints(seconds)));
            (at(span.seconds) - at(0.0)).norm()
        };
        let farthest = checked.playback.spans.iter().max_by(|a, b| way(a).total_cmp(&way(b)));
        let span = farthest.filter(|span| way(span) > 1.0).expect("a motion that leads elsewhere");
        opened.ask(Ask::Jump(span.start + 1e-3));
        let (from, distance) = (who_is_shown(&opened), 0.5);
        let moments = || (1..100).map(|share| span.start + f64::from(share) / 100.0 * span.seconds);
        for (off, follows) in [(Vector::zeros(), true), (Vector::new(0.0, 0.0, 30.0), false)] {
            opened.ask(Ask::Jump(span.start + 1e-3));
            let mut looking = view(&mut opened);
            (looking.focus, looking.distance) = (from + off, distance);
            opened.app.update();
            let mut moved = 0;
            for moment in moments() {
                let before = opened.get::<View>().focus;
                opened.ask(Ask::Jump(moment));
                moved += usize::from(opened.get::<View>().focus != before);
                assert_eq!(is_seen(&opened), follows, "at {}", opened.get::<Clock>().at);
            }
            assert_eq!(moved > 0, follows, "{moved}");
        }
    }

    #[test]
    fn what_was_framed_is_not_left_for_who_is_at_work() {
        let mut opened = opened();
        let far = Point::new(500.0, 0.0, 0.0);
        for start in starts(&opened) {
            view(&mut opened).frame((far, 6.0));
            opened.ask(Ask::Jump(start));
            assert_eq!(opened.get::<View>().focus, far);
        }
    }

    #[test]
    fn what_a_preview_changes_is_brought_into_view_though_the_moment_stays() {
        let mut opened = opened();
        let checked = opened.session().checked.clone().expect("it is checked");
        let there = checked.playback.spans.iter().find(|span| span.place.name() == "far-panel").expect("a worksite");
        opened.ask(Ask::Jump(there.start + 0.5 * there.seconds));
        view(&mut opened).focus += Vector::new(0.0, 0.0, 80.0);
        opened.app.update();
        let show = |opened: &mut Opened, edits: &[PlanEdit]| {
            opened.app.world_mut().resource_scope(|world, mut session: Mut<Session>| {
                let mut engine = world.resource_mut::<crate::viewer::engine::Engine>();
                assert!(session.show(edits, &mut engine));
            });
            opened.until("the preview is checked", |session| !session.checking);
            opened.app.update();
        };
        assert!(!is_seen(&opened));
        show(&mut opened, &[elbow(82.5)]);
        assert!(is_seen(&opened));
    }
}
