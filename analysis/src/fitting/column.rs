//! Log usages in columns, and the sums over them that likelihoods are made of.

use super::lanes::Lanes;
use super::moments::moments;
use crate::special::vector::{Kernel, exp, logistic, normal_tail, wide};
use crate::summation::{BLOCK, Sum};

/// Log usages with weights.
#[derive(Clone, Debug, Default)]
pub(crate) struct Column {
    pub y: Vec<f64>,
    /// Empty when every weight is one.
    pub weight: Vec<f64>,
    /// Sum of the weights, weighted mean, and weighted sum of squares about it.
    pub total: f64,
    pub mean: f64,
    pub squares: f64,
}

/// Sums over a column of a term `T(z)`: its value, `T'`, `T' u`, `T''`, `T'' u`, `T'' u^2`, where `z = u + anchor`.
pub(crate) type Sums = [f64; 6];

/// `z = b (y - location) + anchor`.
#[derive(Clone, Copy)]
pub(crate) struct Line {
    pub b: f64,
    pub location: f64,
    pub anchor: f64,
}

/// Which term is summed; the running lives' are the cumulative hazard without its sign.
#[derive(Clone, Copy)]
pub(crate) enum Kind {
    Exponential,
    Logistic,
    Normal,
}

impl Column {
    #[inline]
    pub(crate) fn push(&mut self, y: f64, weight: f64) {
        if weight != 1.0 && self.weight.is_empty() {
            self.weight = vec![1.0; self.y.len()];
        }
        self.y.push(y);
        if weight != 1.0 || !self.weight.is_empty() {
            self.weight.push(weight);
        }
    }

    /// The first `length` of values and weights, with their moments.
    pub(crate) fn of(mut y: Vec<f64>, mut weight: Vec<f64>, length: usize) -> Self {
        y.truncate(length);
        weight.truncate(length);
        let mut made = Self {
            y,
            weight,
            ..Self::default()
        };
        made.finish();
        made
    }

    /// Computes the moments, once all is pushed.
    pub(crate) fn finish(&mut self) {
        [self.total, self.mean, self.squares] = moments(&self.y, &self.weight);
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.y
            .iter()
            .enumerate()
            .map(|(row, y)| (*y, self.weight.get(row).copied().unwrap_or(1.0)))
    }

    /// Sums of the cumulative hazard and its derivatives.
    pub(crate) fn hazards(&self, curve: Kind, line: Line) -> Sums {
        if self.y.is_empty() {
            return [0.0; 6];
        }
        let Column { y, weight, .. } = self;
        match curve {
            Kind::Exponential => {
                let [s0, s1, s2] = wide(ExponentialSums { y, weight, line });
                [s0, s0, s1, s0, s1, s2]
            }
            Kind::Logistic => wide(LogisticSums { y, weight, line }),
            Kind::Normal => wide(NormalSums { y, weight, line }),
        }
    }
}

/// Adds `terms` times the weights to the sums, a block at a time.
#[inline(always)]
pub(super) fn add_terms<const K: usize>(
    terms: &[[f64; BLOCK]; K],
    weight: &[f64],
    length: usize,
    sums: &mut [Sum; K],
) {
    let mut lanes = Lanes::<K>::new();
    for (lanes, terms) in lanes.each().iter_mut().zip(terms) {
        let terms = terms.get(..length).unwrap_or_default();
        if weight.is_empty() {
            let chunks = terms.chunks_exact(lanes.len());
            let rest = chunks.remainder();
            for chunk in chunks {
                for (lane, term) in lanes.iter_mut().zip(chunk) {
                    *lane += term;
                }
            }
            for (lane, term) in lanes.iter_mut().zip(rest) {
                *lane += term;
            }
        } else {
            let chunks = terms.chunks_exact(lanes.len());
            let weights = weight.chunks_exact(lanes.len());
            let (rest, weights_rest) = (chunks.remainder(), weights.remainder());
            for (chunk, weights) in chunks.zip(weights) {
                for (lane, (term, w)) in lanes.iter_mut().zip(chunk.iter().zip(weights)) {
                    *lane += term * w;
                }
            }
            for (lane, (term, w)) in lanes.iter_mut().zip(rest.iter().zip(weights_rest)) {
                *lane += term * w;
            }
        }
    }
    lanes.settle(sums);
}

#[inline(always)]
pub(super) fn weights(weight: &[f64]) -> impl Iterator<Item = &[f64]> {
    weight.chunks(BLOCK).chain(std::iter::repeat(&[][..]))
}

/// `exp z`, and it times `u` and `u^2`.
struct ExponentialSums<'a> {
    y: &'a [f64],
    weight: &'a [f64],
    line: Line,
}

impl Kernel for ExponentialSums<'_> {
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
        for (ys, weight) in self.y.chunks(BLOCK).zip(weights(self.weight)) {
            let [t0, t1, t2] = &mut terms;
            for (y, ((t0, t1), t2)) in ys.iter().zip(t0.iter_mut().zip(t1).zip(t2)) {
                let u = b * (y - location);
                let hazard = exp(u + anchor);
                *t0 = hazard;
                *t1 = hazard * u;
                *t2 = hazard * u * u;
            }
            add_terms(&terms, weight, ys.len(), &mut sums);
        }
        sums.map(|sum| sum.total())
    }
}

struct LogisticSums<'a> {
    y: &'a [f64],
    weight: &'a [f64],
    line: Line,
}

impl Kernel for LogisticSums<'_> {
    type Output = Sums;

    #[inline(always)]
    fn run(self) -> Sums {
        let Line {
            b,
            location,
            anchor,
        } = self.line;
        let mut sums = [Sum::default(); 6];
        let mut terms = [[0.0; BLOCK]; 6];
        for (ys, weight) in self.y.chunks(BLOCK).zip(weights(self.weight)) {
            let [t0, t1, t2, t3, t4, t5] = &mut terms;
            let out = t0.iter_mut().zip(t1).zip(t2).zip(t3).zip(t4).zip(t5);
            for (y, (((((t0, t1), t2), t3), t4), t5)) in ys.iter().zip(out) {
                let u = b * (y - location);
                let (value, slope, bend) = logistic(u + anchor);
                *t0 = value;
                *t1 = slope;
                *t2 = slope * u;
                *t3 = bend;
                *t4 = bend * u;
                *t5 = bend * u * u;
            }
            add_terms(&terms, weight, ys.len(), &mut sums);
        }
        sums.map(|sum| sum.total())
    }
}

struct NormalSums<'a> {
    y: &'a [f64],
    weight: &'a [f64],
    line: Line,
}

impl Kernel for NormalSums<'_> {
    type Output = Sums;

    #[inline(always)]
    fn run(self) -> Sums {
        let Line {
            b,
            location,
            anchor,
        } = self.line;
        let mut sums = [Sum::default(); 6];
        let mut terms = [[0.0; BLOCK]; 6];
        for (ys, weight) in self.y.chunks(BLOCK).zip(weights(self.weight)) {
            let [t0, t1, t2, t3, t4, t5] = &mut terms;
            let out = t0.iter_mut().zip(t1).zip(t2).zip(t3).zip(t4).zip(t5);
            for (y, (((((t0, t1), t2), t3), t4), t5)) in ys.iter().zip(out) {
                let u = b * (y - location);
                let z = u + anchor;
                let (ln_tail, hazard) = normal_tail(z);
                let bend = hazard * (hazard - z);
                *t0 = -ln_tail;
                *t1 = hazard;
                *t2 = hazard * u;
                *t3 = bend;
                *t4 = bend * u;
                *t5 = bend * u * u;
            }
            add_terms(&terms, weight, ys.len(), &mut sums);
        }
        sums.map(|sum| sum.total())
    }
}
