//! How large is a picture or a window?

use std::fmt;
use std::str::FromStr;

/// Width and height, pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size(pub [u32; 2]);

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}x{}", self.0[0], self.0[1])
    }
}

impl FromStr for Size {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let expected = "expected a width and a height from 64 to 8192, such as 1280x720";
        let (width, height) = text.split_once('x').ok_or(expected)?;
        let side = |text: &str| text.parse().ok().filter(|side| (64..=8192).contains(side)).ok_or(expected);
        Ok(Self([side(width)?, side(height)?]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_is_two_numbers_that_a_driver_can_draw() {
        assert_eq!("1280x720".parse(), Ok(Size([1280, 720])));
        for text in ["1280", "1280x", "x", "0x0", "63x720", "100000x10", "-1x5", "1280x720x2"] {
            assert!(text.parse::<Size>().is_err(), "{text}");
        }
    }
}
