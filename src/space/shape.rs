//! What is the shape of one convex body, and how far does it stretch in a direction?
//!
//! # Domain
//! All numbers are finite; half sizes, half lengths and radii of disks are above zero; `radius` may be zero. Whoever reads a
//! file refuses anything else: nothing here looks for it again.
//!
//! # Law
//! A shape is the set of points within `radius` of its core. Its highest value along any vector `g` is
//! `max over p in core of g·p, plus radius·|g|` (the support function of a sum of sets is the sum of the two).

use std::sync::Arc;

use super::{Point, Pose, Vector};

/// A convex core in the frame of its link, in metres.
#[derive(Clone, Debug)]
pub enum Core {
    /// One point: with a radius, a sphere.
    Point(Point),
    /// A line segment between two points: with a radius, a capsule.
    Segment(Point, Point),
    /// A flat triangle: one facet of a mesh.
    Triangle([Point; 3]),
    /// A box of half sizes `half` about the origin of its own frame.
    Box { link_from_box: Pose, half: Vector },
    /// A right circular cylinder about the z axis of its own frame, of half length `half_length`.
    Cylinder { link_from_cylinder: Pose, half_length: f64, radius: f64 },
    /// The convex hull of a set of points.
    Hull(Arc<Hull>),
}

/// The corners and triangular facets of a convex hull of full rank, in the frame of its link.
#[derive(Debug)]
pub struct Hull {
    /// Corners, in metres.
    pub corners: Vec<Point>,
    /// Facets, counter-clockwise seen from outside, as indices into `corners`.
    pub facets: Vec<[usize; 3]>,
}

/// A convex shape: every point within `radius` metres of `core`.
#[derive(Clone, Debug)]
pub struct Convex {
    pub core: Core,
    pub radius: f64,
}

/// A core placed in the structure's frame, in the form that support functions need.
#[derive(Clone, Debug)]
pub enum PosedCore<'a> {
    Point(Point),
    Segment(Point, Point),
    Triangle([Point; 3]),
    /// Centre, and the three half edges as vectors.
    Box {
        centre: Point,
        half_edges: [Vector; 3],
    },
    /// Centre, half axis as a vector, radius of the disk.
    Cylinder {
        centre: Point,
        half_axis: Vector,
        radius: f64,
    },
    Hull {
        structure_from_link: Pose,
        hull: &'a Hull,
    },
}

/// A convex shape placed in the structure's frame.
#[derive(Clone, Debug)]
pub struct PosedConvex<'a> {
    pub core: PosedCore<'a>,
    pub radius: f64,
}

impl Convex {
    /// Places the shape, given where its link is.
    pub fn posed(&self, structure_from_link: &Pose) -> PosedConvex<'_> {
        let at = |p: &Point| structure_from_link * p;
        let core = match &self.core {
            Core::Point(p) => PosedCore::Point(at(p)),
            Core::Segment(a, b) => PosedCore::Segment(at(a), at(b)),
            Core::Triangle(corners) => PosedCore::Triangle(corners.map(|p| at(&p))),
            Core::Box { link_from_box, half } => {
                let pose = structure_from_link * link_from_box;
                let axes = pose.rotation.to_rotation_matrix();
                let edge = |k: usize| axes.matrix().column(k) * half[k];
                PosedCore::Box { centre: Point::from(pose.translation.vector), half_edges: [edge(0), edge(1), edge(2)] }
            }
            Core::Cylinder { link_from_cylinder, half_length, radius } => {
                let pose = structure_from_link * link_from_cylinder;
                PosedCore::Cylinder {
                    centre: Point::from(pose.translation.vector),
                    half_axis: pose.rotation * Vector::new(0.0, 0.0, *half_length),
                    radius: *radius,
                }
            }
            Core::Hull(hull) => PosedCore::Hull { structure_from_link: *structure_from_link, hull },
        };
        PosedConvex { core, radius: self.radius }
    }

    /// Points in the link's frame and a radius whose grown hull contains the shape: what a motion bound measures.
    ///
    /// Exact for points, segments, triangles, boxes and hulls; a cylinder is contained in the capsule of its axis.
    pub fn extent(&self) -> (Vec<Point>, f64) {
        match &self.core {
            Core::Point(p) => (vec![*p], self.radius),
            Core::Segment(a, b) => (vec![*a, *b], self.radius),
            Core::Triangle(corners) => (corners.to_vec(), self.radius),
            Core::Box { link_from_box, half } => {
                let corner = |k: usize| {
                    let sign = |bit: usize| if k >> bit & 1 == 0 { -1.0 } else { 1.0 };
                    link_from_box * Point::new(sign(0) * half.x, sign(1) * half.y, sign(2) * half.z)
                };
                ((0..8).map(corner).collect(), self.radius)
            }
            Core::Cylinder { link_from_cylinder, half_length, radius } => {
                let end = |z: f64| link_from_cylinder * Point::new(0.0, 0.0, z);
                (vec![end(-half_length), end(*half_length)], self.radius + radius)
            }
            Core::Hull(hull) => (hull.corners.clone(), self.radius),
        }
    }

    /// The same shape in another frame.
    pub fn moved(&self, to_from_link: &Pose) -> Self {
        let at = |p: &Point| to_from_link * p;
        let core = match &self.core {
            Core::Point(p) => Core::Point(at(p)),
            Core::Segment(a, b) => Core::Segment(at(a), at(b)),
            Core::Triangle(corners) => Core::Triangle(corners.map(|p| at(&p))),
            Core::Box { link_from_box, half } => Core::Box { link_from_box: to_from_link * link_from_box, half: *half },
            Core::Cylinder { link_from_cylinder, half_length, radius } => Core::Cylinder {
                link_from_cylinder: to_from_link * link_from_cylinder,
                half_length: *half_length,
                radius: *radius,
            },
            Core::Hull(hull) => Core::Hull(Arc::new(Hull {
                corners: hull.corners.iter().map(at).collect(),
                facets: hull.facets.clone(),
            })),
        };
        Self { core, radius: self.radius }
    }

    /// A ball that contains the shape, in the link's frame: middle of its extent's box, farthest point from there.
    pub fn ball(&self) -> (Point, f64) {
        let (points, radius) = self.extent();
        let first = points.first().copied().unwrap_or_else(Point::origin);
        let (low, high) = points.iter().fold((first, first), |(low, high), p| (low.inf(p), high.sup(p)));
        let centre = nalgebra::center(&low, &high);
        let farthest = points.iter().map(|p| (p - centre).norm()).fold(0.0, f64::max);
        (centre, farthest + radius)
    }
}

impl PosedConvex<'_> {
    /// The highest value of `g·p` over all points `p` of the shape, `g` of any length.
    pub fn highest(&self, g: &Vector) -> f64 {
        self.core.highest(g) + self.radius * g.norm()
    }

    /// The lowest value of `g·p` over all points `p` of the shape, `g` of any length.
    pub fn lowest(&self, g: &Vector) -> f64 {
        -self.highest(&-g)
    }
}

impl PosedCore<'_> {
    /// The highest value of `g·p` over all points `p` of the core, `g` of any length.
    #[inline]
    pub fn highest(&self, g: &Vector) -> f64 {
        match self {
            PosedCore::Point(p) => g.dot(&p.coords),
            PosedCore::Segment(a, b) => g.dot(&a.coords).max(g.dot(&b.coords)),
            PosedCore::Triangle([a, b, c]) => g.dot(&a.coords).max(g.dot(&b.coords)).max(g.dot(&c.coords)),
            PosedCore::Box { centre, half_edges: [x, y, z] } => {
                g.dot(&centre.coords) + g.dot(x).abs() + g.dot(y).abs() + g.dot(z).abs()
            }
            PosedCore::Cylinder { centre, half_axis, radius } => highest_of_cylinder(centre, half_axis, *radius, g),
            PosedCore::Hull { structure_from_link, hull } => highest_of_hull(structure_from_link, hull, g),
        }
    }

    /// A point of the core at which `g·p` is highest.
    pub(super) fn farthest(&self, g: &Vector) -> Point {
        let towards = |edge: &Vector| if g.dot(edge) >= 0.0 { *edge } else { -edge };
        let better = |p: &Point, q: &Point| if g.dot(&q.coords) > g.dot(&p.coords) { *q } else { *p };
        match self {
            PosedCore::Point(p) => *p,
            PosedCore::Segment(a, b) => better(a, b),
            PosedCore::Triangle([a, b, c]) => better(&better(a, b), c),
            PosedCore::Box { centre, half_edges: [x, y, z] } => centre + towards(x) + towards(y) + towards(z),
            PosedCore::Cylinder { centre, half_axis, radius } => {
                let axis = half_axis.normalize();
                let across = g - axis * g.dot(&axis);
                // Nearly along the axis, what is left across it is rounding and may point anywhere, off the disk too.
                let rim = across
                    .try_normalize(1e-14 * g.norm())
                    .map_or(Vector::zeros(), |outwards| (outwards - axis * outwards.dot(&axis)) * *radius);
                centre + towards(half_axis) + rim
            }
            PosedCore::Hull { structure_from_link, hull } => {
                let g_in_link = structure_from_link.rotation.inverse() * g;
                let mut farthest = (f64::NEG_INFINITY, Point::origin());
                for corner in &hull.corners {
                    let height = g_in_link.dot(&corner.coords);
                    if height > farthest.0 {
                        farthest = (height, *corner);
                    }
                }
                structure_from_link * farthest.1
            }
        }
    }

    /// A point of the core, for hulls a corner, for the others the middle: where a search may start.
    pub(super) fn middle(&self) -> Point {
        match self {
            PosedCore::Point(p) => *p,
            PosedCore::Segment(a, b) => nalgebra::center(a, b),
            PosedCore::Triangle([a, b, c]) => Point::from((a.coords + b.coords + c.coords) / 3.0),
            PosedCore::Box { centre, .. } | PosedCore::Cylinder { centre, .. } => *centre,
            PosedCore::Hull { structure_from_link, hull } => {
                structure_from_link * hull.corners.first().copied().unwrap_or_else(Point::origin)
            }
        }
    }
}

impl<'a> PosedCore<'a> {
    /// The same core, displaced.
    pub(super) fn displaced(&self, by: &Vector) -> PosedCore<'a> {
        match self {
            PosedCore::Point(p) => PosedCore::Point(p + by),
            PosedCore::Segment(a, b) => PosedCore::Segment(a + by, b + by),
            PosedCore::Triangle(corners) => PosedCore::Triangle(corners.map(|p| p + by)),
            PosedCore::Box { centre, half_edges } => PosedCore::Box { centre: centre + by, half_edges: *half_edges },
            PosedCore::Cylinder { centre, half_axis, radius } => {
                PosedCore::Cylinder { centre: centre + by, half_axis: *half_axis, radius: *radius }
            }
            PosedCore::Hull { structure_from_link, hull } => {
                let moved = Pose::from_parts(
                    (structure_from_link.translation.vector + by).into(),
                    structure_from_link.rotation,
                );
                PosedCore::Hull { structure_from_link: moved, hull }
            }
        }
    }
}

fn highest_of_cylinder(centre: &Point, half_axis: &Vector, radius: f64, g: &Vector) -> f64 {
    let axis = half_axis.normalize();
    let across = g - axis * g.dot(&axis);
    g.dot(&centre.coords) + g.dot(half_axis).abs() + radius * across.norm()
}

fn highest_of_hull(structure_from_link: &Pose, hull: &Hull, g: &Vector) -> f64 {
    let g_in_link = structure_from_link.rotation.inverse() * g;
    let farthest = hull.corners.iter().map(|p| g_in_link.dot(&p.coords)).fold(f64::NEG_INFINITY, f64::max);
    farthest + g.dot(&structure_from_link.translation.vector)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::random::{Kind, Random};

    #[test]
    fn the_farthest_point_reaches_the_highest_value_and_no_other_value_is_higher() {
        let mut random = Random::seeded(71);
        for kind in Kind::ALL {
            for _ in 0..200 {
                let (shape, pose) = (random.shape(kind), random.pose(5.0));
                let core = shape.posed(&pose).core;
                let points: Vec<Point> = (0..20).map(|_| core.farthest(&random.direction())).collect();
                let g = random.direction().into_inner() * random.between(0.1, 3.0);
                assert!((core.highest(&g) - g.dot(&core.farthest(&g).coords)).abs() < 1e-12);
                assert!(points.iter().all(|p| g.dot(&p.coords) <= core.highest(&g) + 1e-12));
            }
        }
    }

    #[test]
    fn the_farthest_point_of_a_cylinder_along_its_axis_is_on_its_lid() {
        let mut random = Random::seeded(72);
        for _ in 0..2_000 {
            let (shape, pose) = (random.shape(Kind::Cylinder), random.pose(5.0));
            let core = shape.posed(&pose).core;
            if let PosedCore::Cylinder { centre, half_axis, .. } = core {
                // What is left across the axis is rounding.
                let g = half_axis * random.between(0.1, 3.0) + random.direction().into_inner() * 1e-17;
                let height = half_axis.normalize().dot(&(core.farthest(&g) - centre));
                assert!((height - half_axis.norm()).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn extent_and_ball_hold_the_shape() {
        let mut random = Random::seeded(73);
        for kind in Kind::ALL {
            for _ in 0..200 {
                let (shape, pose) = (random.shape(kind), random.pose(5.0));
                let (points, radius) = shape.extent();
                let (centre, ball_radius) = shape.ball();
                let moved = shape.moved(&pose);
                for _ in 0..20 {
                    let g = random.direction().into_inner();
                    let highest = shape.posed(&pose).highest(&g);
                    let of_extent = points.iter().map(|p| g.dot(&(pose * p).coords)).fold(f64::MIN, f64::max);
                    assert!(highest <= of_extent + radius + 1e-12);
                    assert!(highest <= g.dot(&(pose * centre).coords) + ball_radius + 1e-12);
                    assert!((highest - moved.posed(&Pose::identity()).highest(&g)).abs() < 1e-12);
                }
            }
        }
    }
}
