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

impl FromIterator<f64> for Sum {
    fn from_iter<I: IntoIterator<Item = f64>>(terms: I) -> Self {
        let mut sum = Self::default();
        for term in terms {
            sum.add(term);
        }
        sum
    }
}
