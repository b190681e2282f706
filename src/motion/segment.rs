//! Which joint values does a straight stretch pass through?

/// A straight line in joint space, one value a variable (rad or m).
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    pub from: Vec<f64>,
    pub to: Vec<f64>,
}

impl Segment {
    /// Joint values at `fraction` of the way, 0 to 1.
    pub fn at(&self, fraction: f64) -> Vec<f64> {
        self.from.iter().zip(&self.to).map(|(a, b)| a + (b - a) * fraction).collect()
    }

    /// Change of each variable over the whole segment.
    pub fn change(&self) -> Vec<f64> {
        self.from.iter().zip(&self.to).map(|(a, b)| b - a).collect()
    }
}

/// A part of a segment, as fractions of its way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Which segment of the motion.
    pub segment: usize,
    pub start: f64,
    pub end: f64,
}

impl Interval {
    /// The whole of a segment.
    pub const fn whole(segment: usize) -> Self {
        Self { segment, start: 0.0, end: 1.0 }
    }

    /// The fraction in its middle.
    pub fn middle(self) -> f64 {
        0.5 * (self.start + self.end)
    }

    /// Half its length, as a fraction of the segment.
    pub fn half(self) -> f64 {
        0.5 * (self.end - self.start)
    }

    /// Its two halves, earlier one first.
    pub fn halves(self) -> [Self; 2] {
        let middle = self.middle();
        [Self { end: middle, ..self }, Self { start: middle, ..self }]
    }
}
