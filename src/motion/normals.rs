//! Which planes parted the parts of two bodies that were measured last?

use crate::space::Direction;

/// The latest normals that parted parts of two bodies: neighbouring facets are parted by much the same plane, and to try
/// one costs far less than to measure.
#[derive(Default)]
pub(super) struct Normals {
    kept: Vec<Direction>,
    added: usize,
}

impl Normals {
    const MOST: usize = 8;

    pub fn add(&mut self, normal: Direction) {
        match self.kept.get_mut(self.added % Self::MOST) {
            Some(oldest) => *oldest = normal,
            None => self.kept.push(normal),
        }
        self.added += 1;
    }

    /// The latest first.
    pub fn latest(&self) -> impl Iterator<Item = &Direction> {
        let (newer, older) = self.kept.split_at(self.added % Self::MOST % self.kept.len().max(1));
        newer.iter().rev().chain(older.iter().rev())
    }
}
