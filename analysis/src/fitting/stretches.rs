//! Stretches of log usage in columns, and the Weibull's sums over them.

use super::column::{Line, Sums, add_terms, weights};
use crate::special::vector::{
    Kernel, exp, exp_and_m1_near, exp_m1_near, exp_near, ln_normal, wide,
};
use crate::summation::{BLOCK, Sum};

/// Stretches of log usage that end at `y`, with weights.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stretches {
    pub y: Vec<f64>,
    pub width: Vec<f64>,
    /// Empty when every weight is one.
    pub weight: Vec<f64>,
}

impl Stretches {
    pub(crate) fn push(&mut self, y: f64, width: f64, weight: f64) {
        self.y.push(y);
        // No two usages are further apart in logarithms; a stretch from new is as good as this wide.
        self.width.push(width.min(1e5));
        self.weight.push(weight);
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.y.is_empty()
    }

    /// Sums of the Weibull's hazard gained, and of it times `u` and `u^2` at the ends of the stretches.
    pub(crate) fn gains(&self, line: Line) -> [f64; 3] {
        wide(GainSums { rows: self, line })
    }

    /// Sums for the logarithm of the Weibull's share failed within: see [`WithinSums`].
    pub(crate) fn within(&self, line: Line) -> Sums {
        wide(WithinSums::<false> { rows: self, line })
    }

    /// The same of lives seen from new, less the hazard up to the start of the stretch.
    pub(crate) fn survived_and_within(&self, line: Line) -> Sums {
        wide(WithinSums::<true> { rows: self, line })
    }
}

/// Over a stretch of width `v = b width`: `lost = 1 - exp(-v)` of the hazard at its end is gained, and the rest
/// `kept = v exp(-v)` serves the derivatives without cancelling.
struct GainSums<'a> {
    rows: &'a Stretches,
    line: Line,
}

impl Kernel for GainSums<'_> {
    type Output = [f64; 3];

    #[inline(always)]
    fn run(self) -> [f64; 3] {
        let Line {
            b,
            location,
            anchor,
        } = self.line;
        let mut sums = [Sum::default(); 3];
        let mut terms = [[0.0; BLOCK]; 3];
        let blocks = self.rows.y.chunks(BLOCK).zip(self.rows.width.chunks(BLOCK));
        for ((ys, widths), weight) in blocks.zip(weights(&self.rows.weight)) {
            let [t0, t1, t2] = &mut terms;
            let out = t0.iter_mut().zip(t1).zip(t2);
            for ((y, width), ((t0, t1), t2)) in ys.iter().zip(widths).zip(out) {
                let u = b * (y - location);
                let v = b * width;
                let hazard = exp(u + anchor);
                let less = exp_m1_near(-v);
                let (lost, kept) = (-less, v * (1.0 + less));
                *t0 = hazard * lost;
                *t1 = hazard * (u * lost + kept);
                *t2 = hazard * (u * (u * lost + 2.0 * kept) - v * kept);
            }
            add_terms(&terms, weight, ys.len(), &mut sums);
        }
        sums.map(|sum| sum.total())
    }
}

/// With the gain `g` and its derivatives divided by itself, `g1` in `u` and `g2` in `u` twice, and
/// `x = g / (exp(g) - 1)`: sums of `ln(1 - exp(-g))` and its derivatives as in [`Sums`].
struct WithinSums<'a, const FROM_NEW: bool> {
    rows: &'a Stretches,
    line: Line,
}

impl<const FROM_NEW: bool> Kernel for WithinSums<'_, FROM_NEW> {
    type Output = Sums;

    #[inline(always)]
    fn run(self) -> Sums {
        /// Below, `1 - exp(-g)` is `g` and leaves the range of numbers.
        const TINY: f64 = 1e-200;
        let Line {
            b,
            location,
            anchor,
        } = self.line;
        let mut sums = [Sum::default(); 6];
        let mut terms = [[0.0; BLOCK]; 6];
        let blocks = self.rows.y.chunks(BLOCK).zip(self.rows.width.chunks(BLOCK));
        for ((ys, widths), weight) in blocks.zip(weights(&self.rows.weight)) {
            let [t0, t1, t2, t3, t4, t5] = &mut terms;
            let out = t0.iter_mut().zip(t1).zip(t2).zip(t3).zip(t4).zip(t5);
            for ((y, width), (((((t0, t1), t2), t3), t4), t5)) in ys.iter().zip(widths).zip(out) {
                let u = b * (y - location);
                let v = b * width;
                let end = u + anchor;
                let (left, less) = exp_and_m1_near(-v);
                let lost = -less;
                let hazard = exp_near(end.min(700.0));
                let gain = (hazard * lost).min(690.0);
                let tiny = gain < TINY;
                let (survive, failed) = exp_and_m1_near(-gain);
                let share = if tiny { 1.0 } else { -failed };
                // One division for two.
                let inverse = 1.0 / (lost * share);
                let kept = v * left * (inverse * share);
                let x = if tiny {
                    1.0
                } else {
                    gain * survive * (inverse * lost)
                };
                let value =
                    ln_normal(if tiny { lost } else { share }) + if tiny { end } else { 0.0 };
                let g1 = u + kept;
                let g2 = u * (u + 2.0 * kept) - v * kept;
                let q = x * (x + gain);
                let (before, from) = if FROM_NEW {
                    // Not by what is left of the end's, which may have left the range of numbers.
                    (exp(u - v + anchor), u - v)
                } else {
                    (0.0, 0.0)
                };
                *t0 = value - before;
                *t1 = x - before;
                *t2 = x * g1 - before * from;
                *t3 = (x - q) - before;
                *t4 = (x - q) * g1 - before * from;
                *t5 = x * g2 - q * g1 * g1 - before * from * from;
            }
            add_terms(&terms, weight, ys.len(), &mut sums);
        }
        sums.map(|sum| sum.total())
    }
}
