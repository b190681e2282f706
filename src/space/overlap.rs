//! How deep do two overlapping cores lie in one another, and along which direction?
//!
//! # Law
//! The signed distance of overlapping cores is the greatest gap over all unit vectors, a number not above zero. For
//! polytopes it is reached on a separating axis (see [`super::separating_axes`]), so both bounds are exact. Cores of no
//! thickness that cross or touch have depth zero, along an axis perpendicular to both.
//!
//! A cylinder with a point is exact too. With anything else, `upper` comes from the prism inscribed in it, whose faces lie
//! within 0.5 % of the radius from the cylinder's (it is zero where the prisms are apart), and `lower` from a search over
//! directions that starts at the prism's axis.

use super::separating_axes::{Axis, any_perpendicular, best_axis};
use super::separation::{TOUCHING, nearest_points};
use super::{Direction, Hull, Point, Pose, PosedCore, Vector};

/// Signed distance of two overlapping cores, in metres, with its direction from `a` to `b` and a point of each surface.
pub(super) struct Overlap {
    pub normal: Direction,
    pub upper: f64,
    pub point_a: Point,
    pub point_b: Point,
}

/// The depth of two cores whose nearest points say no more than that they overlap or touch.
pub(super) fn overlap(a: &PosedCore, b: &PosedCore) -> Overlap {
    let (axis, upper) = deepest_axis(a, b);
    let (point_a, point_b) = points_along(a, b, &axis);
    // An axis with a gap disproves the overlap: then the points give the upper bound, as for cores apart.
    let upper = if axis.gap > TOUCHING { (point_b - point_a).norm() } else { upper };
    Overlap { normal: axis.normal, upper, point_a, point_b }
}

/// A normal with at least the gap of the one given, for cores apart whose nearest points gave a poor one.
pub(super) fn sharper_normal(a: &PosedCore, b: &PosedCore, normal: Direction) -> Direction {
    let given = Axis::along(a, b, normal);
    if is_cylinder(a) || is_cylinder(b) {
        return climb(a, b, given, 1e-3).normal;
    }
    let found = best_axis(a, b);
    if found.gap > given.gap { found.normal } else { normal }
}

/// The axis with the greatest gap found, and an upper bound on the signed distance if the cores do overlap.
fn deepest_axis(a: &PosedCore, b: &PosedCore) -> (Axis, f64) {
    let (prism_a, prism_b) = match (a, b) {
        (PosedCore::Point(p), PosedCore::Cylinder { centre, half_axis, .. })
        | (PosedCore::Cylinder { centre, half_axis, .. }, PosedCore::Point(p)) => {
            let axis = axis_with_point(a, b, half_axis, &(p - centre));
            let exact = axis.gap;
            return (axis, exact);
        }
        _ => (inscribed_prism(a), inscribed_prism(b)),
    };
    let inside_a = prism_a.as_ref().map_or_else(|| a.clone(), placed);
    let inside_b = prism_b.as_ref().map_or_else(|| b.clone(), placed);
    let inside = best_axis(&inside_a, &inside_b);
    if prism_a.is_none() && prism_b.is_none() {
        let exact = inside.gap;
        return (inside, exact);
    }
    let start = Axis::along(a, b, inside.normal);
    let axis = climb(a, b, start, std::f64::consts::PI / f64::from(PRISM_SIDES));
    let upper = inside.gap.min(0.0).max(axis.gap);
    (axis, upper)
}

/// Points of both surfaces that lie `axis.gap` from one another along the axis.
///
/// Displaced along the axis until they are 1 m apart, the cores have them as nearest points, and no rounding hides them.
fn points_along(a: &PosedCore, b: &PosedCore, axis: &Axis) -> (Point, Point) {
    let way = axis.normal.into_inner() * (1.0 - axis.gap);
    match nearest_points(a, &b.displaced(&way)) {
        Some((point_a, point_b)) => (point_a, point_b - way),
        None => (a.farthest(&axis.normal), b.farthest(&-axis.normal.into_inner())),
    }
}

/// The deepest axis of a cylinder and a point in it: along the cylinder or straight out from its axis.
fn axis_with_point(a: &PosedCore, b: &PosedCore, half_axis: &Vector, from_centre: &Vector) -> Axis {
    let axis = Direction::new_normalize(*half_axis);
    let across = from_centre - axis.into_inner() * axis.dot(from_centre);
    let outwards = Direction::try_new(across, TOUCHING).unwrap_or_else(|| any_perpendicular(half_axis));
    Axis::best_of(a, b, &[axis, outwards])
}

const PRISM_SIDES: u32 = 32;

/// A regular prism inside a cylinder, its corners on both rims, in the structure's frame; none for other cores.
fn inscribed_prism(core: &PosedCore) -> Option<Hull> {
    let PosedCore::Cylinder { centre, half_axis, radius } = core else {
        return None;
    };
    let u = any_perpendicular(half_axis).into_inner();
    let v = half_axis.normalize().cross(&u);
    let sides = PRISM_SIDES as usize;
    let corners = (0..sides)
        .flat_map(|k| {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / sides as f64).sin_cos();
            let rim = centre + (u * cos + v * sin) * *radius;
            [rim - half_axis, rim + half_axis]
        })
        .collect();
    let (low, high) = (|k: usize| 2 * (k % sides), |k: usize| 2 * (k % sides) + 1);
    let mut facets = Vec::with_capacity(4 * sides);
    for k in 0..sides {
        facets.extend([[low(k), low(k + 1), high(k + 1)], [low(k), high(k + 1), high(k)]]);
    }
    for k in 1..sides - 1 {
        facets.extend([[low(0), low(k + 1), low(k)], [high(0), high(k), high(k + 1)]]);
    }
    Some(Hull { corners, facets })
}

fn placed(hull: &Hull) -> PosedCore<'_> {
    PosedCore::Hull { structure_from_link: Pose::identity(), hull }
}

fn is_cylinder(core: &PosedCore) -> bool {
    matches!(core, PosedCore::Cylinder { .. })
}

/// Turns an axis to a greater gap, by steps of an angle that is halved when none of four directions is better.
fn climb(a: &PosedCore, b: &PosedCore, start: Axis, first_step: f64) -> Axis {
    const FINEST_STEP: f64 = 1e-8;
    const MOST_ROUNDS: u32 = 200;
    let mut best = start;
    let mut step = first_step;
    for _ in 0..MOST_ROUNDS {
        if step < FINEST_STEP {
            break;
        }
        let n = best.normal.into_inner();
        let u = any_perpendicular(&n).into_inner();
        let v = n.cross(&u);
        let around = [u, -u, v, -v].map(|way| Axis::along(a, b, Direction::new_normalize(n + way * step)));
        let before = best.gap;
        for axis in around {
            if axis.gap > best.gap {
                best = axis;
            }
        }
        if best.gap <= before {
            step /= 2.0;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::random::{Kind, Random};
    use crate::space::{Convex, Core};
    use std::sync::Arc;

    #[test]
    fn no_climb_from_anywhere_finds_a_shallower_way_out() {
        let mut random = Random::seeded(11);
        for (a_kind, b_kind) in Kind::pairs() {
            for _ in 0..60 {
                let (a, b) = (random.core(a_kind), random.core(b_kind));
                let (a, b) = (Convex { core: a, radius: 0.0 }, Convex { core: b, radius: 0.0 });
                let (a_pose, b_pose) = (random.pose(0.5), random.pose(0.5));
                let (a, b) = (a.posed(&a_pose).core, b.posed(&b_pose).core);
                if nearest_points(&a, &b).is_some() {
                    continue;
                }
                let found = overlap(&a, &b);
                for _ in 0..8 {
                    let start = Axis::along(&a, &b, random.direction());
                    let climbed = climb(&a, &b, start, 0.5);
                    assert!(
                        climbed.gap <= found.upper + 1e-12,
                        "{a_kind:?} {b_kind:?} {} {} {:?} {:?}",
                        climbed.gap,
                        found.upper,
                        a,
                        b
                    );
                }
            }
        }
    }

    #[test]
    fn a_box_is_as_deep_as_the_hull_of_its_corners() {
        let mut random = Random::seeded(12);
        let hull_of = |core: &Core| {
            let (corners, _) = Convex { core: core.clone(), radius: 0.0 }.extent();
            let hull = crate::space::hull(&corners).expect("a box is a solid");
            Convex { core: Core::Hull(Arc::new(hull)), radius: 0.0 }
        };
        for _ in 0..500 {
            let (a, b) = (random.core(Kind::Box), random.core(Kind::Box));
            let (a_pose, b_pose) = (random.pose(0.5), random.pose(0.5));
            let (a_hull, b_hull) = (hull_of(&a), hull_of(&b));
            let (a, b) = (Convex { core: a, radius: 0.0 }, Convex { core: b, radius: 0.0 });
            let boxes = best_axis(&a.posed(&a_pose).core, &b.posed(&b_pose).core);
            let hulls = best_axis(&a_hull.posed(&a_pose).core, &b_hull.posed(&b_pose).core);
            assert!(
                (boxes.gap - hulls.gap).abs() < 1e-12,
                "{} {} {:?} {:?}",
                boxes.gap,
                hulls.gap,
                boxes.normal,
                hulls.normal
            );
        }
    }

    #[test]
    fn the_points_of_an_overlap_lie_a_depth_apart_along_the_normal() {
        let mut random = Random::seeded(13);
        let polytopes = [Kind::Segment, Kind::Triangle, Kind::Box, Kind::Hull];
        for a_kind in polytopes {
            for b_kind in polytopes {
                for _ in 0..100 {
                    let (a, b) = (random.core(a_kind), random.core(b_kind));
                    let (a, b) = (Convex { core: a, radius: 0.0 }, Convex { core: b, radius: 0.0 });
                    let (a_pose, b_pose) = (random.pose(0.5), random.pose(0.5));
                    let (a, b) = (a.posed(&a_pose).core, b.posed(&b_pose).core);
                    if nearest_points(&a, &b).is_none() {
                        let found = overlap(&a, &b);
                        let expected = found.normal.into_inner() * found.upper;
                        assert!((found.point_b - found.point_a - expected).norm() < 1e-9);
                    }
                }
            }
        }
    }
}
