//! Which points fill a box evenly, the first few as well as many?
//!
//! # Law
//! Additive recurrence on the powers of the generalised golden ratio φ, the root of x^(d+1) = x + 1 in d dimensions:
//! share k of point n is the fraction of ½ + n·φ^−(k+1).
//! # Source
//! Roberts 2018, "The unreasonable effectiveness of quasirandom sequences".

/// A sequence of points in the unit box of so many dimensions; always the same one.
#[derive(Clone, Debug)]
pub struct Spread {
    ratio: f64,
    dimensions: usize,
}

impl Spread {
    /// The sequence in a number of dimensions.
    pub fn over(dimensions: usize) -> Self {
        let ratio = (0..60).fold(2.0_f64, |x, _| (1.0 + x).powf(1.0 / (dimensions as f64 + 1.0)));
        Self { ratio, dimensions }
    }

    /// Point number `n`, one share of 0 to 1 for each dimension.
    pub fn point(&self, n: usize) -> impl Iterator<Item = f64> + '_ {
        (0..self.dimensions).map(move |k| (0.5 + n as f64 * self.ratio.powi(-(k as i32 + 1))).fract())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The largest cell of a grid that stays empty tells how even the points are; random ones leave about 1 in 400 of
    /// 16 × 16 cells empty at this number.
    #[test]
    fn no_cell_of_a_grid_stays_empty() {
        let spread = Spread::over(2);
        let mut cells = [[0; 16]; 16];
        for n in 0..1024 {
            let at: Vec<usize> = spread.point(n).map(|share| (share * 16.0) as usize).collect();
            cells[at[0]][at[1]] += 1;
        }
        assert!(cells.iter().flatten().all(|count| *count >= 1));
    }
}
