//! Weighted sums over one column, blocked and compensated.

use crate::special::vector::{Kernel, wide};
use crate::summation::{BLOCK, Sum, add_all};

/// Sum of the weights, weighted mean, and weighted sum of squares about it; no weights are ones.
pub(crate) fn moments(y: &[f64], weight: &[f64]) -> [f64; 3] {
    if y.is_empty() {
        return [0.0; 3];
    }
    wide(Moments { y, weight })
}

struct Moments<'a> {
    y: &'a [f64],
    weight: &'a [f64],
}

impl Kernel for Moments<'_> {
    type Output = [f64; 3];

    #[inline(always)]
    fn run(self) -> [f64; 3] {
        let Self { y, weight } = self;
        let total = if weight.is_empty() {
            y.len() as f64
        } else {
            weighted(weight, &[], |w| w)
        };
        if total <= 0.0 {
            return [0.0; 3];
        }
        let mean = weighted(y, weight, |y| y) / total;
        // About the mean, so that nothing cancels.
        let squares = weighted(y, weight, |y| (y - mean) * (y - mean));
        [total, mean, squares]
    }
}

#[inline(always)]
fn weighted(values: &[f64], weight: &[f64], term: impl Fn(f64) -> f64) -> f64 {
    let mut sum = Sum::default();
    let mut terms = [0.0; BLOCK];
    let weights = weight.chunks(BLOCK).chain(std::iter::repeat(&[][..]));
    for (values, weight) in values.chunks(BLOCK).zip(weights) {
        for (room, value) in terms.iter_mut().zip(values) {
            *room = term(*value);
        }
        for (room, weight) in terms.iter_mut().zip(weight) {
            *room *= weight;
        }
        add_all(terms.get(..values.len()).unwrap_or_default(), &mut sum);
    }
    sum.total()
}
