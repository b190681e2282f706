//! How is the arm's tip dragged?
//!
//! While a configuration is being changed, a handle stands at its tip: a ball that follows the pointer across what is seen,
//! and three arrows along which it does. The arm follows at once, by inverse kinematics; letting go sends one edit.

use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass, egui};

use crate::report::number::{self, Rounding};
use crate::space::{Point, Pose, Vector};
use crate::state::{ArmAlone, Scene};

use super::bodies::{BodiesSystems, Shown};
use super::change::{Changing, Configuration, in_file_units};
use super::pointer::{Pointer, Ray, Sight};
use super::session::{Ask, Session, SessionSystems};
use super::theme;

/// Radius of the ball, logical pixels.
const BALL: f32 = 9.0;
/// Where an arrow begins and ends, logical pixels from the tip.
const ARROW: [f32; 2] = [16.0, 74.0];
/// An arrow that is seen shorter than this is left out: it points at the eye.
const SHORTEST: f32 = 14.0;
/// The pointer is on the handle within so many logical pixels.
const NEAR: f32 = 7.0;

/// What of the handle is under the pointer, or held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Grip {
    Ball,
    /// The arrow along an axis of the structure, by its number.
    Arrow(usize),
}

/// The handle at the tip.
#[derive(Resource, Default)]
pub struct Handle {
    under_pointer: Option<Grip>,
    held: Option<Held>,
    /// Whether an edit was sent that the session has not answered yet.
    sent: bool,
}

impl Handle {
    /// Whether a press of the pointer belongs to the handle.
    pub fn is_wanted(&self) -> bool {
        self.held.is_some() || self.under_pointer.is_some()
    }
}

/// A tip that is being dragged.
struct Held {
    grip: Grip,
    of: Configuration,
    arm: ArmAlone,
    /// Where the tip was when it was taken hold of.
    start: Pose,
    /// Where the pointer was then: a point in the plane through the tip, or on the arrow's line.
    grabbed: Point,
    /// The last joint values (rad or m) that bring the tip towards the pointer, and where it is with them.
    joints: Vec<f64>,
    tip: Point,
    /// Whether it is where the pointer wants it.
    arrived: bool,
}

/// Lets the tip be dragged.
pub struct HandlePlugin;

/// When the handle follows the pointer, within a frame.
#[derive(SystemSet, Debug, Clone, PartialEq, Eq, Hash)]
pub struct HandleSystems;

impl Plugin for HandlePlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Handle>()
            .add_systems(Update, drag.in_set(HandleSystems).after(SessionSystems).before(BodiesSystems))
            .add_systems(EguiPrimaryContextPass, handle_ui.before(super::panels::PanelsSystems));
    }
}

fn drag(
    buttons: Res<ButtonInput<MouseButton>>,
    pointer: Pointer,
    (session, changing): (Res<Session>, Res<Changing>),
    (mut handle, mut shown): (ResMut<Handle>, ResMut<Shown>),
    mut asks: MessageWriter<Ask>,
) {
    let handle = &mut *handle;
    if let Some(held) = &mut handle.held {
        if let Some(ray) = pointer.at().and_then(|at| pointer.sight.ray(at)) {
            held.follow(&ray, &pointer.sight);
            shown.preview = Some(held.joints.clone());
        }
        if !buttons.pressed(MouseButton::Left) {
            handle.sent = held.send(&mut asks, &session);
            handle.held = None;
        }
        return;
    }
    // What was let go is shown until it is checked, or refused.
    if !std::mem::take(&mut handle.sent) && !session.checking && shown.preview.is_some() {
        shown.preview = None;
    }
    let at = pointer.over_scene();
    let there = at.and_then(|at| Standing::new(&session, changing.configuration.as_ref()?)?.grabbed(at, &pointer));
    handle.under_pointer = there.as_ref().map(|held| held.grip);
    if buttons.just_pressed(MouseButton::Left) {
        handle.held = there;
    }
}

/// A handle that nobody holds.
struct Standing<'a> {
    of: &'a Configuration,
    arm: ArmAlone,
    joints: Vec<f64>,
    structure_from_tip: Pose,
}

impl<'a> Standing<'a> {
    fn new(session: &Session, of: &'a Configuration) -> Option<Self> {
        let loaded = session.loaded.as_ref()?;
        let scene = Scene::new(&loaded.project, &loaded.meshes);
        let arm = ArmAlone::new(&scene, &of.stand);
        let joints = scene.joint_values(&of.joints);
        let structure_from_tip = arm.structure_from_tip(&joints);
        Some(Self { of, arm, joints, structure_from_tip })
    }

    /// The handle as it is held when it is taken hold of here; none beside it.
    fn grabbed(self, at: Vec2, pointer: &Pointer) -> Option<Held> {
        let tip = Point::from(self.structure_from_tip.translation.vector);
        let grip = Drawn::at(&tip, &pointer.sight)?.grip(at)?;
        let grabbed = wanted(grip, &tip, &pointer.sight.ray(at)?, &pointer.sight)?;
        let Self { of, arm, joints, structure_from_tip: start } = self;
        Some(Held { grip, of: of.clone(), arm, start, grabbed, joints, tip, arrived: true })
    }
}

impl Held {
    /// Brings the tip to where the pointer is, as far as the arm follows.
    fn follow(&mut self, ray: &Ray, sight: &Sight) {
        let Some(to) = wanted(self.grip, &Point::from(self.start.translation.vector), ray, sight) else { return };
        let mut place = self.start;
        place.translation.vector += to - self.grabbed;
        if (place.translation.vector - self.tip.coords).norm() < 1e-6 {
            return;
        }
        let followed = self.arm.follow(&self.joints, &place);
        self.tip = Point::from(self.arm.structure_from_tip(&followed.joints).translation.vector);
        (self.joints, self.arrived) = (followed.joints, followed.arrived);
    }

    /// Sends what it was dragged to; whether that is another configuration.
    fn send(&self, asks: &mut MessageWriter<Ask>, session: &Session) -> bool {
        let Some(loaded) = &session.loaded else { return false };
        let joints = in_file_units(&self.joints, &loaded.project.arm.joint);
        let is_new = joints != self.of.joints;
        if is_new {
            asks.write(Ask::Edit(self.of.edit(joints)));
        }
        is_new
    }

    /// How far it was dragged, and whether the arm has stopped short.
    fn said(&self) -> String {
        let moved = (self.tip - Point::from(self.start.translation.vector)).norm();
        let moved = number::value(moved, crate::check::Unit::Metre, Rounding::Nearest);
        if self.arrived { moved } else { format!("{moved}: the arm was not found to follow farther") }
    }
}

fn axis(number: usize) -> Vector {
    [Vector::x(), Vector::y(), Vector::z()][number]
}

/// Where a pull at the grip wants to be: in the plane through the tip across what is seen, or on the arrow's line.
fn wanted(grip: Grip, tip: &Point, ray: &Ray, sight: &Sight) -> Option<Point> {
    match grip {
        Grip::Ball => across(tip, &sight.ahead(), ray),
        Grip::Arrow(number) => along(tip, &axis(number), ray),
    }
}

/// Where a ray meets the plane through a point.
fn across(tip: &Point, normal: &Vector, ray: &Ray) -> Option<Point> {
    let far = (tip - ray.from).dot(normal) / ray.along.dot(normal);
    (far.is_finite() && far > 0.0).then(|| ray.from + *ray.along * far)
}

/// The point of a line through a point that is nearest to a ray.
fn along(tip: &Point, axis: &Vector, ray: &Ray) -> Option<Point> {
    let between = ray.from - tip;
    let aligned = axis.dot(&ray.along);
    let far = (axis.dot(&between) - aligned * ray.along.dot(&between)) / (1.0 - aligned * aligned);
    far.is_finite().then(|| tip + axis * far)
}

/// The handle on the screen, logical pixels.
struct Drawn {
    tip: Vec2,
    /// Begin and end of each arrow that can be seen.
    arrows: [Option<[Vec2; 2]>; 3],
}

impl Drawn {
    fn at(tip: &Point, sight: &Sight) -> Option<Self> {
        let at = sight.on_screen(tip)?;
        let metre = sight.on_screen(&(tip + *sight.right()))?.distance(at);
        let arrow = |number: usize| {
            let to = sight.on_screen(&(tip + axis(number) * f64::from(ARROW[1] / metre)))?;
            let from = at + (to - at) * (ARROW[0] / ARROW[1]);
            (to.distance(at) > SHORTEST).then_some([from, to])
        };
        Some(Self { tip: at, arrows: [0, 1, 2].map(arrow) })
    }

    /// What of it is at a place of the screen.
    fn grip(&self, at: Vec2) -> Option<Grip> {
        if at.distance(self.tip) <= BALL + 2.0 {
            return Some(Grip::Ball);
        }
        let arrows = self.arrows.iter().enumerate();
        let away = arrows.filter_map(|(number, ends)| ends.map(|[from, to]| (number, away(at, from, to))));
        let nearest = away.min_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, away)| *away <= NEAR);
        nearest.map(|(number, _)| Grip::Arrow(number))
    }
}

/// How far a place is from a line between two.
fn away(at: Vec2, from: Vec2, to: Vec2) -> f32 {
    let share = (at - from).dot(to - from) / (to - from).length_squared();
    at.distance(from.lerp(to, share.clamp(0.0, 1.0)))
}

fn handle_ui(
    mut contexts: EguiContexts,
    (session, changing, handle): (Res<Session>, Res<Changing>, Res<Handle>),
    sight: Sight,
) -> Result {
    let (tip, grip) = match &handle.held {
        Some(held) => (held.tip, Some(held.grip)),
        None => {
            let standing = changing.configuration.as_ref().and_then(|of| Standing::new(&session, of));
            let Some(standing) = standing else { return Ok(()) };
            (Point::from(standing.structure_from_tip.translation.vector), handle.under_pointer)
        }
    };
    let Some(drawn) = Drawn::at(&tip, &sight) else { return Ok(()) };
    let context = contexts.ctx_mut()?;
    let (scale, part) = sight.in_points(context);
    let painter = context.layer_painter(egui::LayerId::background()).with_clip_rect(part);
    let point = |at: Vec2| egui::pos2(at.x * scale, at.y * scale);
    for (number, ends) in drawn.arrows.iter().enumerate() {
        let Some([from, to]) = ends.map(|ends| ends.map(point)) else { continue };
        let (name, colour) = theme::AXES[number];
        let is_on = grip == Some(Grip::Arrow(number));
        let colour = if is_on { theme::TEXT } else { colour };
        painter.line_segment([from, to], egui::Stroke::new(if is_on { 4.0 } else { 3.0 }, colour));
        let (ahead, aside) = ((to - from).normalized() * 9.0, (to - from).normalized().rot90() * 5.0);
        let head = vec![to + ahead, to - ahead * 0.3 + aside, to - ahead * 0.3 - aside];
        painter.add(egui::Shape::convex_polygon(head, colour, egui::Stroke::NONE));
        let font = egui::FontId::proportional(13.0);
        painter.text(to + ahead * 2.0, egui::Align2::CENTER_CENTER, name, font, colour);
    }
    let is_on = grip == Some(Grip::Ball);
    let fill = if is_on { theme::TEXT } else { theme::CHOSEN };
    painter.circle(point(drawn.tip), BALL * scale, fill, egui::Stroke::new(2.0, theme::PANEL));
    if let Some(held) = &handle.held {
        let laid = painter.layout_no_wrap(held.said(), egui::FontId::proportional(13.0), theme::TEXT);
        // On the left: distances of bodies are written on the right of theirs.
        let at = point(drawn.tip) + egui::vec2(-21.0 - laid.size().x, 16.0);
        let frame = egui::Rect::from_min_size(at, laid.size()).expand2(egui::vec2(5.0, 2.0));
        painter.rect(frame, 3.0, theme::PANEL, egui::Stroke::new(1.0, theme::LINE), egui::StrokeKind::Inside);
        painter.galley(at, laid, theme::TEXT);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::Direction;

    fn ray(from: [f64; 3], through: [f64; 3]) -> Ray {
        let [from, through] = [from, through].map(Point::from);
        Ray { from, along: Direction::new_normalize(through - from) }
    }

    #[test]
    fn a_pull_across_what_is_seen_stays_in_the_plane_through_the_tip() {
        let tip = Point::new(1.0, 2.0, 3.0);
        let normal = Vector::new(0.6, 0.0, -0.8);
        for through in [[1.0, 2.0, 3.0], [1.5, 2.2, 2.0], [-3.0, 1.0, 4.0]] {
            let ray = ray([-5.0, 2.0, 11.0], through);
            let met = across(&tip, &normal, &ray).expect("the plane is ahead");
            assert!((met - tip).dot(&normal).abs() < 1e-12);
            assert!((met - ray.from).cross(&ray.along).norm() < 1e-12, "on the ray");
        }
        assert_eq!(across(&tip, &normal, &ray([-5.0, 2.0, 11.0], [-11.0, 2.0, 19.0])), None, "it is behind");
    }

    #[test]
    fn no_point_of_the_arrows_line_is_nearer_to_the_ray_than_the_one_that_is_wanted() {
        let tip = Point::new(1.0, 2.0, 3.0);
        for number in 0..3 {
            for through in [[1.0, 2.0, 3.0], [1.5, 2.2, 2.0], [-3.0, 1.0, 4.0]] {
                let ray = ray([-5.0, 4.0, 11.0], through);
                let away = |at: Point| (at - ray.from).cross(&ray.along).norm();
                let met = along(&tip, &axis(number), &ray).expect("they are not parallel");
                assert!((met - tip).cross(&axis(number)).norm() < 1e-9);
                for by in [-0.1, -1e-3, 1e-3, 0.1] {
                    assert!(away(met) < away(met + axis(number) * by));
                }
            }
        }
        assert_eq!(along(&tip, &Vector::x(), &ray([0.0, 0.0, 0.0], [1.0, 0.0, 0.0])), None, "parallel");
    }

    #[test]
    fn the_ball_is_taken_hold_of_before_the_arrows_and_each_arrow_along_all_its_length() {
        let to = |x, y| Some([Vec2::new(100.0, 100.0), Vec2::new(x, y)]);
        let drawn = Drawn { tip: Vec2::new(100.0, 100.0), arrows: [to(170.0, 100.0), None, to(100.0, 30.0)] };
        for (x, y, grip) in [
            (104.0, 97.0, Some(Grip::Ball)),
            (120.0, 105.0, Some(Grip::Arrow(0))),
            (168.0, 95.0, Some(Grip::Arrow(0))),
            (103.0, 40.0, Some(Grip::Arrow(2))),
            (120.0, 120.0, None),
            (180.0, 100.0, None),
        ] {
            assert_eq!(drawn.grip(Vec2::new(x, y)), grip, "{x}, {y}");
        }
    }
}
