//! What is drawn over the scene: closest points, ghosts of start and end, paths, targets, a scale?
//!
//! Distances are the engine's, at the moment that is shown; the lines only say where, and `labels` writes them beside.

use std::sync::Arc;

use bevy::prelude::*;
use bevy_egui::egui;

use crate::check::{Checked, Finding, Kind, Situation, Span, Status};
use crate::mechanism::Posed;
use crate::model::{BodyClass, Target, Who};
use crate::space::{Point, Pose, Vector};

use super::bodies::{BodiesSystems, Shown};
use super::cameras::{CamerasSystems, Standpoint, View};
use super::chosen::Chosen;
use super::pick::Picked;
use super::place::SceneOrigin;
use super::session::{Ask, Session};
use super::solid;
use super::theme::{self, Action};

/// Pairs that are farther apart than this at the moment have no line, m.
const NEAR: f64 = 2.5;
/// At most so many lines beside that of the chosen finding.
const MOST_LINES: usize = 6;
/// A path is drawn through so many moments.
const PATH_MOMENTS: usize = 96;
/// Width of the line of the chosen finding, and of the picked body's, pixels.
const CHOSEN_WIDTH: f32 = 5.0;

/// What is switched on.
#[derive(Resource, Clone, Copy, Debug, PartialEq)]
pub struct Overlays {
    pub lines: bool,
    pub ghosts: bool,
    pub paths: bool,
    pub scale: bool,
}

impl Default for Overlays {
    fn default() -> Self {
        Self { lines: true, ghosts: false, paths: true, scale: false }
    }
}

/// A line between the closest points of a pair at the moment.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Line {
    pub points: [Point; 2],
    /// Signed, m.
    pub distance: f64,
    pub colour: egui::Color32,
    pub chosen: bool,
}

/// What is drawn at the moment.
#[derive(Resource, Default)]
pub(super) struct Drawn {
    pub lines: Vec<Line>,
    /// Findings of the span that may have a line, least margin first.
    pairs: Vec<usize>,
    /// The check and span that the rest belongs to.
    of: Option<(Arc<Checked>, usize)>,
    tip: Vec<Vec3>,
    payload: Vec<Vec3>,
}

#[derive(Component)]
struct Ghost;

/// What is chosen is drawn thick, and before the bodies: where two overlap, all of it lies inside them.
#[derive(Default, Reflect, GizmoConfigGroup)]
struct ChosenLines;

/// Draws what lies over the scene.
pub struct OverlayPlugin;

impl Plugin for OverlayPlugin {
    fn build(&self, app: &mut App) {
        let line = GizmoLineConfig { width: CHOSEN_WIDTH, ..default() };
        app.init_resource::<Overlays>()
            .init_resource::<Drawn>()
            .insert_gizmo_config(ChosenLines, GizmoConfig { line, depth_bias: -1.0, ..default() })
            .add_systems(
                Update,
                (switch, prepare, find_lines, draw_lines, draw_scale, draw_targets, draw_field)
                    .chain()
                    .after(BodiesSystems)
                    .after(CamerasSystems),
            );
    }
}

fn switch(mut asks: MessageReader<Ask>, mut overlays: ResMut<Overlays>, mut drawn: ResMut<Drawn>) {
    for ask in asks.read() {
        let Ask::Do(action) = ask else { continue };
        match action {
            Action::Lines => overlays.lines = !overlays.lines,
            Action::Ghosts => {
                overlays.ghosts = !overlays.ghosts;
                drawn.of = None;
            }
            Action::Paths => overlays.paths = !overlays.paths,
            Action::Scale => overlays.scale = !overlays.scale,
            _ => {}
        }
    }
}

/// Ghosts and paths change with the span, not with the moment.
fn prepare(
    session: Res<Session>,
    (shown, origin, overlays): (Res<Shown>, Res<SceneOrigin>, Res<Overlays>),
    mut drawn: ResMut<Drawn>,
    ghosts: Query<Entity, With<Ghost>>,
    (mut meshes, mut materials): (ResMut<Assets<Mesh>>, ResMut<Assets<StandardMaterial>>),
    mut commands: Commands,
) {
    let (Some(checked), Some(number)) = (&session.checked, shown.span) else { return };
    if drawn.of.as_ref().is_some_and(|(of, span)| Arc::ptr_eq(of, checked) && *span == number) {
        return;
    }
    let Some(span) = checked.playback.spans.get(number) else { return };
    drawn.of = Some((Arc::clone(checked), number));
    ghosts.iter().for_each(|entity| commands.entity(entity).despawn());
    drawn.pairs = pairs(session.findings(), span);
    let (tip, payload) = paths(span);
    drawn.tip = tip.iter().map(|at| origin.point(at)).collect();
    drawn.payload = payload.iter().map(|at| origin.point(at)).collect();
    if !overlays.ghosts {
        return;
    }
    let material = materials.add(StandardMaterial {
        base_color: theme::scene_colour(theme::CHOSEN).with_alpha(0.05),
        alpha_mode: AlphaMode::Blend,
        unlit: true,
        ..default()
    });
    for seconds in [0.0, span.seconds] {
        let posed = span.mechanism().pose(&span.joints(seconds));
        let parts: Vec<_> = span
            .mechanism()
            .bodies()
            .iter()
            .filter(|body| moves(span, body.class))
            .flat_map(|body| body.parts.iter().map(|part| (part, origin.transform(posed.link(body.link)))))
            .collect();
        if let Some(mesh) = solid::mesh(parts) {
            let drawn = (Mesh3d(meshes.add(mesh)), MeshMaterial3d(material.clone()));
            commands.spawn((Ghost, drawn, bevy::light::NotShadowCaster, bevy::light::NotShadowReceiver));
        }
    }
}

/// Findings of a span that may have a line: pairs that move against each other, least margin first.
fn pairs(findings: &[Finding], span: &Span) -> Vec<usize> {
    let tells = |finding: &Finding| {
        finding.pair.as_ref().is_some_and(|pair| {
            let (first, second) = pair.classes.classes();
            // What is carried as one piece, or belongs to one body, keeps its distance: it would only hide the others.
            pair.bodies.is_some() && pair.situation != Some(Situation::OnePiece) && first != second
        })
    };
    let of_span = |number: &usize| findings[*number].key.place == span.place && tells(&findings[*number]);
    let mut numbers: Vec<usize> = (0..findings.len()).filter(of_span).collect();
    let margin = |number: &usize| findings[*number].margin.unwrap_or(f64::INFINITY);
    numbers.sort_by(|a, b| margin(a).total_cmp(&margin(b)));
    numbers.truncate(3 * MOST_LINES);
    numbers
}

/// Whether bodies of a class move in a span.
fn moves(span: &Span, class: BodyClass) -> bool {
    match (span.motion().is_some(), span.who) {
        (true, _) => {
            matches!(class, BodyClass::Arm | BodyClass::Restraint | BodyClass::Rider)
                || class == BodyClass::Payload && span.assembly().held.is_some()
        }
        (false, Who::Rider) => class == BodyClass::Rider,
        (false, Who::SecondCrew) => class == BodyClass::SecondCrew,
    }
}

/// Where the tip goes, and the held payload.
fn paths(span: &Span) -> (Vec<Point>, Vec<Point>) {
    if span.motion().is_none() {
        return (Vec::new(), Vec::new());
    }
    let mechanism = span.mechanism();
    let assembly = span.assembly();
    let payload =
        assembly.held.and_then(|held| assembly.payloads.get(held)?.first()).map(|body| mechanism.body(*body).link);
    let (mut tip, mut carried) = (Vec::new(), Vec::new());
    let mut posed = mechanism.workspace();
    for k in 0..=PATH_MOMENTS {
        let seconds = span.seconds * k as f64 / PATH_MOMENTS as f64;
        mechanism.pose_into(&span.joints(seconds), &mut posed);
        let origin = |link| Point::from(posed.link(link).translation.vector);
        tip.push(origin(assembly.arm.tip));
        carried.extend(payload.map(origin));
    }
    (tip, carried)
}

/// The closest points of the pairs that govern this span, at this moment.
fn find_lines(
    session: Res<Session>,
    (shown, overlays): (Res<Shown>, Res<Overlays>),
    (chosen, picked): (Res<Chosen>, Res<Picked>),
    mut drawn: ResMut<Drawn>,
) {
    drawn.lines.clear();
    let Some((span, posed)) = overlays.lines.then(|| shown.present(&session)).flatten() else { return };
    let findings = drawn.pairs.iter().filter_map(|number| session.findings().get(*number));
    let others = findings.filter(|finding| chosen.key.as_ref() != Some(&finding.key));
    let here = |finding: &&Finding| finding.key.place == span.place;
    let mut near: Vec<Line> = others
        .filter_map(|finding| line(finding, span, posed, false))
        .filter(|line| line.distance < NEAR)
        .chain(chosen.finding(&session).filter(here).and_then(|finding| line(finding, span, posed, true)))
        .collect();
    near.extend(picked.neighbour.iter().map(|neighbour| Line {
        points: neighbour.points,
        distance: neighbour.distance,
        colour: theme::TEXT,
        chosen: true,
    }));
    near.sort_by(|a, b| b.chosen.cmp(&a.chosen).then(a.distance.total_cmp(&b.distance)));
    near.dedup_by(|a, b| a.points == b.points);
    near.truncate(MOST_LINES);
    drawn.lines = near;
}

fn line(finding: &Finding, span: &Span, posed: &Posed, chosen: bool) -> Option<Line> {
    let [a, b] = finding.pair.as_ref()?.bodies.as_ref()?;
    let (points, distance) = span.nearest(posed, [a, b])?;
    let margin = finding.limit.map_or(0.0, |limit| limit.margin(distance));
    // At no moment is it worse than at its worst.
    let now = match &finding.status {
        Status::Tight | Status::Violation(_) => {
            Status::of_margin(margin, finding.unit.least_tight_band(), Kind::Nominal)
        }
        kept => kept.clone(),
    };
    let colour = if chosen { theme::CHOSEN } else { theme::mark(&now).colour };
    Some(Line { points, distance, colour, chosen })
}

fn draw_lines(
    (drawn, overlays, origin): (Res<Drawn>, Res<Overlays>, Res<SceneOrigin>),
    mut gizmos: Gizmos,
    mut thick: Gizmos<ChosenLines>,
) {
    for line in &drawn.lines {
        let [a, b] = line.points.map(|point| origin.point(&point));
        let colour = theme::scene_colour(line.colour);
        if line.chosen {
            thick.line(a, b, colour);
        } else {
            gizmos.line(a, b, colour);
        }
        for end in [a, b] {
            gizmos.sphere(Isometry3d::from_translation(end), if line.chosen { 0.05 } else { 0.025 }, colour);
        }
    }
    if overlays.paths {
        gizmos.linestrip(drawn.tip.iter().copied(), theme::scene_colour(theme::TIP_PATH));
        gizmos.linestrip(drawn.payload.iter().copied(), theme::scene_colour(theme::PAYLOAD_PATH));
    }
}

/// A grid of metres under everything, and the three axes.
fn draw_scale((overlays, shown, origin): (Res<Overlays>, Res<Shown>, Res<SceneOrigin>), mut gizmos: Gizmos) {
    if !overlays.scale {
        return;
    }
    let (middle, half) = shown.extent;
    let reach = (half.ceil() as i32).clamp(5, 100);
    let base = Point::new(middle.x.round(), middle.y.round(), 0.0);
    for k in -reach..=reach {
        let strong = k % 5 == 0;
        let colour = Color::srgba(0.55, 0.60, 0.70, if strong { 0.40 } else { 0.14 });
        let (along, across) = (f64::from(k), f64::from(reach));
        for ends in [[(along, -across), (along, across)], [(-across, along), (across, along)]] {
            let [a, b] = ends.map(|(x, y)| origin.point(&(base + Vector::new(x, y, 0.0))));
            gizmos.line(a, b, colour);
        }
    }
    let zero = origin.point(&Point::origin());
    for (axis, (_, colour)) in [Vec3::X, Vec3::Y, Vec3::Z].into_iter().zip(theme::AXES) {
        gizmos.arrow(zero, zero + axis * 2.0, theme::scene_colour(colour));
    }
}

/// Targets of the worksite that is worked at, or of all while the arm moves: axis and tool length.
fn draw_targets((session, shown, origin): (Res<Session>, Res<Shown>, Res<SceneOrigin>), mut gizmos: Gizmos) {
    let Some(loaded) = &session.loaded else { return };
    let span = shown.present(&session).map(|(span, _)| span);
    for site in &loaded.project.plan.worksite {
        let here = span.is_some_and(|span| span.place.name() == site.id);
        for target in &site.target {
            let now = here && span.and_then(|span| span.subject.as_ref()) == Some(&target.id);
            draw_target(target, now, *origin, &mut gizmos);
        }
    }
}

fn draw_target(target: &Target, now: bool, origin: SceneOrigin, gizmos: &mut Gizmos) {
    let colour = theme::scene_colour(theme::TARGET).with_alpha(if now { 1.0 } else { 0.45 });
    let at = Point::from(target.at_m);
    let Some(axis) = Vector::from(target.axis).try_normalize(0.0) else { return };
    let back = at - axis * target.tool_m.max(0.12);
    gizmos.arrow(origin.point(&back), origin.point(&at), colour);
    let turn = nalgebra::UnitQuaternion::rotation_between(&Vector::z(), &axis)
        .unwrap_or_else(|| nalgebra::UnitQuaternion::from_axis_angle(&Vector::x_axis(), std::f64::consts::PI));
    let disc = origin.transform(&Pose::from_parts(at.coords.into(), turn));
    gizmos.circle(disc.to_isometry(), target.disc_m.max(0.03) as f32, colour);
}

/// The helmet's field of view, from outside: four edges from the eye.
fn draw_field(
    (session, shown): (Res<Session>, Res<Shown>),
    (view, origin): (Res<View>, Res<SceneOrigin>),
    mut gizmos: Gizmos,
) {
    let Some((span, posed)) = shown.present(&session) else { return };
    if !matches!(view.standpoint, Standpoint::Worksite(_)) {
        return;
    }
    let Some(links) = span.assembly().body_links(span.who) else { return };
    let eye = posed.link(links.eye);
    let corner = |left: f64, up: f64| {
        let ahead = Vector::new(left.cos() * up.cos(), left.sin() * up.cos(), up.sin());
        origin.point(&(eye * Point::from(ahead * 1.2)))
    };
    let view = links.view;
    let corners = [
        corner(view.sideways, view.up),
        corner(-view.sideways, view.up),
        corner(-view.sideways, -view.down),
        corner(view.sideways, -view.down),
    ];
    let from = origin.point(&Point::from(eye.translation.vector));
    let colour = Color::srgba(0.8, 0.47, 0.65, 0.7);
    for (k, at) in corners.iter().enumerate() {
        gizmos.line(from, *at, colour);
        gizmos.line(*at, corners[(k + 1) % 4], colour);
    }
}
