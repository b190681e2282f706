//! Random branching mechanisms for tests: turns and slides mixed, two to eight joints.

use super::{JointMotion, LinkId, Mechanism, MechanismBuilder, Range};
use crate::space::{Direction, Pose, Vector};

/// A small generator of repeatable pseudo-random numbers (SplitMix64; Steele, Lea, Flood 2014).
pub struct Draw(pub u64);

impl Draw {
    /// The next value, evenly spread over `low` to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        let unit = ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64;
        low + (high - low) * unit
    }

    /// A vector with each coordinate between −`by` and `by`.
    pub fn vector(&mut self, by: f64) -> Vector {
        Vector::new(self.between(-by, by), self.between(-by, by), self.between(-by, by))
    }

    /// A direction.
    pub fn direction(&mut self) -> Direction {
        Direction::new_normalize(self.vector(1.0) + Vector::new(1e-3, 0.0, 0.0))
    }

    /// A pose whose origin lies within `by` of the origin along each axis.
    pub fn pose(&mut self, by: f64) -> Pose {
        Pose::new(self.vector(by), self.vector(2.0))
    }
}

/// A random tree and its driven links, the last one outermost in its branch.
pub fn random_tree(seed: u64) -> (Mechanism, Vec<LinkId>) {
    let mut draw = Draw(seed);
    let mut builder = MechanismBuilder::new();
    let mut links = vec![LinkId::STRUCTURE];
    let joints = draw.between(2.0, 9.0) as usize;
    for k in 0..joints {
        let branch = draw.between(0.0, 4.0) < 1.0;
        let parent =
            if branch { links[draw.between(0.0, links.len() as f64) as usize] } else { links[links.len() - 1] };
        let motion = if draw.between(0.0, 4.0) < 1.0 { JointMotion::Prismatic } else { JointMotion::Revolute };
        let place = draw.pose(2.0);
        let axis = draw.direction();
        links.push(builder.joint(&format!("j{k}"), parent, place, motion, axis, Range::FREE));
    }
    (builder.finish(), links)
}

/// Random joint values for a mechanism.
pub fn random_configuration(mechanism: &Mechanism, seed: u64) -> Vec<f64> {
    let mut draw = Draw(seed ^ 0xABCD);
    (0..mechanism.variable_count()).map(|_| draw.between(-2.0, 2.0)).collect()
}
