//! How much do two pictures differ?

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

/// A picture, three bytes a pixel.
#[derive(Clone)]
pub struct Picture {
    pub size: [usize; 2],
    bytes: Vec<u8>,
}

/// A pixel differs where one of its colours does by more than this, of 255.
const COLOUR: u8 = 24;

impl Picture {
    pub fn read(path: &Path) -> Result<Self, String> {
        let said = |error: &dyn std::fmt::Display| format!("{}: {error}", path.display());
        let file = File::open(path).map_err(|error| said(&error))?;
        let mut reader = png::Decoder::new(BufReader::new(file)).read_info().map_err(|error| said(&error))?;
        let mut bytes = vec![0; reader.output_buffer_size().ok_or_else(|| said(&"too large"))?];
        let info = reader.next_frame(&mut bytes).map_err(|error| said(&error))?;
        if (info.color_type, info.bit_depth) != (png::ColorType::Rgb, png::BitDepth::Eight) {
            return Err(said(&"expected three bytes a pixel"));
        }
        Ok(Self { size: [info.width as usize, info.height as usize], bytes })
    }

    /// Red, green and blue of a pixel.
    pub fn at(&self, [x, y]: [usize; 2]) -> [u8; 3] {
        let first = 3 * (y * self.size[0] + x);
        [self.bytes[first], self.bytes[first + 1], self.bytes[first + 2]]
    }

    /// The share of pixels that differ within a rectangle, 0 to 1.
    pub fn difference_in(&self, other: &Self, [left, top, right, bottom]: [usize; 4]) -> f64 {
        assert_eq!(self.size, other.size);
        let pixels = (top..bottom).flat_map(|y| (left..right).map(move |x| [x, y]));
        let differs = |at: &[usize; 2]| {
            let (a, b) = (self.at(*at), other.at(*at));
            a.iter().zip(b).any(|(a, b)| a.abs_diff(b) > COLOUR)
        };
        pixels.filter(differs).count() as f64 / ((right - left) * (bottom - top)) as f64
    }

    /// The share of pixels that differ, 0 to 1; all where the sizes do.
    pub fn difference(&self, other: &Self) -> f64 {
        if self.size == other.size { self.difference_in(other, [0, 0, self.size[0], self.size[1]]) } else { 1.0 }
    }
}
