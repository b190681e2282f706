//! How far does the tip stray from a straight line, and how fast does it go?
//!
//! # Law
//! Between the ends of a joint-space segment the tip leaves the line through their midpoint pose's velocity by at most
//! ½A; so its distance from the wanted line is at most the greater of the two ends' own distances plus ½A of the
//! half interval, and its turn at most the greater of the two ends' own plus ½Σ_{k<l} |δ_k δ_l| over turning joints, as
//! long as the turn stays below half a turn: it is never above T = the mean of the ends' own plus Σ|δ_k|, and where T is
//! not below half a turn, T is all that is said.
//! Over a piece of length h of a segment, the tip's velocity for ṡ = 1 is off the chord between its values at the two ends
//! by at most h²K/8; so its speed is nowhere above the straight line between the speeds at the ends, each raised by that.
//! K = Σ_k Σ_l Σ_m |Δ_k Δ_l Δ_m|·R, with R no less than the distance of the tip from the axis of the outermost of the
//! three joints anywhere on the segment (a slide: 1, and nothing where it comes twice or is not the outermost).
//!
//! # Source
//! Taylor's theorem with the second-derivative bound of the mechanism layer's motion bound. For a function f with
//! |f''| ≤ A on [−1, 1], f lies within ½A of the chord between its ends. A point's derivative by turning joints is
//! ω_k × (ω_l × (ω_m × r)), the innermost first and r taken from the outermost: no product is longer than r; and the
//! length of a chord between velocities is a convex function. The angle between
//! rotations is a distance on a space of positive curvature (1/4), convex along rotations of constant axis and rate while
//! it is below π; the angular acceleration, Σ_{k<l} δ_k δ_l z_k × z_l, takes the place of f''. Without the condition
//! the claim is false: a whole turn about the tip's own axis begins and ends at no turn at all.

use std::f64::consts::PI;

use crate::mechanism::{BodyMotion, Extent, JointMotion, LinkId, Mechanism, Posed, point_velocity};
use crate::space::{Point, Pose, Vector};

use super::segment::Segment;

/// Greatest deviation from a line, and from a constant orientation.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LineStray {
    /// Distance of the tip from the line, m.
    pub distance: f64,
    /// Turn away from the wanted orientation, rad.
    pub turn: f64,
}

fn point_motion(mechanism: &Mechanism, link: LinkId, segment: &Segment) -> (BodyMotion, Point) {
    let posed = mechanism.pose(&segment.at(0.5));
    let delta: Vec<f64> = segment.change().iter().map(|change| 0.5 * change).collect();
    let extent = Extent { points: vec![Point::origin()], radius: 0.0 };
    let motion = BodyMotion::of(mechanism, &posed, (link, LinkId::STRUCTURE), &extent, (&delta, &[]));
    (motion, Point::from(posed.link(link).translation.vector))
}

/// Greatest deviation of a link's origin from the line through `line`'s origin along the unit vector `along`, and of
/// its orientation from `line`'s, over a segment.
pub fn stray_from_line(
    mechanism: &Mechanism,
    link: LinkId,
    segment: &Segment,
    (line, along): (&Pose, &Vector),
) -> LineStray {
    let ends = [&segment.from, &segment.to].map(|q| {
        let pose = *mechanism.pose(q).link(link);
        let off = pose.translation.vector - line.translation.vector;
        let turn = (pose.rotation * line.rotation.inverse()).angle();
        ((off - along * off.dot(along)).norm(), turn)
    });
    let (motion, _) = point_motion(mechanism, link, segment);
    let turning: Vec<f64> = mechanism
        .path_inwards(link)
        .filter_map(|on| {
            let joint = &mechanism.link(on).joint;
            let variable = joint.variable.filter(|_| joint.motion == JointMotion::Revolute)?;
            Some(0.5 * (segment.to[variable] - segment.from[variable]).abs())
        })
        .collect();
    let mut products = 0.0;
    for (k, a) in turning.iter().enumerate() {
        products += turning[..k].iter().map(|b| a * b).sum::<f64>();
    }
    let at_most = 0.5 * (ends[0].1 + ends[1].1) + turning.iter().sum::<f64>();
    let turn = if at_most < PI - 1e-6 { at_most.min(ends[0].1.max(ends[1].1) + 0.5 * products) } else { at_most };
    LineStray { distance: ends[0].0.max(ends[1].0) + 0.5 * motion.acceleration, turn }
}

/// The speed of a link's origin at a fraction of a segment, for a pace of one segment a second (m/s).
pub fn tip_speed_at(mechanism: &Mechanism, link: LinkId, segment: &Segment, fraction: f64) -> f64 {
    speed(mechanism, link, (&segment.at(fraction), &segment.change()), &mut mechanism.workspace())
}

/// The speed of a link's origin at joint values that change so, m/s.
fn speed(mechanism: &Mechanism, link: LinkId, (q, rates): (&[f64], &[f64]), posed: &mut Posed) -> f64 {
    mechanism.pose_into(q, posed);
    let at = Point::from(posed.link(link).translation.vector);
    point_velocity(mechanism, posed, (link, &at), rates).norm()
}

/// Upper bounds on the speed of a link's origin, for a pace of one segment a second (m/s), at both ends of each of `pieces`
/// equal pieces of a segment: between two neighbours the speed is nowhere above the straight line from one to the other.
pub fn tip_speeds(mechanism: &Mechanism, link: LinkId, segment: &Segment, pieces: usize) -> Vec<f64> {
    let share = |k: usize| k as f64 / pieces as f64;
    let off = third_derivative(mechanism, link, segment) / (8.0 * (pieces * pieces) as f64);
    let (change, mut posed) = (segment.change(), mechanism.workspace());
    let mut at = |fraction: f64| speed(mechanism, link, (&segment.at(fraction), &change), &mut posed);
    (0..=pieces).map(|k| at(share(k)) + off).collect()
}

/// An upper bound on the third derivative of a link's origin over a segment, for a pace of one segment a second (m/s³).
fn third_derivative(mechanism: &Mechanism, link: LinkId, segment: &Segment) -> f64 {
    // Outermost joint first: its change, and how far the origin is from it at most; none of a slide.
    let (mut joints, mut reach) = (Vec::new(), 0.0);
    for on in mechanism.path_inwards(link) {
        let at = mechanism.link(on);
        if let Some(variable) = at.joint.variable {
            let change = (segment.to[variable] - segment.from[variable]).abs();
            if at.joint.motion == JointMotion::Prismatic {
                joints.push((change, None));
                reach += segment.to[variable].abs().max(segment.from[variable].abs());
            } else {
                joints.push((change, Some(reach)));
            }
        }
        reach += at.parent_from_joint.translation.vector.norm();
    }
    let (mut sum, mut farther_in) = (0.0, 0.0);
    for (change, reach) in joints.into_iter().rev() {
        match reach {
            Some(reach) => {
                sum += ((farther_in + change).powi(3) - farther_in.powi(3)) * reach;
                farther_in += change;
            }
            None => sum += 3.0 * change * farther_in * farther_in,
        }
    }
    sum
}
