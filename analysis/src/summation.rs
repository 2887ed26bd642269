//! Sums that do not lose small terms.

/// Running sum with a correction term (Neumaier 1974, ZAMM 54).
#[derive(Clone, Copy, Debug, Default)]
pub struct Sum {
    total: f64,
    correction: f64,
}

impl Sum {
    /// Adds one term.
    #[inline]
    pub fn add(&mut self, term: f64) {
        let total = self.total + term;
        if total.is_finite() {
            self.correction += if self.total.abs() >= term.abs() {
                (self.total - total) + term
            } else {
                (term - total) + self.total
            };
        }
        self.total = total;
    }

    /// The corrected sum so far.
    #[must_use]
    #[inline]
    pub fn total(&self) -> f64 {
        self.total + self.correction
    }
}

impl Sum {
    /// This sum less another, without losing what both have corrected.
    #[must_use]
    pub fn less(&self, other: &Self) -> f64 {
        (self.total - other.total) + (self.correction - other.correction)
    }
}

impl FromIterator<f64> for Sum {
    fn from_iter<I: IntoIterator<Item = f64>>(terms: I) -> Self {
        let mut sum = Self::default();
        for term in terms {
            sum.add(term);
        }
        sum
    }
}

/// Sums over long columns run in eight lanes over blocks this long, in an order that depends on the column alone.
pub(crate) const BLOCK: usize = 256;
pub(crate) const LANES: usize = 8;

/// The sum of at most a block of terms.
#[inline(always)]
pub(crate) fn add_all(terms: &[f64], sum: &mut Sum) {
    let mut lanes = [0.0; LANES];
    let chunks = terms.chunks_exact(LANES);
    let rest = chunks.remainder();
    for chunk in chunks {
        for (lane, term) in lanes.iter_mut().zip(chunk) {
            *lane += term;
        }
    }
    for (lane, term) in lanes.iter_mut().zip(rest) {
        *lane += term;
    }
    let [a, b, c, d, e, f, g, h] = lanes;
    sum.add(((a + b) + (c + d)) + ((e + f) + (g + h)));
}
