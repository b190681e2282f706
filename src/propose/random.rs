//! Which numbers does a planner draw? The same ones for the same seed.

/// A generator of repeatable pseudo-random numbers (SplitMix64: Steele, Lea & Flood 2014, from memory).
pub struct Draw(u64);

impl Draw {
    /// For a plan's seed, something that it is drawn for, and the number of the attempt.
    pub fn seeded(seed: u64, purpose: &str, attempt: u64) -> Self {
        let mut draw = Self(seed);
        for word in purpose.bytes().map(u64::from).chain([attempt]) {
            draw = Self(draw.next() ^ word);
        }
        draw
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly spread over [0, 1).
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly spread over [`low`, `high`).
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number below `count`.
    pub fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_seed_purpose_or_attempt_draws_other_numbers() {
        let drawn = |seed, purpose, attempt| Draw::seeded(seed, purpose, attempt).unit();
        let all = [drawn(1, "a", 0), drawn(2, "a", 0), drawn(1, "b", 0), drawn(1, "a", 1), drawn(1, "aa", 0)];
        for (k, one) in all.iter().enumerate() {
            assert!(all[..k].iter().all(|other| other != one));
            assert!((0.0..1.0).contains(one));
        }
        assert_eq!(drawn(1, "a", 0), all[0]);
    }
}
