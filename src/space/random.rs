//! Which random shapes do the tests of this layer ask about? The same ones in every run.

use std::sync::Arc;

use super::{Convex, Core, Direction, Hull, Point, Pose, Vector};

/// A generator of pseudo-random numbers (SplitMix64: Steele, Lea & Flood 2014, from memory).
pub(crate) struct Random(u64);

impl Random {
    pub fn seeded(seed: u64) -> Random {
        Random(seed)
    }

    /// Evenly spread over [0, 1).
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    pub fn direction(&mut self) -> Direction {
        loop {
            let v = Vector::from_fn(|_, _| self.between(-1.0, 1.0));
            if (0.01..1.0).contains(&v.norm_squared()) {
                return Direction::new_normalize(v);
            }
        }
    }

    /// In a cube of the given half size about the origin.
    pub fn point(&mut self, half_size: f64) -> Point {
        Point::from(Vector::from_fn(|_, _| self.between(-half_size, half_size)))
    }

    pub fn pose(&mut self, half_size: f64) -> Pose {
        let turn = self.direction().into_inner() * self.between(0.0, std::f64::consts::PI);
        Pose::from_parts(self.point(half_size).coords.into(), nalgebra::UnitQuaternion::new(turn))
    }

    /// A core of a kind, of sizes from 0.05 to 2 m, in any attitude near the origin of its link.
    pub fn core(&mut self, kind: Kind) -> Core {
        let mut size = || self.between(0.05, 2.0);
        let sizes = Vector::new(size(), size(), size());
        match kind {
            Kind::Point => Core::Point(self.point(0.5)),
            Kind::Segment => Core::Segment(self.point(1.5), self.point(1.5)),
            Kind::Triangle => Core::Triangle([self.point(1.5), self.point(1.5), self.point(1.5)]),
            Kind::Box => Core::Box { link_from_box: self.pose(0.3), half: sizes * 0.5 },
            Kind::Cylinder => {
                Core::Cylinder { link_from_cylinder: self.pose(0.3), half_length: sizes.x * 0.5, radius: sizes.y * 0.5 }
            }
            Kind::Hull => Core::Hull(Arc::new(self.hull(&sizes))),
        }
    }

    /// The hull of 12 to 40 points on an ellipsoid, so that every point is a corner.
    fn hull(&mut self, half_sizes: &Vector) -> Hull {
        let count = 12 + (self.unit() * 28.0) as usize;
        let points: Vec<Point> = (0..count).map(|_| Point::from(self.direction().component_mul(half_sizes))).collect();
        super::hull(&points).expect("points on an ellipsoid span a solid")
    }

    pub fn shape(&mut self, kind: Kind) -> Convex {
        Convex { core: self.core(kind), radius: self.between(0.0, 0.3) }
    }
}

/// The kinds of core.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    Point,
    Segment,
    Triangle,
    Box,
    Cylinder,
    Hull,
}

impl Kind {
    pub const ALL: [Kind; 6] = [Kind::Point, Kind::Segment, Kind::Triangle, Kind::Box, Kind::Cylinder, Kind::Hull];

    /// Every unordered pair of kinds, each once.
    pub fn pairs() -> impl Iterator<Item = (Kind, Kind)> {
        Kind::ALL.iter().enumerate().flat_map(|(k, a)| Kind::ALL[k..].iter().map(|b| (*a, *b)))
    }
}
