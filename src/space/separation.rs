//! How far apart are two convex shapes, or how deep in one another, and along which direction?
//!
//! # Law
//! The signed distance is the greatest gap between two parallel planes that have the shapes on either side,
//! `max over unit n of [lowest n·q over b − highest n·p over a]`: apart, the distance of the nearest points; overlapping,
//! minus the length of the least displacement that separates. Growing the shapes by radii subtracts the radii from it, so
//! the cores are asked and the radii are subtracted here.
//!
//! Any unit `n` gives a lower bound, so `lower` holds however inexact the routine was that found `n`.
//! `upper` is the distance of two points, one in each core, less the radii; for overlapping cores see [`super::overlap`].
//! Both hold up to the rounding of f64 at the size of the coordinates (1e-14 m at 10 m).
//!
//! # Source
//! Support functions and separating planes: Boyd & Vandenberghe, *Convex Optimization*, 2004, section 8.2 (from memory).

use super::{Direction, Point, PosedConvex, PosedCore, Vector, overlap};
use super::{point_box, point_cylinder, segment_box, segment_segment, support_search};

/// The signed distance of two convex shapes: positive apart, negative overlapping (depth).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Separation {
    /// Never above the true signed distance: the support-plane value for `normal`, in metres.
    pub lower: f64,
    /// Never below the true signed distance, in metres.
    pub upper: f64,
    /// Unit vector from the first shape towards the second.
    pub normal: Direction,
    /// Nearest point of the first shape (on its surface), in the structure's frame.
    pub point_a: Point,
    /// Nearest point of the second shape (on its surface), in the structure's frame.
    pub point_b: Point,
}

/// Cores nearer than this are treated as touching: the line between their nearest points is rounding, not a direction.
pub(super) const TOUCHING: f64 = 1e-12;

/// A bracket wider than this gets a second attempt at its normal.
const CLOSED: f64 = 1e-9;

/// The signed distance of two posed convex shapes.
pub fn separation(a: &PosedConvex, b: &PosedConvex) -> Separation {
    let Some((point_a, point_b)) = nearest_points(&a.core, &b.core) else {
        return overlapping(a, b);
    };
    let between = point_b - point_a;
    let distance = between.norm();
    if distance <= TOUCHING {
        return overlapping(a, b);
    }
    let normal = Direction::new_unchecked(between / distance);
    let found = grown(a, b, normal, distance, (point_a, point_b));
    if found.upper - found.lower <= CLOSED {
        return found;
    }
    let better = overlap::sharper_normal(&a.core, &b.core, normal);
    grown(a, b, better, distance, (point_a, point_b))
}

/// The gap along `normal`, in metres: lowest `normal·q` over `b` less highest `normal·p` over `a`.
///
/// Never above the signed distance of the two shapes, whichever way `normal` points.
#[inline]
pub fn support_gap(a: &PosedConvex, b: &PosedConvex, normal: &Direction) -> f64 {
    core_gap(&a.core, &b.core, normal) - a.radius - b.radius
}

/// The gap along a unit vector between two cores.
#[inline]
pub(super) fn core_gap(a: &PosedCore, b: &PosedCore, normal: &Vector) -> f64 {
    -b.highest(&-normal) - a.highest(normal)
}

/// Nearest points of two cores; none when they overlap.
#[inline]
pub(super) fn nearest_points(a: &PosedCore, b: &PosedCore) -> Option<(Point, Point)> {
    use PosedCore::{Box, Cylinder, Point, Segment};
    let swapped = |(q, p)| (p, q);
    match (a, b) {
        (Point(p), Point(q)) => Some((*p, *q)),
        (Point(p), Segment(q, r)) => Some(segment_segment::nearest_points([p, p], [q, r])),
        (Segment(p, q), Point(r)) => Some(segment_segment::nearest_points([p, q], [r, r])),
        (Segment(p, q), Segment(r, s)) => Some(segment_segment::nearest_points([p, q], [r, s])),
        (Point(p), Box { centre, half_edges }) => point_box::nearest_points(p, centre, half_edges),
        (Box { centre, half_edges }, Point(p)) => point_box::nearest_points(p, centre, half_edges).map(swapped),
        (Segment(p, q), Box { centre, half_edges }) => segment_box::nearest_points([p, q], centre, half_edges),
        (Box { centre, half_edges }, Segment(p, q)) => {
            segment_box::nearest_points([p, q], centre, half_edges).map(swapped)
        }
        (Point(p), Cylinder { centre, half_axis, radius }) => {
            point_cylinder::nearest_points(p, centre, half_axis, *radius)
        }
        (Cylinder { centre, half_axis, radius }, Point(p)) => {
            point_cylinder::nearest_points(p, centre, half_axis, *radius).map(swapped)
        }
        _ => support_search::nearest_points(a, b),
    }
}

fn overlapping(a: &PosedConvex, b: &PosedConvex) -> Separation {
    let cores = overlap::overlap(&a.core, &b.core);
    grown(a, b, cores.normal, cores.upper, (cores.point_a, cores.point_b))
}

/// From cores to shapes: radii off the distance, surface points a radius nearer to one another.
#[inline]
fn grown(
    a: &PosedConvex,
    b: &PosedConvex,
    normal: Direction,
    core_upper: f64,
    (point_a, point_b): (Point, Point),
) -> Separation {
    let upper = core_upper - a.radius - b.radius;
    Separation {
        // Both bounds are true; where they meet, rounding may have put them in the wrong order.
        lower: support_gap(a, b, &normal).min(upper),
        upper,
        normal,
        point_a: point_a + normal.into_inner() * a.radius,
        point_b: point_b - normal.into_inner() * b.radius,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::random::{Kind, Random};
    use crate::space::{Convex, Core, Pose};
    use std::f64::consts::{FRAC_PI_4, SQRT_2};

    fn at(p: [f64; 3]) -> Point {
        Point::from(p)
    }

    fn ball(centre: [f64; 3], radius: f64) -> Convex {
        Convex { core: Core::Point(at(centre)), radius }
    }

    fn capsule(p: [f64; 3], q: [f64; 3], radius: f64) -> Convex {
        Convex { core: Core::Segment(at(p), at(q)), radius }
    }

    /// Turned about an axis, then moved.
    fn boxed(half: [f64; 3], turn: Vector, moved: [f64; 3]) -> Convex {
        let link_from_box = Pose::new(Vector::from(moved), turn);
        Convex { core: Core::Box { link_from_box, half: Vector::from(half) }, radius: 0.0 }
    }

    fn cube(turn: Vector, moved: [f64; 3]) -> Convex {
        boxed([0.5; 3], turn, moved)
    }

    fn triangle(corners: [[f64; 3]; 3]) -> Convex {
        Convex { core: Core::Triangle(corners.map(at)), radius: 0.0 }
    }

    /// Both bounds, both ways round.
    fn assert_signed_distance(a: &Convex, b: &Convex, expected: f64) {
        let identity = Pose::identity();
        let (a, b) = (a.posed(&identity), b.posed(&identity));
        for found in [separation(&a, &b), separation(&b, &a)] {
            let near = |value: f64| (value - expected).abs() < 1e-9;
            assert!(near(found.lower) && near(found.upper), "expected {expected}, found {found:?}");
        }
    }

    // Closed forms, evaluated in double precision; the same values were computed with coal 3.0.3 (signed distance on;
    // largest difference 1.1e-10, on boxes). Tolerance 1e-9: the figures with six digits are written as their formula.
    #[test]
    fn line_segments_and_capsules_agree_with_closed_forms_and_coal() {
        let skew = |r, s| (capsule([0., 0., 0.], [1., 0., 0.], r), capsule([0.5, -1., 0.3], [0.5, 1., 0.3], s));
        let end_to_end = |r| (capsule([0., 0., 0.], [1., 0., 0.], r), capsule([2., 1., 2.], [3., 1., 2.], r));
        let parallel = |r, s| (capsule([0., 0., 0.], [2., 0., 0.], r), capsule([1., 0.5, 0.], [3., 0.5, 0.], s));
        let collinear = |r| (capsule([0., 0., 0.], [1., 0., 0.], r), capsule([1.25, 0., 0.], [2., 0., 0.], r));
        let crossing = |r| (capsule([-1., 0., 0.], [1., 0., 0.], r), capsule([0., -1., 0.], [0., 1., 0.], r));
        let no_length = |r, s| (capsule([0., 0., 1.], [0., 0., 1.], r), capsule([-1., 0., 0.], [1., 0., 0.], s));
        let inside_of_one = |r, s| (capsule([0., 0., 0.], [1., 0., 0.], r), capsule([0.5, 1., -1.], [0.5, 1., 1.], s));
        let near_parallel = |r, s| (capsule([0., 0., 0.], [2., 0., 0.], r), capsule([1., 0.3, 0.], [3., 0.3, 0.], s));
        let both_of_no_length = (capsule([0., 0., 0.], [0., 0., 0.], 0.1), capsule([1., 2., 2.], [1., 2., 2.], 0.2));
        let parallel_apart = (capsule([0., 0., 0.], [1., 0., 0.], 0.), capsule([2., 1., 0.], [3., 1., 0.], 0.));
        let crossing_off_centre = (capsule([0., 0., 0.], [2., 0., 0.], 0.), capsule([1., -1., 0.], [1., 1., 0.], 0.));
        let rows = [
            (skew(0.0, 0.0), 0.3),
            (skew(0.10, 0.15), 0.05),
            (skew(0.2, 0.2), -0.1),
            (end_to_end(0.0), 6_f64.sqrt()),
            (end_to_end(0.1), 6_f64.sqrt() - 0.2),
            (parallel(0.0, 0.0), 0.5),
            (parallel(0.1, 0.2), 0.2),
            (collinear(0.0), 0.25),
            (collinear(0.05), 0.15),
            (crossing(0.0), 0.0),
            (crossing(0.1), -0.2),
            (no_length(0.0, 0.0), 1.0),
            (no_length(0.1, 0.2), 0.7),
            (both_of_no_length, 2.7),
            (inside_of_one(0.0, 0.0), 1.0),
            (inside_of_one(0.2, 0.3), 0.5),
            (parallel_apart, SQRT_2),
            (near_parallel(0.0, 0.0), 0.3),
            (near_parallel(0.2, 0.3), -0.2),
            (crossing_off_centre, 0.0),
        ];
        for ((a, b), expected) in rows {
            assert_signed_distance(&a, &b, expected);
        }
        let point = ball([0., 0., 0.], 0.0);
        assert_signed_distance(&point, &capsule([1., 1., 1.], [1., 1., 3.], 0.0), 3_f64.sqrt());
    }

    // Sources as above.
    #[test]
    fn spheres_and_boxes_agree_with_closed_forms_and_coal() {
        let still = Vector::zeros();
        let brick = boxed([0.5, 0.4, 0.3], still, [0.; 3]);
        let two = boxed([1.; 3], still, [0.; 3]);
        let rows = [
            (ball([1., 0., 0.], 0.2), &brick, 0.3),
            (ball([1.1, 1.2, 0.], 0.2), &brick, 0.8),
            (ball([1.5, 1.4, 1.3], 0.2), &brick, 3_f64.sqrt() - 0.2),
            (ball([0.4, 0., 0.], 0.2), &brick, -0.3),
            (ball([3., 0., 0.], 0.5), &two, 1.5),
            (ball([2., 2., 0.], 0.5), &two, SQRT_2 - 0.5),
            (ball([2., 2., 2.], 0.5), &two, 3_f64.sqrt() - 0.5),
        ];
        for (sphere, solid, expected) in rows {
            assert_signed_distance(&sphere, solid, expected);
        }
    }

    // Sources as above.
    #[test]
    fn boxes_agree_with_closed_forms_and_coal() {
        let still = Vector::zeros();
        let turned = |axis: Vector| axis * FRAC_PI_4;
        let here = cube(still, [0.; 3]);
        let here_turned = cube(turned(Vector::z()), [0.; 3]);
        let two = boxed([1.; 3], still, [0.; 3]);
        let two_turned = |moved| boxed([1.; 3], turned(Vector::z()), moved);
        let rows = [
            (&here, cube(still, [1.5, 0.2, 0.]), 0.5),
            (&here, cube(still, [0.9, 0.2, 0.]), -0.1),
            (&here, cube(still, [2., 3., 3.]), 3.0),
            (&here_turned, cube(turned(Vector::y()), [2., 0., 0.]), 2.0 - SQRT_2),
            (&here_turned, cube(turned(Vector::y()), [1.3, 0., 0.]), 1.3 - SQRT_2),
            (&two, two_turned([4., 0., 0.]), 3.0 - SQRT_2),
            (&two, two_turned([3., 3., 0.]), 2.0 * SQRT_2 - 1.0),
            (&two, boxed([1.; 3], still, [1.5, 0., 0.]), -0.5),
        ];
        for (a, b, expected) in rows {
            assert_signed_distance(a, &b, expected);
        }
    }

    // Sources as above.
    #[test]
    fn capsules_and_boxes_agree_with_closed_forms_and_coal() {
        let brick = boxed([0.5, 0.4, 0.3], Vector::zeros(), [0.; 3]);
        let rows = [
            (capsule([-1., 0., 1.], [1., 0., 1.], 0.1), 0.6),
            (capsule([1.1, 1.2, -1.], [1.1, 1.2, 1.], 0.2), 0.8),
            (capsule([1., 0., -1.], [0., 1., 1.], 0.1), 0.1 / SQRT_2 - 0.1),
            (capsule([1., 0., -1.], [0., 1., 1.], 0.05), 0.1 / SQRT_2 - 0.05),
            (capsule([-2., 0., 0.], [2., 0., 0.], 0.1), -0.4),
        ];
        for (bar, expected) in rows {
            assert_signed_distance(&bar, &brick, expected);
        }
    }

    // Source as above.
    #[test]
    fn a_sphere_over_the_rim_of_a_cylinder_agrees_with_the_closed_form_and_coal() {
        let link_from_cylinder = Pose::identity();
        let core = Core::Cylinder { link_from_cylinder, half_length: 1.0, radius: 0.5 };
        let cylinder = Convex { core, radius: 0.0 };
        assert_signed_distance(&cylinder, &ball([1., 0., 1.5], 0.1), 0.5_f64.sqrt() - 0.1);
        // In it, 0.1 below the lid and 0.2 from the side: depth 0.1 and the radius. Closed form.
        assert_signed_distance(&cylinder, &ball([0.3, 0., 0.9], 0.1), -0.2);
    }

    // Closed forms; the same values were computed with trimesh 5.2.0, save for the collapsed triangle.
    #[test]
    fn points_and_triangles_agree_with_closed_forms_and_trimesh() {
        let facet = triangle([[0., 0., 0.], [1., 0., 0.], [0., 1., 0.]]);
        let rows = [
            ([0.25, 0.25, 0.5], 0.5),
            ([1., 1., 0.], 0.5_f64.sqrt()),
            ([0.25, -0.5, 0.5], 0.5_f64.sqrt()),
            ([2., 0., 0.], 1.0),
            ([-1., -1., 1.], 3_f64.sqrt()),
            ([0.25, 0.25, 0.], 0.0),
        ];
        for (point, expected) in rows {
            assert_signed_distance(&facet, &ball(point, 0.0), expected);
        }
        let collapsed = triangle([[0., 0., 0.], [1., 0., 0.], [2., 0., 0.]]);
        assert_signed_distance(&collapsed, &ball([1., 1., 0.], 0.0), 1.0);
    }

    #[test]
    fn bodies_of_no_extent_that_touch_have_depth_zero_and_a_unit_normal() {
        let dot = triangle([[1., 1., 1.]; 3]);
        let line = triangle([[0., 1., 1.], [2., 1., 1.], [1., 1., 1.]]);
        let flat = triangle([[0., 0., 1.], [2., 1., 1.], [1., 4., 1.]]);
        let point = ball([1., 1., 1.], 0.0);
        let no_length = capsule([1., 1., 1.], [1., 1., 1.], 0.0);
        let along = capsule([-1., 1., 1.], [3., 1., 1.], 0.0);
        let all = [dot, line, flat, point, no_length, along];
        let identity = Pose::identity();
        for a in &all {
            for b in &all {
                assert_signed_distance(a, b, 0.0);
                let found = separation(&a.posed(&identity), &b.posed(&identity));
                assert!((found.normal.norm() - 1.0).abs() < 1e-12, "{found:?}");
                let points = [found.point_a, found.point_b];
                assert!(points.iter().all(|p| p.iter().all(|x| x.is_finite())), "{found:?}");
            }
        }
    }

    /// Two random shapes of each pair of kinds, many times over, near enough to overlap often.
    fn for_random_pairs(seed: u64, times: usize, mut check: impl FnMut(&mut Random, [&Convex; 2], [Pose; 2])) {
        let mut random = Random::seeded(seed);
        for (a_kind, b_kind) in Kind::pairs() {
            for _ in 0..times {
                let (a, b) = (random.shape(a_kind), random.shape(b_kind));
                let poses = [random.pose(1.0), random.pose(1.0)];
                check(&mut random, [&a, &b], poses);
            }
        }
    }

    /// What two true brackets of the same number must do.
    fn overlap(one: &Separation, other: &Separation) -> bool {
        one.lower <= other.upper + 1e-12 && other.lower <= one.upper + 1e-12
    }

    #[test]
    fn the_order_of_the_pair_does_not_change_the_distance() {
        for_random_pairs(1, 200, |_, [a, b], [a_pose, b_pose]| {
            let (a, b) = (a.posed(&a_pose), b.posed(&b_pose));
            assert!(overlap(&separation(&a, &b), &separation(&b, &a)));
        });
    }

    #[test]
    fn one_rigid_motion_of_both_does_not_change_the_distance() {
        for_random_pairs(2, 200, |random, [a, b], [a_pose, b_pose]| {
            let motion = random.pose(10.0);
            let here = separation(&a.posed(&a_pose), &b.posed(&b_pose));
            let there = separation(&a.posed(&(motion * a_pose)), &b.posed(&(motion * b_pose)));
            assert!(overlap(&here, &there), "{here:?} {there:?}");
        });
    }

    #[test]
    fn growing_a_radius_lowers_both_bounds_by_exactly_that() {
        for_random_pairs(3, 200, |random, [a, b], [a_pose, b_pose]| {
            let growth = random.between(0.0, 0.5);
            let grown = Convex { core: a.core.clone(), radius: a.radius + growth };
            let before = separation(&a.posed(&a_pose), &b.posed(&b_pose));
            let after = separation(&grown.posed(&a_pose), &b.posed(&b_pose));
            assert!((before.upper - after.upper - growth).abs() < 1e-12);
            assert!((before.lower - after.lower - growth).abs() < 1e-12);
        });
    }

    #[test]
    fn a_displacement_lowers_the_distance_by_at_most_its_length() {
        for_random_pairs(4, 200, |random, [a, b], [a_pose, b_pose]| {
            let by = random.direction().into_inner() * random.between(0.0, 2.0);
            let displaced = Pose::from_parts((a_pose.translation.vector + by).into(), a_pose.rotation);
            let before = separation(&a.posed(&a_pose), &b.posed(&b_pose));
            let after = separation(&a.posed(&displaced), &b.posed(&b_pose));
            assert!(after.upper >= before.lower - by.norm() - 1e-12);
        });
    }

    #[test]
    fn moving_the_second_shape_out_along_the_normal_by_the_depth_ends_the_overlap() {
        for_random_pairs(5, 200, |_, [a, b], [a_pose, b_pose]| {
            let before = separation(&a.posed(&a_pose), &b.posed(&b_pose));
            if before.upper < 0.0 {
                let out = before.normal.into_inner() * (1e-6 - before.lower);
                let moved = Pose::from_parts((b_pose.translation.vector + out).into(), b_pose.rotation);
                let after = separation(&a.posed(&a_pose), &b.posed(&moved));
                assert!(after.lower > 0.0 && after.upper < 1e-2, "{before:?} {after:?}");
            }
        });
    }

    #[test]
    fn no_two_points_of_the_shapes_are_nearer_than_the_lower_bound() {
        for_random_pairs(6, 100, |random, [a, b], [a_pose, b_pose]| {
            let (a, b) = (a.posed(&a_pose), b.posed(&b_pose));
            let lower = separation(&a, &b).lower;
            for _ in 0..50 {
                let p = some_point(random, &a);
                let q = some_point(random, &b);
                assert!((q - p).norm() >= lower - 1e-12);
            }
        });
    }

    /// A mean of two surface points.
    fn some_point(random: &mut Random, shape: &PosedConvex) -> Point {
        let mut surface = || {
            let n = random.direction().into_inner();
            shape.core.farthest(&n) + n * shape.radius
        };
        nalgebra::center(&surface(), &surface())
    }

    #[test]
    fn no_direction_gives_a_greater_gap_than_the_upper_bound() {
        for_random_pairs(7, 100, |random, [a, b], [a_pose, b_pose]| {
            let (a, b) = (a.posed(&a_pose), b.posed(&b_pose));
            let found = separation(&a, &b);
            for _ in 0..50 {
                // Near the normal found as well as anywhere.
                let wide = if random.unit() < 0.5 { 2.0 } else { 0.1 };
                let around = found.normal.into_inner() + random.direction().into_inner() * wide;
                let normal = Direction::new_normalize(around);
                assert!(support_gap(&a, &b, &normal) <= found.upper + 1e-12);
            }
        });
    }

    #[test]
    fn the_lower_bound_is_the_support_gap_of_the_normal() {
        for_random_pairs(8, 50, |_, [a, b], [a_pose, b_pose]| {
            let (a, b) = (a.posed(&a_pose), b.posed(&b_pose));
            let found = separation(&a, &b);
            assert!((support_gap(&a, &b, &found.normal) - found.lower).abs() < 1e-12);
        });
    }

    #[test]
    fn gaps_from_a_nanometre_to_a_millimetre_are_told() {
        let still = Vector::zeros();
        for gap in [1e-9, 1e-8, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3] {
            let here = cube(still, [0.; 3]);
            for b in [
                cube(still, [1.0 + gap, 0.2, 0.1]),
                cube(Vector::x() * 0.3, [1.0 + gap, 0.2, 0.1]),
                ball([0.5 + gap + 0.2, 0.1, 0.1], 0.2),
                capsule([0.5 + gap, -1., 0.2], [0.5 + gap, 1., 0.1], 0.0),
                triangle([[0.5 + gap, -1., 0.2], [0.5 + gap, 1., 0.1], [0.5 + gap, 0.0, 0.4]]),
            ] {
                assert_signed_distance(&here, &b, gap);
            }
        }
    }
}
