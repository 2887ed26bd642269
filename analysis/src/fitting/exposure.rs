//! Lives that failed at a known usage or still run, as columns for the Weibull: the sums
//! `S_k(b) = sum w (exp(b y) y^k, at exit less at entry)` and the logarithms at the failures.
//!
//! `y` is log usage below that of the longest life, so `y <= 0` and nothing overflows for any shape.

use super::lanes::add_powers;
use crate::sample::Sample;
use crate::special::vector::{Kernel, exp_m1_near, exp_near, ln, ln_1p_all, wide};
use crate::summation::{BLOCK, Sum, add_all};

/// Columns of a sample without left- or interval-censored failures.
pub(crate) struct Exposure {
    /// Logarithm of the longest usage.
    pub longest: f64,
    /// Failures, with count.
    pub failures: f64,
    /// Sum over failures of `y` and of `y^2`.
    pub failed: [f64; 2],
    /// Lives seen from new.
    new: Lives,
    /// Lives that entered late, with the width of their stretch in log usage.
    late: Lives,
    widths: Vec<f64>,
}

#[derive(Default)]
struct Lives {
    y: Vec<f64>,
    /// Empty when every weight is one.
    weight: Vec<f64>,
}

impl Exposure {
    /// None where some failure is not known exactly, or nothing was watched.
    pub(crate) fn new(sample: &Sample) -> Option<Self> {
        if sample.left_censored() + sample.interval_censored() > 0 || sample.failures() == 0 {
            return None;
        }
        let columns = sample.columns();
        // Rows are in order of `lower`; those at zero were never watched.
        let first = columns.lower.partition_point(|lower| *lower <= 0.0);
        let lower = columns.lower.get(first..)?;
        let upper = columns.upper.get(first..)?;
        let longest = lower.last()?.ln();
        let mut y = lower.to_vec();
        let weight: Vec<f64> = columns
            .count
            .get(first..)
            .unwrap_or_default()
            .iter()
            .map(|count| *count as f64)
            .collect();
        let [failures, failed, squares] = wide(Logarithms {
            usages: &mut y,
            upper,
            weight: &weight,
            longest,
        });
        let mut made = Self {
            longest,
            failures,
            failed: [failed, squares],
            new: Lives { y, weight },
            late: Lives::default(),
            widths: Vec::new(),
        };
        if sample.delayed_entry() > 0 {
            made.part_late(lower, columns.entry.get(first..)?);
        }
        Some(made)
    }

    /// Every `stride`-th life seen from new: none with late entries.
    pub(crate) fn thinned(&self, sample: &Sample, stride: usize) -> Option<Self> {
        if !self.late.y.is_empty() {
            return None;
        }
        let upper = &sample.columns().upper;
        let skipped = upper.len().checked_sub(self.new.y.len())?;
        let weight: Vec<f64> = self.new.weight.iter().step_by(stride).copied().collect();
        let y: Vec<f64> = self.new.y.iter().step_by(stride).copied().collect();
        let ends = upper.get(skipped..)?.iter().step_by(stride);
        let (mut failures, mut failed) = (0.0, [0.0; 2]);
        for (row, (y, end)) in y.iter().zip(ends).enumerate() {
            if end.is_finite() {
                let w = weight.get(row).copied().unwrap_or(1.0);
                failures += w;
                let [first, second] = &mut failed;
                *first += w * y;
                *second += w * y * y;
            }
        }
        (failures > 0.0).then_some(Self {
            longest: self.longest,
            failures,
            failed,
            new: Lives { y, weight },
            late: Lives::default(),
            widths: Vec::new(),
        })
    }

    /// From log usages at the end, widths since a late entry, counts, and whether failed.
    pub(crate) fn from_logs(
        lives: impl Iterator<Item = (f64, Option<f64>, f64, bool)>,
    ) -> Option<Self> {
        let mut made = Self {
            longest: f64::NEG_INFINITY,
            failures: 0.0,
            failed: [0.0; 2],
            new: Lives::default(),
            late: Lives::default(),
            widths: Vec::new(),
        };
        let (mut ended, mut squares) = (0.0, 0.0);
        for (y, width, weight, failed) in lives {
            if failed {
                made.failures += weight;
                ended += weight * y;
                squares += weight * y * y;
            }
            made.longest = made.longest.max(y);
            let into = match width {
                Some(width) => {
                    made.widths.push(width);
                    &mut made.late
                }
                None => &mut made.new,
            };
            into.y.push(y);
            into.weight.push(weight);
        }
        let longest = made.longest;
        for y in made.new.y.iter_mut().chain(&mut made.late.y) {
            *y -= longest;
        }
        made.failed = [
            ended - made.failures * longest,
            squares - 2.0 * longest * ended + made.failures * longest * longest,
        ];
        (made.failures > 0.0 && longest.is_finite()).then_some(made)
    }

    pub(crate) fn rows(&self) -> usize {
        self.new.y.len() + self.late.y.len()
    }

    /// Moves the lives that entered late into their own columns; a life that left at its entry was never watched.
    fn part_late(&mut self, lower: &[f64], entry: &[f64]) {
        let all = std::mem::take(&mut self.new);
        for (row, ((y, lower), entry)) in all.y.iter().zip(lower).zip(entry).enumerate() {
            if entry >= lower {
                continue;
            }
            let into = if *entry > 0.0 {
                // The smallest entries would make the ratio infinite.
                self.widths.push(((lower - entry) / entry).min(f64::MAX));
                &mut self.late
            } else {
                &mut self.new
            };
            into.y.push(*y);
            if let Some(weight) = all.weight.get(row) {
                into.weight.push(*weight);
            }
        }
        ln_1p_all(&mut self.widths);
    }

    /// `S_0` to `S_3` at shape `b`.
    pub(crate) fn sums(&self, b: f64) -> [f64; 4] {
        let mut sums = [Sum::default(); 4];
        wide(NewLives {
            lives: &self.new,
            b,
            sums: &mut sums,
        });
        if !self.widths.is_empty() {
            wide(LateLives {
                lives: &self.late,
                widths: &self.widths,
                b,
                sums: &mut sums,
            });
        }
        sums.map(|sum| sum.total())
    }
}

/// Turns usages into `y`; gives the weight of the failures, and their sums of `y` and of `y^2`.
struct Logarithms<'a> {
    usages: &'a mut [f64],
    upper: &'a [f64],
    weight: &'a [f64],
    longest: f64,
}

impl Kernel for Logarithms<'_> {
    type Output = [f64; 3];

    #[inline(always)]
    fn run(self) -> [f64; 3] {
        let Self {
            usages,
            upper,
            weight,
            longest,
        } = self;
        let mut sums = [Sum::default(); 4];
        let mut mass = [0.0; BLOCK];
        let weights = weight.chunks(BLOCK).chain(std::iter::repeat(&[][..]));
        for ((ys, upper), weight) in usages
            .chunks_mut(BLOCK)
            .zip(upper.chunks(BLOCK))
            .zip(weights)
        {
            for ((y, upper), mass) in ys.iter_mut().zip(upper).zip(&mut mass) {
                *y = ln(*y) - longest;
                *mass = if *upper < f64::INFINITY { 1.0 } else { 0.0 };
            }
            for (mass, weight) in mass.iter_mut().zip(weight) {
                *mass *= weight;
            }
            add_powers(ys, mass.get(..ys.len()).unwrap_or_default(), &mut sums);
        }
        let [failures, first, second, _] = sums.map(|sum| sum.total());
        [failures, first, second]
    }
}

/// Sums over lives seen from new.
struct NewLives<'a> {
    lives: &'a Lives,
    b: f64,
    sums: &'a mut [Sum; 4],
}

impl Kernel for NewLives<'_> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        let Self { lives, b, sums } = self;
        let mut mass = [0.0; BLOCK];
        let weights = lives.weight.chunks(BLOCK).chain(std::iter::repeat(&[][..]));
        for (ys, weight) in lives.y.chunks(BLOCK).zip(weights) {
            for (y, mass) in ys.iter().zip(&mut mass) {
                *mass = exp_near(b * y);
            }
            for (mass, weight) in mass.iter_mut().zip(weight) {
                *mass *= weight;
            }
            add_powers(ys, mass.get(..ys.len()).unwrap_or_default(), sums);
        }
    }
}

/// Sums over stretches of log usage `y - width .. y`. With `lost = 1 - exp(-b width)` and
/// `slope = width exp(-b width)` the difference at the two ends of `exp(b y) y^k` has a form that does not cancel,
/// however short the stretch.
struct LateLives<'a> {
    lives: &'a Lives,
    widths: &'a [f64],
    b: f64,
    sums: &'a mut [Sum; 4],
}

impl Kernel for LateLives<'_> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        let Self {
            lives,
            widths,
            b,
            sums,
        } = self;
        let mut terms = [[0.0; BLOCK]; 4];
        let weights = lives.weight.chunks(BLOCK).chain(std::iter::repeat(&[][..]));
        let blocks = lives.y.chunks(BLOCK).zip(widths.chunks(BLOCK));
        for ((ys, widths), weight) in blocks.zip(weights) {
            let [t0, t1, t2, t3] = &mut terms;
            let out = t0.iter_mut().zip(t1).zip(t2).zip(t3);
            for ((y, width), (((t0, t1), t2), t3)) in ys.iter().zip(widths).zip(out) {
                let top = exp_near(b * y);
                let less = exp_m1_near(-b * width);
                let lost = -less;
                let slope = width * (1.0 + less);
                *t0 = top * lost;
                *t1 = top * (y * lost + slope);
                *t2 = top * (y * (y * lost + 2.0 * slope) - width * slope);
                *t3 = top
                    * (y * (y * (y * lost + 3.0 * slope) - 3.0 * width * slope)
                        + width * width * slope);
            }
            for (sum, terms) in sums.iter_mut().zip(&mut terms) {
                for (term, weight) in terms.iter_mut().zip(weight) {
                    *term *= weight;
                }
                add_all(terms.get(..ys.len()).unwrap_or_default(), sum);
            }
        }
    }
}
