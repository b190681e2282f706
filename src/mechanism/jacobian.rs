//! How fast does a point of a link move when joints move?
//!
//! # Law
//! Column of a revolute joint with axis `z` through `o`: linear `z × (p − o)`, angular `z`. Of a prismatic joint:
//! linear `z`, angular 0. Rows vx vy vz ωx ωy ωz, in the structure's frame. Source: any robotics textbook (the
//! geometric Jacobian).

use nalgebra::{Dyn, OMatrix, U6};

use super::tree::{JointMotion, LinkId, Mechanism, Posed};
use crate::space::{Point, Vector};

/// Six rows (m/s, then rad/s), one column a variable of the mechanism.
pub type Jacobian = OMatrix<f64, U6, Dyn>;

/// The Jacobian of the point `at` (in the structure's frame) that is carried by `link`; columns of joints that the
/// link doesn't hang on are zero.
pub fn point_jacobian(mechanism: &Mechanism, posed: &Posed, link: LinkId, at: &Point) -> Jacobian {
    let mut jacobian = Jacobian::zeros(mechanism.variable_count());
    for hung_on in mechanism.path_inwards(link) {
        let joint = &mechanism.link(hung_on).joint;
        let Some(variable) = joint.variable else {
            continue;
        };
        let axis = posed.axes[hung_on.0];
        let mut column = jacobian.column_mut(variable);
        if joint.motion == JointMotion::Revolute {
            column.fixed_rows_mut::<3>(0).copy_from(&axis.cross(&(at - posed.origins[hung_on.0])));
            column.fixed_rows_mut::<3>(3).copy_from(&axis);
        } else {
            column.fixed_rows_mut::<3>(0).copy_from(&axis);
        }
    }
    jacobian
}

/// The velocity of the point `at` (in the structure's frame) that is carried by `link`, at these rates of all variables
/// (m/s): what its Jacobian says, without the matrix.
pub fn point_velocity(mechanism: &Mechanism, posed: &Posed, (link, at): (LinkId, &Point), rates: &[f64]) -> Vector {
    let mut velocity = Vector::zeros();
    for hung_on in mechanism.path_inwards(link) {
        let joint = &mechanism.link(hung_on).joint;
        let Some(variable) = joint.variable else { continue };
        let axis = posed.axes[hung_on.0];
        let moved = match joint.motion {
            JointMotion::Revolute => axis.cross(&(at - posed.origins[hung_on.0])),
            JointMotion::Prismatic | JointMotion::Fixed => axis,
        };
        velocity += moved * rates[variable];
    }
    velocity
}

/// The Jacobian of the origin of a link's frame.
pub fn tip_jacobian(mechanism: &Mechanism, posed: &Posed, link: LinkId) -> Jacobian {
    let at = Point::from(posed.link(link).translation.vector);
    point_jacobian(mechanism, posed, link, &at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanism::random_tree::{random_configuration, random_tree};

    #[test]
    fn columns_agree_with_finite_differences_on_random_trees() {
        for seed in 0..50 {
            let (mechanism, links) = random_tree(seed);
            let q = random_configuration(&mechanism, seed);
            let link = *links.last().expect("a random tree has links");
            let analytic = tip_jacobian(&mechanism, &mechanism.pose(&q), link);
            let step = 1e-6;
            for variable in 0..mechanism.variable_count() {
                let moved = |sign: f64| {
                    let mut q = q.clone();
                    q[variable] += sign * step;
                    *mechanism.pose(&q).link(link)
                };
                let (ahead, behind) = (moved(1.0), moved(-1.0));
                let linear = (ahead.translation.vector - behind.translation.vector) / (2.0 * step);
                let angular = (ahead.rotation * behind.rotation.inverse()).scaled_axis() / (2.0 * step);
                let column = analytic.column(variable);
                assert!((linear - column.fixed_rows::<3>(0)).norm() < 1e-7);
                assert!((angular - column.fixed_rows::<3>(3)).norm() < 1e-7);
            }
        }
    }
}
