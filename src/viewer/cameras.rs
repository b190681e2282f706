//! From where is the scene looked at?
//!
//! Orbit about what is chosen, through a visor, from a worksite, or from a camera that the plan places on the structure.
//! A pair that is framed is looked at from a side from which it is seen.

use std::f32::consts::FRAC_PI_2;

use bevy::input::mouse::{AccumulatedMouseMotion, AccumulatedMouseScroll};
use bevy::prelude::*;
use bevy_egui::input::egui_wants_any_keyboard_input;

use crate::check::{Finding, Place, Span, Vantage};
use crate::mechanism::Posed;
use crate::model::{BodyClass, Project, Who};
use crate::space::{Direction, Point, Vector, pose};

use super::bodies::{BodiesSystems, MovingBody, Shown};
use super::change::Changing;
use super::chosen::Chosen;
use super::follow::follow;
use super::handle::{Handle, HandleSystems};
use super::pick::Picked;
use super::place::SceneOrigin;
use super::pointer::Pointer;
use super::session::{Ask, Session};
use super::theme::Action;

/// Field of view of cameras that say nothing else, from top to bottom, rad.
const FIELD: f32 = 0.8;

/// So far away is a finding, or the tip, looked at, m.
const AWAY: f64 = 6.0;

/// Where the camera stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Standpoint {
    /// Circles what it looks at.
    #[default]
    Orbit,
    /// Looks out of a helmet.
    Visor(Who),
    /// Stands back from a worksite, on the side from which the rider comes in; its number in the plan.
    Worksite(usize),
    /// A camera of the plan; its number there.
    OfPlan(usize),
}

/// The camera that the user moves.
#[derive(Resource, Clone, Debug, PartialEq)]
pub struct View {
    pub standpoint: Standpoint,
    /// What the orbit circles, in the structure's frame.
    pub focus: Point,
    /// Turn about the vertical, rad; 0 looks along x.
    pub yaw: f32,
    /// Angle above the horizon, rad.
    pub height: f32,
    /// Distance from the focus, m.
    pub distance: f32,
    /// Whether the first framing is done.
    placed: bool,
    /// Whether something was framed in this frame, which is not left for who is at work.
    pub(super) is_framed: bool,
}

impl Default for View {
    fn default() -> Self {
        let focus = Point::origin();
        let standpoint = Standpoint::Orbit;
        Self { standpoint, focus, yaw: 2.3, height: 0.45, distance: 20.0, placed: false, is_framed: false }
    }
}

impl View {
    /// From the focus to the eye of the orbit.
    fn side(&self) -> Direction {
        let (sin, cos) = f64::from(self.yaw).sin_cos();
        let (up, level) = f64::from(self.height).sin_cos();
        Direction::new_normalize(Vector::new(-cos * level, -sin * level, up))
    }

    /// Circles a place from now on, so far away (m), on the side on which it is.
    pub(super) fn frame(&mut self, (focus, distance): (Point, f64)) {
        self.standpoint = Standpoint::Orbit;
        self.focus = focus;
        self.distance = distance as f32;
        self.is_framed = true;
    }

    /// Circles a pair from now on, on the side from which it is seen.
    fn frame_pair(&mut self, vantage: &Vantage) {
        self.frame((vantage.middle, vantage.away));
        self.height = vantage.side.z.asin() as f32;
        self.yaw = (-vantage.side.y).atan2(-vantage.side.x) as f32;
        turn(self, Vec2::ZERO);
    }
}

/// The camera through which the scene is seen.
#[derive(Component)]
pub struct MainCamera;

/// Moves the camera.
pub struct CamerasPlugin;

/// When the camera is placed, within a frame.
#[derive(SystemSet, Debug, Clone, PartialEq, Eq, Hash)]
pub struct CamerasSystems;

impl Plugin for CamerasPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<View>().add_systems(
            Update,
            (
                first_framing,
                choose_standpoint,
                orbit_by_pointer,
                orbit_by_keys.run_if(not(egui_wants_any_keyboard_input)),
                follow,
                place_camera,
            )
                .chain()
                .in_set(CamerasSystems)
                .after(BodiesSystems)
                .after(HandleSystems),
        );
    }
}

fn first_framing(shown: Res<Shown>, mut view: ResMut<View>) {
    if !view.placed && shown.span.is_some() {
        let (middle, half) = shown.extent;
        view.focus = middle;
        view.distance = (half as f32 * 1.6).max(4.0);
        view.placed = true;
    }
}

fn choose_standpoint(
    mut asks: MessageReader<Ask>,
    session: Res<Session>,
    (shown, picked): (Res<Shown>, Res<Picked>),
    (mut chosen, mut changing): (ResMut<Chosen>, ResMut<Changing>),
    mut view: ResMut<View>,
) {
    let project = session.loaded.as_ref().map(|loaded| &loaded.project);
    let frame = std::mem::take(&mut chosen.bypass_change_detection().to_be_framed);
    let seen = std::mem::take(&mut changing.bypass_change_detection().to_be_seen);
    let mut asked = false;
    let here = || {
        let (span, plan) = (shown.present(&session)?.0, &project?.plan);
        let id = match &span.place {
            Place::Worksite { worksite, .. } => worksite,
            _ => plan.step[plan.step_number(&span.motion()?.moved.step)?].to.as_ref()?,
        };
        plan.worksite.iter().position(|site| site.id == *id)
    };
    for ask in asks.read() {
        let Ask::Do(action) = ask else { continue };
        let worksites = project.map_or(0, |project| project.plan.worksite.len());
        let cameras = project.map_or(0, |project| project.plan.camera.len());
        match action {
            Action::Orbit => view.standpoint = Standpoint::Orbit,
            Action::Visor => {
                view.standpoint = match view.standpoint {
                    Standpoint::Visor(Who::Rider) => Standpoint::Visor(Who::SecondCrew),
                    _ => Standpoint::Visor(Who::Rider),
                }
            }
            Action::Worksite if worksites > 0 => {
                view.standpoint = match view.standpoint {
                    Standpoint::Worksite(number) => Standpoint::Worksite((number + 1) % worksites),
                    _ => Standpoint::Worksite(here().unwrap_or(0)),
                }
            }
            Action::PlanCamera if cameras > 0 => {
                view.standpoint = match view.standpoint {
                    Standpoint::OfPlan(number) => Standpoint::OfPlan((number + 1) % cameras),
                    _ => Standpoint::OfPlan(0),
                }
            }
            Action::Frame => asked = true,
            _ => {}
        }
    }
    let finding = || chosen.finding(&session)?.at.as_ref()?.points.map(|[a, b]| (nalgebra::center(&a, &b), AWAY));
    let pair = |side: &Direction| vantage(&session, chosen.finding(&session)?, side);
    let tip = || {
        let (span, posed) = shown.present(&session)?;
        Some((Point::from(posed.link(span.assembly().arm.tip).translation.vector), AWAY))
    };
    let body = || picked.ball(&session, &shown).map(|(middle, radius)| (middle, (3.0 * radius).max(1.0)));
    let changed = || changing.configuration.as_ref().and_then(|_| tip());
    let side = view.side();
    let of_pair = match (asked, frame) {
        (true, _) if body().is_none() && changed().is_none() => pair(&side),
        (false, true) => pair(&side),
        _ => None,
    };
    let to = if asked {
        body().or_else(changed).or_else(finding).or_else(tip)
    } else if frame {
        finding().or_else(tip)
    } else if seen && view.standpoint == Standpoint::Orbit {
        tip().map(|(tip, _)| (tip, f64::from(view.distance)))
    } else {
        None
    };
    match (of_pair, to) {
        (Some(vantage), _) => view.frame_pair(&vantage),
        (None, Some(to)) => view.frame(to),
        (None, None) => {}
    }
}

/// From where the pair of a finding is seen, at the moment at which it was found.
fn vantage(session: &Session, finding: &Finding, side: &Direction) -> Option<Vantage> {
    let [a, b] = finding.pair.as_ref()?.bodies.as_ref()?;
    let playback = &session.checked.as_ref()?.playback;
    let (number, at) = playback.moment_of(finding)?;
    let span = playback.spans.get(number)?;
    let posed = span.mechanism().pose(&span.joints(at - span.start));
    span.vantage(&posed, [a, b], (side, AWAY))
}

fn orbit_by_pointer(
    buttons: Res<ButtonInput<MouseButton>>,
    keys: Res<ButtonInput<KeyCode>>,
    (motion, scroll): (Res<AccumulatedMouseMotion>, Res<AccumulatedMouseScroll>),
    (pointer, handle): (Pointer, Res<Handle>),
    mut began_here: Local<bool>,
    mut view: ResMut<View>,
) {
    let is_here = pointer.over_scene().is_some();
    if buttons.get_just_pressed().next().is_some() {
        *began_here = is_here && !handle.is_wanted();
    }
    if view.standpoint != Standpoint::Orbit {
        return;
    }
    let shift = keys.any_pressed([KeyCode::ShiftLeft, KeyCode::ShiftRight]);
    let moved = motion.delta;
    if !*began_here {
        // A drag that began on a panel or on the handle is theirs, wherever it goes.
    } else if buttons.any_pressed([MouseButton::Right, MouseButton::Middle])
        || shift && buttons.pressed(MouseButton::Left)
    {
        pan(&mut view, moved);
    } else if buttons.pressed(MouseButton::Left) {
        turn(&mut view, moved * 0.006);
    }
    if is_here && scroll.delta.y != 0.0 {
        let lines = match scroll.unit {
            bevy::input::mouse::MouseScrollUnit::Line => scroll.delta.y,
            bevy::input::mouse::MouseScrollUnit::Pixel => scroll.delta.y / 40.0,
        };
        zoom(&mut view, lines * 0.12);
    }
}

fn orbit_by_keys(time: Res<Time>, keys: Res<ButtonInput<KeyCode>>, mut view: ResMut<View>) {
    if keys.any_pressed([KeyCode::ControlLeft, KeyCode::ControlRight]) || view.standpoint != Standpoint::Orbit {
        return;
    }
    let axis = |more: KeyCode, less: KeyCode| f32::from(i8::from(keys.pressed(more)) - i8::from(keys.pressed(less)));
    let by = Vec2::new(axis(KeyCode::KeyA, KeyCode::KeyD), axis(KeyCode::KeyW, KeyCode::KeyS));
    let closer = axis(KeyCode::KeyE, KeyCode::KeyQ);
    if by != Vec2::ZERO {
        if keys.any_pressed([KeyCode::ShiftLeft, KeyCode::ShiftRight]) {
            pan(&mut view, by * time.delta_secs() * 300.0);
        } else {
            turn(&mut view, by * time.delta_secs() * 1.2);
        }
    }
    if closer != 0.0 {
        zoom(&mut view, closer * time.delta_secs());
    }
}

fn turn(view: &mut View, by: Vec2) {
    view.yaw -= by.x;
    view.height = (view.height + by.y).clamp(-FRAC_PI_2 + 0.02, FRAC_PI_2 - 0.02);
}

fn pan(view: &mut View, by: Vec2) {
    let (sin, cos) = f64::from(view.yaw).sin_cos();
    let (right, up) = (Vector::new(sin, -cos, 0.0), Vector::z());
    let step = f64::from(view.distance) * 0.0014;
    view.focus += (right * f64::from(-by.x) + up * f64::from(by.y)) * step;
}

fn zoom(view: &mut View, by: f32) {
    view.distance = (view.distance * (-by).exp()).clamp(0.2, 400.0);
}

fn place_camera(
    session: Res<Session>,
    shown: Res<Shown>,
    (view, origin): (Res<View>, Res<SceneOrigin>),
    camera: Single<(&mut Transform, &mut Projection), With<MainCamera>>,
    mut heads: Query<(&MovingBody, &mut Visibility)>,
) {
    let (mut transform, mut projection) = camera.into_inner();
    let project = session.loaded.as_ref().map(|loaded| &loaded.project);
    let span = session.checked.as_ref().and_then(|checked| checked.playback.spans.get(shown.span?));
    let seen = sight(&view, project, span.zip(shown.posed.as_ref()), *origin).unwrap_or_else(|| orbit(&view, *origin));
    if *transform != seen.0 {
        *transform = seen.0;
    }
    if let Projection::Perspective(perspective) = &mut *projection
        && perspective.fov != seen.1
    {
        perspective.fov = seen.1;
    }
    for (body, mut visible) in &mut heads {
        let own_head = match &view.standpoint {
            Standpoint::Visor(who) => body.class == class_of(*who) && is_head(&body.name),
            _ => false,
        };
        visible.set_if_neq(if own_head { Visibility::Hidden } else { Visibility::Inherited });
    }
}

fn class_of(who: Who) -> BodyClass {
    match who {
        Who::Rider => BodyClass::Rider,
        Who::SecondCrew => BodyClass::SecondCrew,
    }
}

fn is_head(name: &str) -> bool {
    ["head", "helmet", "neck"].iter().any(|part| name.ends_with(part))
}

/// Where a standpoint is and how wide it sees, from top to bottom (rad); none where it isn't there at this moment.
fn sight(
    view: &View,
    project: Option<&Project>,
    span: Option<(&Span, &Posed)>,
    origin: SceneOrigin,
) -> Option<(Transform, f32)> {
    match view.standpoint {
        Standpoint::Orbit => None,
        Standpoint::Visor(who) => {
            let (span, posed) = span?;
            let links = span.assembly().body_links(who)?;
            let eye = origin.transform(posed.link(links.eye));
            let (ahead, up) = (eye.rotation * Vec3::X, eye.rotation * Vec3::Z);
            let field = (links.view.up + links.view.down) as f32;
            Some((Transform::from_translation(eye.translation).looking_to(ahead, up), field.clamp(0.3, 2.4)))
        }
        Standpoint::Worksite(number) => {
            let site = project?.plan.worksite.get(number)?;
            let targets = site.target.iter().map(|target| Vector::from(target.at_m));
            let count = site.target.len().max(1) as f64;
            let middle = if site.target.is_empty() {
                let (span, posed) = span?;
                Point::from(posed.link(span.assembly().arm.tip).translation.vector)
            } else {
                Point::from(targets.sum::<Vector>() / count)
            };
            let back = Vector::from(site.approach).try_normalize(0.0)?;
            let aside = back.cross(&Vector::z()).try_normalize(1e-6).unwrap_or_else(Vector::x);
            let from = middle - back * 3.0 + aside * 2.2 + Vector::z() * 1.4;
            let to = origin.point(&middle);
            Some((Transform::from_translation(origin.point(&from)).looking_at(to, Vec3::Z), FIELD))
        }
        Standpoint::OfPlan(number) => {
            let camera = project?.plan.camera.get(number)?;
            let stands = origin.transform(&pose(&camera.place));
            let (ahead, up) = (stands.rotation * Vec3::X, stands.rotation * Vec3::Z);
            Some((Transform::from_translation(stands.translation).looking_to(ahead, up), camera.field.radians() as f32))
        }
    }
}

pub(super) fn orbit(view: &View, origin: SceneOrigin) -> (Transform, f32) {
    let focus = origin.point(&view.focus);
    let (sin, cos) = view.yaw.sin_cos();
    let level = view.height.cos();
    let back = Vec3::new(-cos * level, -sin * level, view.height.sin());
    (Transform::from_translation(focus + back * view.distance).looking_at(focus, Vec3::Z), FIELD)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_orbit_never_turns_over_and_always_looks_at_its_middle() {
        let mut view = View { focus: Point::new(3.0, -2.0, 1.0), ..View::default() };
        for (times, by) in [(200, 0.05), (400, -0.05), (3, 40.0), (3, -40.0)] {
            for _ in 0..times {
                turn(&mut view, Vec2::new(0.3, by));
                let (seen, _) = orbit(&view, SceneOrigin::default());
                assert!(seen.up().z > 0.0, "upside down at {}", view.height);
                let middle = seen.translation + *seen.forward() * view.distance;
                assert!(middle.distance(Vec3::new(3.0, -2.0, 1.0)) < 1e-3, "{middle}");
            }
        }
    }

    #[test]
    fn a_pair_is_framed_from_the_side_that_was_found() {
        let mut view = View::default();
        for side in [[0.3, -0.8, 0.5], [-0.9, 0.1, -0.4], [0.0, 1.0, 0.0]] {
            let side = Direction::new_normalize(Vector::from(side));
            view.frame_pair(&Vantage { middle: Point::new(1.0, 2.0, 3.0), side, away: 3.0, is_seen: true });
            assert!(view.side().dot(&side) > 1.0 - 1e-6, "{side:?} became {:?}", view.side());
            let (seen, _) = orbit(&view, SceneOrigin::default());
            let from = Vec3::new(1.0, 2.0, 3.0) + 3.0 * Vec3::new(side.x as f32, side.y as f32, side.z as f32);
            assert!(seen.translation.distance(from) < 1e-4, "{seen:?}");
        }
    }

    #[test]
    fn nearer_and_farther_ends_somewhere() {
        let mut view = View::default();
        let mut after = |by| {
            (0..1000).for_each(|_| zoom(&mut view, by));
            view.distance
        };
        assert_eq!((after(0.1), after(-0.1)), (0.2, 400.0));
    }

    #[test]
    fn dragging_moves_the_middle_across_what_is_seen() {
        let mut view = View { height: 0.0, ..View::default() };
        let right = orbit(&view, SceneOrigin::default()).0.right();
        pan(&mut view, Vec2::new(10.0, 0.0));
        let moved = SceneOrigin::default().point(&view.focus);
        assert!(moved.length() > 0.01 && moved.normalize().dot(*right) < -0.999, "{moved}");
    }
}
