//! Which numbers look random, and are the same ones in every run?

/// A generator of pseudo-random numbers (SplitMix64: Steele, Lea & Flood 2014, from memory).
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// Always the same numbers for a seed.
    pub fn seeded(seed: u64) -> Self {
        Self(seed)
    }

    /// Evenly spread over [0, 1).
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly spread over a range.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
}
