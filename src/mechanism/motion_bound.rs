//! How far can a body stray from where it is at the middle of a joint-space interval?
//!
//! # Law
//! On an interval with midpoint *m*, q(σ) = q(m) + σ·δ, σ ∈ [−1, 1]. Joints are counted from the body inwards, up to
//! the link that both bodies of a pair hang on; what lies further in moves both alike and is left out.
//! - R_k = greatest distance at *m* of any point of the body from joint *k*'s axis + Σ_{l nearer to the body}
//!   (|δ_l| + ε_l)·R_l; for a prismatic joint R_k = 1.
//! - First order: no point of the body moves farther than D = Σ_k |δ_k|·R_k.
//! - Second order: no point's acceleration in σ exceeds A = Σ_k Σ_l |δ_k δ_l|·R_max(k,l), *max* being the joint
//!   nearer to the body; a pair whose farther joint slides adds nothing.
//! - Tolerances: no point strays farther than E = Σ_k ε_k·R_k from where it nominally is; virtual joints have δ = 0.
//!
//! # Source
//! First order: Schwarzer, Saha, Latombe 2005, *Adaptive dynamic collision checking for single and multiple
//! articulated robots in complex environments*, sharpened by the midpoint pose. Second order: Taylor's theorem with
//! the bound A on the second derivative; ∂²p/∂q_k∂q_l = z_k × ∂p/∂q_l for *k* farther from the body than *l*.

use super::tree::{BodyId, JointMotion, LinkId, Mechanism, Posed, Slack};
use crate::space::{Point, Vector};

/// Velocity of a rigid body in σ, in the structure's frame at *m*.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Twist {
    /// Angular velocity, rad.
    pub angular: Vector,
    /// Velocity of the body's point at the frame's origin, m.
    pub linear: Vector,
}

/// What the bounds say of one body on one interval, relative to one inner link.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BodyMotion {
    /// D: greatest displacement from the midpoint pose, m.
    pub displacement: f64,
    /// A: greatest acceleration in σ, m.
    pub acceleration: f64,
    /// E: greatest deviation through read-out and virtual joints, anywhere on the interval, m.
    pub tolerance: f64,
    /// E with the stopping overrun of each joint added to its read-out, anywhere on the interval, m.
    pub stopping: f64,
    /// E at the midpoint itself, m.
    pub tolerance_here: f64,
    /// E with stopping overrun at the midpoint itself, m.
    pub stopping_here: f64,
    /// Velocity at *m*.
    pub twist: Twist,
}

/// The farthest-out link that both links hang on.
pub fn common_link(mechanism: &Mechanism, a: LinkId, b: LinkId) -> LinkId {
    let (mut a, mut b) = (a, b);
    while a != b {
        if a > b {
            a = mechanism.link(a).parent;
        } else {
            b = mechanism.link(b).parent;
        }
    }
    a
}

/// The points that contain a body when grown by a radius, in its link's frame.
#[derive(Clone, Debug)]
pub struct Extent {
    pub points: Vec<Point>,
    pub radius: f64,
}

impl Extent {
    /// More points than these are replaced by the corners of their box.
    pub const MOST_POINTS: usize = 8;

    /// The extent of a whole body; of a mesh, the eight corners of its box.
    pub fn of(mechanism: &Mechanism, body: BodyId) -> Self {
        let mut points = Vec::new();
        let mut radius: f64 = 0.0;
        for part in &mechanism.body(body).parts {
            let (part_points, part_radius) = part.extent();
            points.extend(part_points);
            radius = radius.max(part_radius);
        }
        Self { points, radius }.boxed()
    }

    /// The same, with many points replaced by the corners of their box.
    pub fn boxed(self) -> Self {
        let Self { mut points, radius } = self;
        if points.len() > Self::MOST_POINTS {
            let lowest = points.iter().copied().reduce(|a, b| a.inf(&b)).expect("more than eight points");
            let highest = points.iter().copied().reduce(|a, b| a.sup(&b)).expect("more than eight points");
            let pick = |k: usize, bit: usize, low: f64, high: f64| {
                if k >> bit & 1 == 0 { low } else { high }
            };
            points = (0..Self::MOST_POINTS)
                .map(|k| {
                    Point::new(
                        pick(k, 0, lowest.x, highest.x),
                        pick(k, 1, lowest.y, highest.y),
                        pick(k, 2, lowest.z, highest.z),
                    )
                })
                .collect();
        }
        Self { points, radius }
    }
}

impl BodyMotion {
    /// A body that hangs on `inner` itself.
    pub const STILL: Self = Self {
        displacement: 0.0,
        acceleration: 0.0,
        tolerance: 0.0,
        stopping: 0.0,
        tolerance_here: 0.0,
        stopping_here: 0.0,
        twist: Twist { angular: Vector::new(0.0, 0.0, 0.0), linear: Vector::new(0.0, 0.0, 0.0) },
    };

    /// The bounds for what fills `extent` on `link`, as seen from `inner`, one of the links that it hangs on.
    ///
    /// `posed` is the midpoint pose, `delta` the half interval of each variable (rad or m), `overrun` what each
    /// variable may overrun while stopping (rad or m; empty: nothing).
    pub fn of(
        mechanism: &Mechanism,
        posed: &Posed,
        (link, inner): (LinkId, LinkId),
        extent: &Extent,
        (delta, overrun): (&[f64], &[f64]),
    ) -> Self {
        let mut motion = Self::STILL;
        Self::to_each(mechanism, posed, link, extent, (delta, [overrun; 2]), |seen_from, so_far| {
            motion = *so_far;
            seen_from != inner
        });
        motion
    }

    /// As [`Self::of`], for each link that `link` hangs on, itself first and the structure last, until `told` says stop;
    /// `overrun` is what holds anywhere on the interval, then what holds at the midpoint.
    pub fn to_each(
        mechanism: &Mechanism,
        posed: &Posed,
        link: LinkId,
        extent: &Extent,
        (delta, [overrun, overrun_here]): (&[f64], [&[f64]; 2]),
        mut told: impl FnMut(LinkId, &Self) -> bool,
    ) {
        let structure_from_link = posed.link(link);
        let mut points = [Point::origin(); Extent::MOST_POINTS];
        let points = &mut points[..extent.points.len()];
        for (at, in_link) in points.iter_mut().zip(&extent.points) {
            *at = structure_from_link * in_link;
        }
        let mut motion = Self::STILL;
        // Σ (|δ| + ε)·R of the joints nearer to the body, with tolerances, and with overrun as well.
        let (mut nearer, mut nearer_stopping) = (0.0, 0.0);
        for hung_on in mechanism.path_inwards(link) {
            if !told(hung_on, &motion) {
                return;
            }
            let at = mechanism.link(hung_on);
            for virtual_joint in &at.slack {
                let pose = posed.link(hung_on);
                let (by, reach, turns) = match virtual_joint.slack {
                    Slack::Slide { by } => (by, 1.0, 0.0),
                    Slack::Turn { axis, by } => {
                        let r = farthest(points, &(pose * virtual_joint.at), &(pose.rotation * axis)) + extent.radius;
                        (by, r, 1.0)
                    }
                };
                motion.tolerance += by * (reach + turns * nearer);
                motion.stopping += by * (reach + turns * nearer_stopping);
                motion.tolerance_here += by * (reach + turns * motion.tolerance_here);
                motion.stopping_here += by * (reach + turns * motion.stopping_here);
                nearer += by * (reach + turns * nearer);
                nearer_stopping += by * (reach + turns * nearer_stopping);
            }
            let Some(variable) = at.joint.variable else { continue };
            let (axis, origin) = (posed.axes[hung_on.0], posed.origins[hung_on.0]);
            let step = delta[variable].abs();
            let readout = at.joint.readout;
            let stray = readout + overrun.get(variable).copied().unwrap_or(0.0);
            let stray_here = readout + overrun_here.get(variable).copied().unwrap_or(0.0);
            let (reach, turns) = match at.joint.motion {
                JointMotion::Revolute => {
                    let reach = farthest(points, &origin, &axis) + extent.radius;
                    let moved = motion.displacement;
                    motion.twist.angular += axis * delta[variable];
                    motion.twist.linear += origin.coords.cross(&axis) * delta[variable];
                    motion.acceleration += step * (step * (reach + moved) + 2.0 * moved);
                    (reach, 1.0)
                }
                JointMotion::Prismatic | JointMotion::Fixed => {
                    motion.twist.linear += axis * delta[variable];
                    (1.0, 0.0)
                }
            };
            motion.displacement += step * (reach + turns * motion.displacement);
            motion.tolerance += readout * (reach + turns * nearer);
            motion.stopping += stray * (reach + turns * nearer_stopping);
            motion.tolerance_here += readout * (reach + turns * motion.tolerance_here);
            motion.stopping_here += stray_here * (reach + turns * motion.stopping_here);
            nearer += (step + readout) * (reach + turns * nearer);
            nearer_stopping += (step + stray) * (reach + turns * nearer_stopping);
        }
        told(LinkId::STRUCTURE, &motion);
    }
}

/// Greatest distance of the points from the line through `origin` along the unit vector `axis`.
fn farthest(points: &[Point], origin: &Point, axis: &Vector) -> f64 {
    points.iter().map(|p| axis.cross(&(p - origin)).norm_squared()).fold(0.0, f64::max).sqrt()
}
