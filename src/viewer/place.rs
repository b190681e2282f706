//! Where does something stand in the drawn scene?
//!
//! Drawing is in f32, so the scene has an origin of its own, near everything: a place is taken relative to it in f64, and
//! only then made short. Axes are the structure's: z is up.

use bevy::prelude::*;

use crate::space::{Point, Pose, Vector};

/// The drawn scene's origin in the structure's frame.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq)]
pub struct SceneOrigin(pub Point);

impl SceneOrigin {
    /// A point of the structure's frame.
    pub fn point(self, at: &Point) -> Vec3 {
        let from_origin = at - self.0;
        Vec3::new(from_origin.x as f32, from_origin.y as f32, from_origin.z as f32)
    }

    /// The point of the structure's frame that is drawn there.
    pub fn of_scene(self, at: Vec3) -> Point {
        self.0 + Vector::new(f64::from(at.x), f64::from(at.y), f64::from(at.z))
    }

    /// A pose in the structure's frame.
    pub fn transform(self, pose: &Pose) -> Transform {
        let turn = pose.rotation.coords;
        Transform {
            translation: self.point(&Point::from(pose.translation.vector)),
            rotation: Quat::from_xyzw(turn.x as f32, turn.y as f32, turn.z as f32, turn.w as f32),
            scale: Vec3::ONE,
        }
    }
}
