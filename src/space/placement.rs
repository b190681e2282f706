//! Which rigid transform does a written place mean?

use nalgebra::{Quaternion, Translation3, UnitQuaternion};

use super::{Pose, Vector};
use crate::model::Place;

/// The transform `outer_from_inner` of a frame placed in another. Roll, pitch and yaw are about the fixed x, y and z
/// axes: R = Rz(yaw)·Ry(pitch)·Rx(roll), as URDF defines them.
pub fn pose(place: &Place) -> Pose {
    let rotation = match (place.rpy, place.quat_xyzw) {
        (Some([roll, pitch, yaw]), _) => {
            UnitQuaternion::from_euler_angles(roll.radians(), pitch.radians(), yaw.radians())
        }
        (None, Some([x, y, z, w])) => UnitQuaternion::from_quaternion(Quaternion::new(w, x, y, z)),
        (None, None) => UnitQuaternion::identity(),
    };
    Pose::from_parts(Translation3::from(Vector::from(place.at_m)), rotation)
}
