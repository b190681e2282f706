//! Which body, in which surroundings, is asked for a posture?

use crate::mechanism::{Mechanism, Range};

use super::body::BodyLinks;
use super::overlap::{Overlaps, Surroundings};
use super::rows::N;

/// A suited body on its plate, among what stands around it: what postures are asked of.
pub struct Crewmember<'a> {
    pub(super) mechanism: &'a Mechanism,
    pub(super) links: &'a BodyLinks,
    pub(super) ranges: [Range; N],
    pub(super) overlaps: Overlaps<'a>,
    /// Farthest point of a boot from its ankle, m.
    pub(super) boot_reach: f64,
}

impl<'a> Crewmember<'a> {
    /// Of a mechanism in which nothing but the body's joints moves: arm, restraint and everybody else are frozen
    /// ([`Mechanism::with_moving`]).
    ///
    /// # Panics
    /// If something else moves, too.
    pub fn new(mechanism: &'a Mechanism, links: &'a BodyLinks, surroundings: &'a Surroundings<'a>) -> Self {
        let ranges = mechanism.ranges().try_into().expect("nothing but the body's joints moves");
        let f = &links.figure;
        let toes = (f.boot_length - f.heel_to_ankle).max(f.heel_to_ankle);
        let boot_reach = (toes.powi(2) + (0.5 * f.boot_breadth).powi(2) + f.ankle_height.powi(2)).sqrt();
        Self { mechanism, links, ranges, overlaps: Overlaps::new(mechanism, links, surroundings), boot_reach }
    }

    /// The neutral posture, rad. Its right boot need not be in its place.
    pub fn neutral(&self) -> [f64; N] {
        self.links.neutral.clone().try_into().expect("one angle for each joint")
    }
}
