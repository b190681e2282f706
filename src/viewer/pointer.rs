//! Where in the scene is the pointer, and where on the screen is a place of the scene?

use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use bevy::window::{CursorLeft, PrimaryWindow};
use bevy_egui::input::{EguiInputEvent, EguiWantsInput};
use bevy_egui::{EguiInputSet, PrimaryEguiContext, egui};

use crate::space::{Direction, Point, Vector};

use super::cameras::MainCamera;
use super::place::SceneOrigin;

/// Tells the panels that the pointer has left the window: what was under it last is then under it no more, and what is
/// written beside it goes away.
pub struct PointerPlugin;

impl Plugin for PointerPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(PreUpdate, leave.in_set(EguiInputSet::ReadBevyMessages));
    }
}

fn leave(
    mut left: MessageReader<CursorLeft>,
    context: Single<Entity, With<PrimaryEguiContext>>,
    mut events: MessageWriter<EguiInputEvent>,
) {
    if left.read().count() > 0 {
        events.write(EguiInputEvent { context: *context, event: egui::Event::PointerGone });
    }
}

/// A straight view into the scene, in the structure's frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ray {
    pub from: Point,
    pub along: Direction,
}

/// Which way something lies that is not seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bearing {
    /// To the right and down, of length one; what is straight ahead or behind is below.
    pub towards: Vec2,
    pub is_behind: bool,
}

/// The scene as it lies on the screen.
#[derive(SystemParam)]
pub struct Sight<'w, 's> {
    // Where it has been put in this frame: what is drawn follows later.
    camera: Single<'w, 's, (&'static Camera, &'static Transform), With<MainCamera>>,
    origin: Res<'w, SceneOrigin>,
}

impl Sight<'_, '_> {
    /// The part of the screen in which the scene is drawn, logical pixels.
    pub fn part(&self) -> Option<Rect> {
        self.camera.0.logical_viewport_rect()
    }

    /// Where on the screen a point of the structure's frame is, logical pixels; none where it is behind the camera.
    pub fn on_screen(&self, at: &Point) -> Option<Vec2> {
        let (camera, camera_at) = *self.camera;
        camera.world_to_viewport(&(*camera_at).into(), self.origin.point(at)).ok()
    }

    /// Which way a point of the structure's frame lies from the middle of what is seen.
    pub fn bearing(&self, at: &Point) -> Bearing {
        let seen = self.camera.1.compute_affine().inverse().transform_point3(self.origin.point(at));
        Bearing { towards: Vec2::new(seen.x, -seen.y).normalize_or(Vec2::Y), is_behind: seen.z >= 0.0 }
    }

    /// What lies under a place of the screen (logical pixels).
    pub fn ray(&self, at: Vec2) -> Option<Ray> {
        let (camera, camera_at) = *self.camera;
        let ray = camera.viewport_to_world(&(*camera_at).into(), at).ok()?;
        let along = ray.direction.as_dvec3();
        Some(Ray {
            from: self.origin.of_scene(ray.origin),
            along: Direction::new_normalize(Vector::new(along.x, along.y, along.z)),
        })
    }

    /// The direction in which the camera looks.
    pub fn ahead(&self) -> Direction {
        let along = self.camera.1.forward().as_dvec3();
        Direction::new_normalize(Vector::new(along.x, along.y, along.z))
    }

    /// The direction to the right of what is seen.
    pub fn right(&self) -> Direction {
        let along = self.camera.1.right().as_dvec3();
        Direction::new_normalize(Vector::new(along.x, along.y, along.z))
    }

    /// Logical pixels as points of the panels, whose size the user chooses, and the scene's part of the screen in them.
    pub fn in_points(&self, context: &egui::Context) -> (f32, egui::Rect) {
        let scale = self.camera.0.target_scaling_factor().unwrap_or(1.0) / context.pixels_per_point();
        let part = self.part().unwrap_or_default();
        let corner = |at: Vec2| egui::pos2(at.x * scale, at.y * scale);
        (scale, egui::Rect::from_min_max(corner(part.min), corner(part.max)))
    }
}

/// The pointer, over the scene or elsewhere.
#[derive(SystemParam)]
pub struct Pointer<'w, 's> {
    windows: Query<'w, 's, &'static Window, With<PrimaryWindow>>,
    panels: Res<'w, EguiWantsInput>,
    pub sight: Sight<'w, 's>,
}

impl Pointer<'_, '_> {
    /// Where it is on the screen, logical pixels.
    pub fn at(&self) -> Option<Vec2> {
        self.windows.single().ok()?.cursor_position()
    }

    /// Where it is, if it is over the scene and over nothing that lies on it.
    pub fn over_scene(&self) -> Option<Vec2> {
        let at = self.at()?;
        let is_free = self.sight.part()?.contains(at) && !self.panels.wants_any_pointer_input();
        is_free.then_some(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_panels_are_told_once_that_the_pointer_has_left() {
        let mut app = App::new();
        app.add_plugins((MinimalPlugins, PointerPlugin)).add_message::<CursorLeft>().add_message::<EguiInputEvent>();
        let context = app.world_mut().spawn(PrimaryEguiContext).id();
        let told = |app: &mut App| -> Vec<EguiInputEvent> {
            app.update();
            app.world_mut().resource_mut::<Messages<EguiInputEvent>>().drain().collect()
        };
        assert!(told(&mut app).is_empty());
        app.world_mut().write_message(CursorLeft { window: Entity::PLACEHOLDER });
        let events = told(&mut app);
        assert!(
            matches!(&events[..], [EguiInputEvent { context: to, event: egui::Event::PointerGone }] if *to == context)
        );
        assert!(told(&mut app).is_empty());
    }
}
