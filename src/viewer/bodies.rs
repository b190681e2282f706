//! Where is every body at the moment that is shown?
//!
//! What is fixed is drawn as one mesh for each paint; what can move has an entity a body, posed by the engine's own
//! forward kinematics.

use std::collections::BTreeMap;
use std::sync::Arc;

use bevy::prelude::*;

use crate::check::{Checked, Span};
use crate::files::Loaded;
use crate::mechanism::{Body, LinkId, Posed};
use crate::model::BodyClass;
use crate::space::{Point, aabb};

use super::clock::{Clock, ClockSystems};
use super::place::SceneOrigin;
use super::session::{Session, SessionSystems};
use super::solid;
use super::theme::Paint;

/// A body that can move.
#[derive(Component, Clone, Debug, PartialEq)]
pub struct MovingBody {
    pub name: String,
    pub class: BodyClass,
    pub link: LinkId,
}

/// What is fixed.
#[derive(Component)]
struct FixedBodies;

/// What is drawn at present.
#[derive(Resource, Default)]
pub struct Shown {
    checked: Option<Arc<Checked>>,
    /// Which span of the playback.
    pub span: Option<usize>,
    /// Seconds into the span.
    pub seconds: f64,
    /// Joint values of the arm (rad or m) that are shown in place of the plan's, while they are tried.
    pub preview: Option<Vec<f64>>,
    /// Everything as it is posed now.
    pub posed: Option<Posed>,
    /// The middle of what is fixed and half its greatest size, m.
    pub extent: (Point, f64),
}

impl Shown {
    /// The span that is shown, and everything in it as it is posed.
    pub fn present<'a>(&'a self, session: &'a Session) -> Option<(&'a Span, &'a Posed)> {
        let span = session.checked.as_ref()?.playback.spans.get(self.span?)?;
        Some((span, self.posed.as_ref()?))
    }
}

/// Materials, and the meshes of bodies by name and shape.
#[derive(Resource, Default)]
struct Made {
    paints: BTreeMap<Paint, Handle<StandardMaterial>>,
    meshes: BTreeMap<(String, Vec<u64>), Handle<Mesh>>,
}

/// Draws bodies.
pub struct BodiesPlugin;

/// When bodies are drawn, within a frame.
#[derive(SystemSet, Debug, Clone, PartialEq, Eq, Hash)]
pub struct BodiesSystems;

impl Plugin for BodiesPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Shown>().init_resource::<Made>().init_resource::<SceneOrigin>().add_systems(
            Update,
            (draw_fixed, draw_span, pose).chain().in_set(BodiesSystems).after(SessionSystems).after(ClockSystems),
        );
    }
}

/// Draws what is fixed, once for each structure.
fn draw_fixed(
    session: Res<Session>,
    mut shown: ResMut<Shown>,
    mut made: ResMut<Made>,
    mut origin: ResMut<SceneOrigin>,
    (mut meshes, mut materials): (ResMut<Assets<Mesh>>, ResMut<Assets<StandardMaterial>>),
    drawn: Query<Entity, With<FixedBodies>>,
    mut commands: Commands,
) {
    let Some(checked) = &session.checked else { return };
    if shown.checked.as_ref().is_some_and(|shown| Arc::ptr_eq(shown, checked)) {
        return;
    }
    let first = shown.checked.is_none();
    let same = shown.checked.as_ref().is_some_and(|shown| same_shapes(&shown.playback.fixed, &checked.playback.fixed));
    shown.checked = Some(Arc::clone(checked));
    shown.span = None;
    if same && !first {
        return;
    }
    drawn.iter().for_each(|entity| commands.entity(entity).despawn());
    shown.extent = extent(&checked.playback.fixed);
    *origin = SceneOrigin(shown.extent.0);
    let mut by_paint: BTreeMap<Paint, Vec<&Body>> = BTreeMap::new();
    for body in &checked.playback.fixed {
        let paint = session.loaded.as_deref().map_or(Paint::Fixture, |loaded| fixed_paint(loaded, body));
        by_paint.entry(paint).or_default().push(body);
    }
    for (paint, bodies) in by_paint {
        let at = Transform::from_translation(origin.point(&Point::origin()));
        let parts = bodies.iter().flat_map(|body| &body.parts).map(|part| (part, Transform::IDENTITY));
        let Some(mesh) = solid::mesh(parts) else { continue };
        let material = made.material(paint, &mut materials);
        let mut entity = commands.spawn((FixedBodies, Mesh3d(meshes.add(mesh)), MeshMaterial3d(material), at));
        if paint == Paint::KeepOut {
            entity.insert((bevy::light::NotShadowCaster, bevy::light::NotShadowReceiver));
        }
    }
}

/// Draws the bodies that can move during the span at the clock's moment.
fn draw_span(
    clock: Res<Clock>,
    mut shown: ResMut<Shown>,
    mut made: ResMut<Made>,
    (mut meshes, mut materials): (ResMut<Assets<Mesh>>, ResMut<Assets<StandardMaterial>>),
    drawn: Query<Entity, With<MovingBody>>,
    mut commands: Commands,
) {
    let Some(checked) = shown.checked.clone() else { return };
    let Some((number, span)) = checked.playback.span_at(clock.at) else { return };
    shown.seconds = (clock.at - span.start).clamp(0.0, span.seconds);
    if shown.span == Some(number) {
        return;
    }
    shown.span = Some(number);
    shown.posed = None;
    drawn.iter().for_each(|entity| commands.entity(entity).despawn());
    for body in span.mechanism().bodies() {
        if matches!(body.class, BodyClass::Structure | BodyClass::KeepOut) {
            continue;
        }
        let Some(mesh) = made.mesh(body, &mut meshes) else { continue };
        let material = made.material(Paint::of(body.class, &body.name), &mut materials);
        let moving = MovingBody { name: body.name.clone(), class: body.class, link: body.link };
        commands.spawn((moving, Mesh3d(mesh), MeshMaterial3d(material), Transform::default()));
    }
}

/// Puts every body where it is at the moment.
fn pose(mut shown: ResMut<Shown>, origin: Res<SceneOrigin>, mut bodies: Query<(&MovingBody, &mut Transform)>) {
    let Some(checked) = shown.checked.clone() else { return };
    let Some(span) = shown.span.and_then(|number| checked.playback.spans.get(number)) else { return };
    let mut q = span.joints(shown.seconds);
    if let Some(arm) = &shown.preview {
        q[span.assembly().arm.variables.clone()].copy_from_slice(arm);
    }
    let mut posed = shown.posed.take().unwrap_or_else(|| span.mechanism().workspace());
    span.mechanism().pose_into(&q, &mut posed);
    for (body, mut transform) in &mut bodies {
        *transform = origin.transform(posed.link(body.link));
    }
    shown.posed = Some(posed);
}

impl Made {
    fn material(&mut self, paint: Paint, materials: &mut Assets<StandardMaterial>) -> Handle<StandardMaterial> {
        self.paints.entry(paint).or_insert_with(|| materials.add(paint.material())).clone()
    }

    fn mesh(&mut self, body: &Body, meshes: &mut Assets<Mesh>) -> Option<Handle<Mesh>> {
        // A tool has another length at every target: the same name is not always the same shape.
        let shape = body.parts.iter().flat_map(|part| {
            let (points, radius) = part.extent();
            points.into_iter().flat_map(|point| [point.x, point.y, point.z]).chain([radius]).collect::<Vec<_>>()
        });
        let key = (body.name.clone(), shape.map(f64::to_bits).collect());
        if let Some(known) = self.meshes.get(&key) {
            return Some(known.clone());
        }
        let mesh = meshes.add(solid::mesh(body.parts.iter().map(|part| (part, Transform::IDENTITY)))?);
        self.meshes.insert(key, mesh.clone());
        Some(mesh)
    }
}

fn same_shapes(a: &[Body], b: &[Body]) -> bool {
    let points = |body: &Body| body.parts.iter().map(crate::space::Convex::extent).collect::<Vec<_>>();
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.name == b.name && points(a) == points(b))
}

/// The paint of something fixed, by what the structure's file says it is.
fn fixed_paint(loaded: &Loaded, body: &Body) -> Paint {
    let structure = &loaded.project.structure;
    let whole = body.name.split('/').next().unwrap_or(&body.name);
    if body.class == BodyClass::KeepOut {
        Paint::KeepOut
    } else if structure.truss.iter().any(|truss| truss.id == whole) {
        Paint::Truss
    } else if structure.module.iter().any(|module| module.id == body.name) {
        Paint::Module
    } else if structure.handrail.iter().any(|rail| rail.id == whole) {
        Paint::Handrail
    } else {
        Paint::Fixture
    }
}

/// The middle of some bodies and half their greatest size, m.
fn extent(bodies: &[Body]) -> (Point, f64) {
    let solid = bodies.iter().filter(|body| body.class != BodyClass::KeepOut);
    let boxes = solid.flat_map(|body| &body.parts).map(|part| aabb(&part.posed(&crate::space::Pose::identity())));
    match boxes.reduce(|a, b| a.merged(&b)) {
        Some(all) => (all.middle(), 0.5 * all.size().max()),
        None => (Point::origin(), 5.0),
    }
}
