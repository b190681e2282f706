//! How far does the tip stray from a straight line, and how fast does it go?
//!
//! # Law
//! Between the ends of a joint-space segment the tip leaves the line through their midpoint pose's velocity by at most
//! ½A; so its distance from the wanted line is at most the greater of the two ends' own distances plus ½A of the
//! half interval, and its turn at most the greater of the two ends' own plus ½Σ_{k<l} |δ_k δ_l| over turning joints, as
//! long as the turn stays below half a turn: it is never above T = the mean of the ends' own plus Σ|δ_k|, and where T is
//! not below half a turn, T is all that is said.
//! The tip's speed for σ̇ = 1 is at most its midpoint speed plus A.
//!
//! # Source
//! Taylor's theorem with the second-derivative bound of the mechanism layer's motion bound. For a function f with
//! |f''| ≤ A on [−1, 1], f lies within ½A of the chord between its ends, and |f'| ≤ |f'(0)| + A. The angle between
//! rotations is a distance on a space of positive curvature (1/4), convex along rotations of constant axis and rate while
//! it is below π; the angular acceleration, Σ_{k<l} δ_k δ_l z_k × z_l, takes the place of f''. Without the condition
//! the claim is false: a whole turn about the tip's own axis begins and ends at no turn at all.

use std::f64::consts::PI;

use crate::mechanism::{BodyMotion, Extent, JointMotion, LinkId, Mechanism, point_jacobian};
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
    let posed = mechanism.pose(&segment.at(fraction));
    let at = Point::from(posed.link(link).translation.vector);
    let rates = nalgebra::DVector::from_vec(segment.change());
    (point_jacobian(mechanism, &posed, link, &at) * rates).fixed_rows::<3>(0).norm()
}

/// An upper bound on the speed of a link's origin along a segment, for a pace of one segment a second (m/s); the
/// segment is cut into `pieces` equal intervals, each bounded on its own.
pub fn tip_speed_bound(mechanism: &Mechanism, link: LinkId, segment: &Segment, pieces: usize) -> f64 {
    (0..pieces)
        .map(|k| {
            let share = |k: usize| k as f64 / pieces as f64;
            let piece = Segment { from: segment.at(share(k)), to: segment.at(share(k + 1)) };
            let (motion, at) = point_motion(mechanism, link, &piece);
            let velocity = motion.twist.linear + motion.twist.angular.cross(&at.coords);
            // σ covers two units over a piece, and a piece takes 1/pieces of a second.
            (velocity.norm() + motion.acceleration) * 2.0 * pieces as f64
        })
        .fold(0.0, f64::max)
}
