//! Which convex solid do some points span?
//!
//! # Law
//! The solid is the set of all their means; its corners are among the points. Points that span no solid (too few, on one
//! line, in one plane) are refused with the reason. What [`super::quickhull`] finds is looked over before it is returned: a
//! closed surface, convex, all points inside.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use super::quickhull::facets_around;
use super::separating_axes::facet_normal;
use super::separation::nearest_points;
use super::{Hull, Mesh, Point, Pose, PosedCore, Vector};

/// Why points have no convex hull with a volume.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HullError {
    /// Fewer than four points were given.
    TooFew { found: usize },
    /// The coordinates of this point are not all finite.
    NotFinite { index: usize },
    /// All points are in one place.
    OnePlace,
    /// All points are on one line, within 1e-6 of their extent.
    OneLine,
    /// All points are in one plane, within 1e-6 of their extent.
    OnePlane,
    /// No closed convex surface round all points was found: rounding, at sizes that nothing real has; what was wrong.
    NotFound(&'static str),
}

impl fmt::Display for HullError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            HullError::TooFew { found } => write!(f, "a convex hull needs at least 4 points, not {found}"),
            HullError::NotFinite { index } => write!(f, "point {index} has a coordinate that is not finite"),
            HullError::OnePlace => write!(f, "all points are in the same place, so they span no solid"),
            HullError::OneLine => write!(f, "all points are on one line, so they span no solid"),
            HullError::OnePlane => write!(f, "all points are in one plane, so they span no solid"),
            HullError::NotFound(why) => write!(f, "no convex hull was found: {why}"),
        }
    }
}

impl std::error::Error for HullError {}

/// Points nearer to a line or a plane than this times their extent are taken to be on it: single precision leaves 1e-7.
const FLAT: f64 = 1e-6;

/// How far outside the hull a point may lie, times the extent of all: the rounding of the single precision that files hold.
const ROUNDING: f64 = 1e-7;

/// What counts as in a plane, tried in turn, and again from other points: points that lie just about that far from a plane
/// may break the surface.
const ROUNDINGS: [f64; 4] = [1e-9, 1e-8, 1e-7, 1e-10];

/// The convex hull of some points, in their frame and in metres.
///
/// Each corner is one of the points, and no point lies outside by more than 1e-7 of the extent of all.
pub fn hull(points: &[Point]) -> Result<Hull, HullError> {
    if points.len() < 4 {
        return Err(HullError::TooFew { found: points.len() });
    }
    if let Some(index) = points.iter().position(|p| !p.iter().all(|x| x.is_finite())) {
        return Err(HullError::NotFinite { index });
    }
    let mut failure = "";
    for first in [0, points.len() - 1, points.len() / 2] {
        let frame = SpannedFrame::from(points, first)?;
        for rounding in ROUNDINGS {
            match hull_in(&frame, points, rounding) {
                Ok(hull) => return Ok(hull),
                Err(why) => failure = why,
            }
        }
    }
    Err(HullError::NotFound(failure))
}

/// One attempt.
fn hull_in(frame: &SpannedFrame, points: &[Point], rounding: f64) -> Result<Hull, &'static str> {
    let seen: Vec<Point> = points.iter().map(|p| frame.coordinates(p)).collect();
    let facets = facets_around(&seen, frame.start, rounding).ok_or("its surface fell apart")?;
    let corners: BTreeSet<usize> = facets.iter().flatten().copied().collect();
    let place: BTreeMap<usize, usize> = corners.iter().enumerate().map(|(place, index)| (*index, place)).collect();
    let hull = Hull {
        corners: corners.iter().map(|index| points[*index]).collect(),
        facets: facets.iter().map(|facet| facet.map(|index| place[&index])).collect(),
    };
    let others = points.iter().enumerate().filter(|(index, _)| !corners.contains(index)).map(|(_, point)| point);
    checked(&hull, others, frame.extent)?;
    Ok(hull)
}

/// Axes in which points are about as long as wide as thick; a hull stays a hull under any affine map.
struct SpannedFrame {
    origin: Point,
    /// Rows: along, across and normal, each over the size of the points that way. Right-handed.
    unit_from_offset: nalgebra::Matrix3<f64>,
    /// The greatest distance from the origin, in metres.
    extent: f64,
    /// Four of the points that span a solid.
    start: [usize; 4],
}

impl SpannedFrame {
    fn from(points: &[Point], first: usize) -> Result<SpannedFrame, HullError> {
        let origin = points[first];
        let farthest_by = |height: &dyn Fn(&Vector) -> f64| {
            let heights = points.iter().map(|p| height(&(p - origin))).enumerate();
            heights.fold((0, 0.0), |best, next| if next.1 > best.1 { next } else { best })
        };
        let (second, extent) = farthest_by(&|offset| offset.norm());
        if extent == 0.0 {
            return Err(HullError::OnePlace);
        }
        let along = (points[second] - origin) / extent;
        let (third, width) = farthest_by(&|offset| offset.cross(&along).norm());
        if width <= FLAT * extent {
            return Err(HullError::OneLine);
        }
        let normal = along.cross(&(points[third] - origin)).normalize();
        let (fourth, thickness) = farthest_by(&|offset| offset.dot(&normal).abs());
        if thickness <= FLAT * extent {
            return Err(HullError::OnePlane);
        }
        let rows = [along / extent, normal.cross(&along) / width, normal / thickness].map(|axis| axis.transpose());
        let unit_from_offset = nalgebra::Matrix3::from_rows(&rows);
        Ok(SpannedFrame { origin, unit_from_offset, extent, start: [first, second, third, fourth] })
    }

    fn coordinates(&self, point: &Point) -> Point {
        Point::from(self.unit_from_offset * (point - self.origin))
    }
}

/// Whether the hull is a closed convex surface that the other points are inside of, within rounding; if not, why.
fn checked<'a>(hull: &Hull, others: impl Iterator<Item = &'a Point>, extent: f64) -> Result<(), &'static str> {
    let surface = Mesh { vertices: hull.corners.clone(), triangles: hull.facets.clone() };
    if !(surface.is_closed() && surface.is_oriented() && surface.volume() > 0.0) {
        return Err("its surface is not closed");
    }
    let solid = PosedCore::Hull { structure_from_link: Pose::identity(), hull };
    for [a, b, c] in hull.facets.iter().map(|facet| facet.map(|k| hull.corners[k])) {
        // The plane through three rounded points is the less certain the thinner the triangle and the farther from it.
        let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
        let height = (b - a).cross(&(c - a)).norm() / longest;
        if let Some(normal) = facet_normal(&a, &b, &c)
            && solid.highest(&normal) > normal.dot(&a.coords) + ROUNDING * extent * (1.0 + extent / height)
        {
            return Err("its surface is not convex");
        }
    }
    for point in others {
        if let Some((p, q)) = nearest_points(&PosedCore::Point(*point), &solid)
            && (q - p).norm() > ROUNDING * extent
        {
            return Err("one of the points lies outside it");
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::random::Random;

    fn points(coordinates: &[[f64; 3]]) -> Vec<Point> {
        coordinates.iter().map(|p| Point::from(*p)).collect()
    }

    /// Three layers of five by five points: most of them in the faces and edges of a box.
    fn lattice(half: &Vector) -> Vec<Point> {
        let at = |k: usize| (k % 5) as f64 / 2.0 - 1.0;
        (0..125).map(|k| Point::from(Vector::new(at(k), at(k / 5), at(k / 25)).component_mul(half))).collect()
    }

    fn as_single_precision(points: &[Point]) -> Vec<Point> {
        points.iter().map(|p| p.map(|x| f64::from(x as f32))).collect()
    }

    #[test]
    fn points_that_span_no_solid_are_refused_for_the_reason_that_holds() {
        let reason = |coordinates: &[[f64; 3]]| hull(&points(coordinates)).expect_err("no solid");
        let corner = [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.]];
        assert_eq!(reason(&corner), HullError::TooFew { found: 3 });
        assert_eq!(reason(&[corner[0], corner[1], corner[2], [0., f64::NAN, 1.]]), HullError::NotFinite { index: 3 });
        assert_eq!(
            reason(&[corner[0], [0., f64::INFINITY, 0.], corner[2], corner[1]]),
            HullError::NotFinite { index: 1 }
        );
        assert_eq!(reason(&[[1., 2., 3.]; 5]), HullError::OnePlace);
        assert_eq!(reason(&[[0., 0., 0.], [1., 2., 3.], [2., 4., 6.], [-1., -2., -3.]]), HullError::OneLine);
        assert_eq!(reason(&[corner[0], corner[1], corner[2], [1., 1., 0.], [3., 2., 0.]]), HullError::OnePlane);
    }

    #[test]
    fn a_turned_flat_plate_is_flat_in_single_precision_too() {
        let mut random = Random::seeded(61);
        for _ in 0..200 {
            let pose = random.pose(10.0);
            let plate: Vec<Point> = lattice(&Vector::new(3.0, 2.0, 0.0)).iter().map(|p| pose * p).collect();
            assert_eq!(hull(&as_single_precision(&plate)).err(), Some(HullError::OnePlane));
        }
    }

    #[test]
    fn points_in_the_faces_of_a_box_do_not_change_its_volume() {
        let half = Vector::new(0.5, 1.0, 1.5);
        let found = hull(&lattice(&half)).expect("a box is a solid");
        let surface = Mesh { vertices: found.corners, triangles: found.facets };
        assert!((surface.volume() - 6.0).abs() < 1e-12);
    }

    #[test]
    fn no_point_lies_outside_and_every_corner_is_one_of_the_points() {
        let mut random = Random::seeded(62);
        for _ in 0..1_000 {
            let pose = random.pose(5.0);
            let half = Vector::from_fn(|_, _| random.between(0.01, 4.0));
            let exact: Vec<Point> = lattice(&half).iter().map(|p| pose * p).collect();
            for points in [as_single_precision(&exact), exact] {
                let found = hull(&points).expect("a box is a solid");
                assert!(found.corners.iter().all(|corner| points.contains(corner)));
                let solid = PosedCore::Hull { structure_from_link: Pose::identity(), hull: &found };
                for _ in 0..20 {
                    let direction = random.direction();
                    let farthest = points.iter().map(|p| direction.dot(&p.coords)).fold(f64::MIN, f64::max);
                    assert!(solid.highest(&direction) >= farthest - 1e-6);
                }
            }
        }
    }

    // Lattice points jittered by 1e-18 to 1e-4 of a step, in boxes from 1:1 to 1:10,000, many of them twice.
    #[test]
    fn nearly_flat_and_nearly_equal_points_have_a_hull_or_span_no_solid() {
        let mut random = Random::seeded(64);
        let mut found = 0;
        for _ in 0..20_000 {
            let half = 1.0 + random.between(0.0, 4.0).floor();
            let jitter = 10_f64.powf(random.between(-18.0, -4.0));
            let stretch = Vector::from_fn(|_, _| 10_f64.powf(random.between(-3.0, 1.0)));
            let count = 4 + random.between(0.0, 20.0) as usize;
            let mut point = || {
                let step = random.point(half).coords.map(f64::round);
                Point::from((step + random.direction().into_inner() * jitter).component_mul(&stretch))
            };
            match hull(&(0..count).map(|_| point()).collect::<Vec<_>>()) {
                Ok(_) => found += 1,
                Err(why) => assert!(matches!(why, HullError::OnePlane | HullError::OneLine), "{why}"),
            }
        }
        assert!(found > 19_000);
    }

    #[test]
    fn a_cloud_has_the_hull_that_the_library_finds() {
        let mut random = Random::seeded(65);
        for _ in 0..300 {
            let cloud: Vec<Point> = (0..60).map(|_| random.point(1.0)).collect();
            let ours = hull(&cloud).expect("a solid");
            let theirs = crate::space::library::reference::hull(&cloud);
            assert_eq!(ours.corners.len(), theirs.corners.len());
            assert_eq!(ours.facets.len(), theirs.facets.len());
            let volume = |hull: Hull| Mesh { vertices: hull.corners, triangles: hull.facets }.volume();
            assert!((volume(ours) - volume(theirs)).abs() < 1e-12);
        }
    }

    #[test]
    fn repeated_points_change_nothing() {
        let mut random = Random::seeded(63);
        for _ in 0..200 {
            let once: Vec<Point> = (0..20).map(|_| random.point(1.0)).collect();
            let twice = [once.clone(), once.clone()].concat();
            let (once, twice) = (hull(&once).expect("a solid"), hull(&twice).expect("a solid"));
            let volume = |hull: Hull| Mesh { vertices: hull.corners, triangles: hull.facets }.volume();
            assert!((volume(once) - volume(twice)).abs() < 1e-12);
        }
    }
}
