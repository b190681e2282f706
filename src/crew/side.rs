//! Which side of the body?

/// Left or right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    Left,
    Right,
}

impl Side {
    /// Both, left first.
    pub const BOTH: [Self; 2] = [Self::Left, Self::Right];

    /// The word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }

    /// +1 to the left, −1 to the right: the sign of y.
    pub const fn sign(self) -> f64 {
        match self {
            Self::Left => 1.0,
            Self::Right => -1.0,
        }
    }
}

/// One of each for left and right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sides<T> {
    pub left: T,
    pub right: T,
}

impl<T> Sides<T> {
    /// Made for the left, then for the right.
    pub fn of(mut make: impl FnMut(Side) -> T) -> Self {
        Self { left: make(Side::Left), right: make(Side::Right) }
    }

    /// The one on a side.
    pub const fn on(&self, side: Side) -> &T {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }
}
