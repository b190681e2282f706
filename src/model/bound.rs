//! Between which two values does a quantity lie?

use serde::Serialize;

/// A closed interval that is known to hold a value, in the value's own unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bound {
    /// Never above the true value.
    pub lower: f64,
    /// Never below the true value.
    pub upper: f64,
}

impl Bound {
    /// A value that is known exactly.
    pub const fn exact(value: f64) -> Self {
        Self { lower: value, upper: value }
    }

    /// The distance between the two ends.
    pub fn gap(self) -> f64 {
        self.upper - self.lower
    }
}
