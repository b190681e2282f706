//! Source: the law of both motion bounds as the design states it, sums written out; no term shared with the engine's.
//!
//! One term can be broken on purpose: a property test that does not notice is worth nothing.

use trusswalk::mechanism::{BodyId, JointMotion, LinkId, Mechanism, common_link};
use trusswalk::space::{Direction, Point, PosedConvex, Vector};

/// Which term is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Broken {
    Nothing,
    /// A_j = 0.
    SecondBodysAcceleration,
    /// Half of every R.
    Reach,
    /// The twists count the joints that both bodies hang on as well.
    CommonJointsInTwist,
}

/// Lower bounds on the signed distance over an interval.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    pub first: f64,
    pub second: f64,
}

struct Motion {
    displacement: f64,
    acceleration: f64,
    angular: Vector,
    linear: Vector,
}

/// Both bounds for a pair of bodies of one part each about the pose at `q`, half interval `delta`, normal `n`.
pub fn bounds(
    mechanism: &Mechanism,
    bodies: [BodyId; 2],
    (q, delta): (&[f64], &[f64]),
    n: &Direction,
    broken: Broken,
) -> Bounds {
    let posed = mechanism.pose(q);
    let links = bodies.map(|body| mechanism.body(body).link);
    let inner = common_link(mechanism, links[0], links[1]);
    let [a, b] = bodies.map(|body| mechanism.body(body).parts[0].posed(posed.link(mechanism.body(body).link)));
    let a_motion = motion(mechanism, bodies[0], inner, (q, delta), broken);
    let mut b_motion = motion(mechanism, bodies[1], inner, (q, delta), broken);
    if broken == Broken::SecondBodysAcceleration {
        b_motion.acceleration = 0.0;
    }
    let gap = |g: Vector, h: Vector| b.lowest(&h) - a.highest(&g);
    let first = gap(**n, **n) - a_motion.displacement - b_motion.displacement;
    let at = |sigma: f64| {
        let turned = |motion: &Motion| n.into_inner() + n.cross(&motion.angular) * sigma;
        gap(turned(&a_motion), turned(&b_motion)) + sigma * n.dot(&(b_motion.linear - a_motion.linear))
    };
    let second = at(1.0).min(at(-1.0)) - 0.5 * (a_motion.acceleration + b_motion.acceleration);
    Bounds { first, second }
}

fn motion(mechanism: &Mechanism, body: BodyId, inner: LinkId, (q, delta): (&[f64], &[f64]), broken: Broken) -> Motion {
    let posed = mechanism.pose(q);
    let link = mechanism.body(body).link;
    let (points, radius) = mechanism.body(body).parts[0].extent();
    let points: Vec<Point> = points.iter().map(|p| posed.link(link) * p).collect();
    let path: Vec<LinkId> = mechanism.path_inwards(link).collect();
    // From the body inwards: step, least R, whether it turns, and the twist of a unit step.
    let joint = |at: LinkId| {
        let on = mechanism.link(at);
        let variable = on.joint.variable?;
        let structure_from_joint = posed.link(on.parent) * on.parent_from_joint;
        let axis = structure_from_joint.rotation * on.joint.axis.into_inner();
        let origin = structure_from_joint.translation.vector;
        let turns = on.joint.motion == JointMotion::Revolute;
        let reach = points.iter().map(|p| (p.coords - origin).cross(&axis).norm() + radius).fold(0.0, f64::max);
        let twist = if turns { (axis, origin.cross(&axis)) } else { (Vector::zeros(), axis) };
        Some((delta[variable], reach, turns, twist))
    };
    let own: Vec<_> = path.iter().take_while(|at| **at != inner).filter_map(|at| joint(*at)).collect();
    let mut reach: Vec<f64> = Vec::new();
    for (k, (_, least, turns, _)) in own.iter().enumerate() {
        let nearer: f64 = (0..k).map(|l| own[l].0.abs() * reach[l]).sum();
        let full = if *turns { least + nearer } else { 1.0 };
        reach.push(if broken == Broken::Reach { 0.5 * full } else { full });
    }
    let displacement = own.iter().zip(&reach).map(|((step, ..), reach)| step.abs() * reach).sum();
    let mut acceleration = 0.0;
    for k in 0..own.len() {
        for l in 0..own.len() {
            let (nearer, farther) = (k.min(l), k.max(l));
            if own[farther].2 {
                acceleration += (own[k].0 * own[l].0).abs() * reach[nearer];
            }
        }
    }
    let mut twisting = own;
    if broken == Broken::CommonJointsInTwist {
        twisting = path.iter().filter_map(|at| joint(*at)).collect();
    }
    let angular = twisting.iter().map(|(step, .., (angular, _))| angular * *step).sum();
    let linear = twisting.iter().map(|(step, .., (_, linear))| linear * *step).sum();
    Motion { displacement, acceleration, angular, linear }
}

/// Where a body is at joint values.
pub fn posed<'a>(mechanism: &'a Mechanism, body: BodyId, q: &[f64]) -> PosedConvex<'a> {
    let posed = mechanism.pose(q);
    mechanism.body(body).parts[0].posed(posed.link(mechanism.body(body).link))
}
