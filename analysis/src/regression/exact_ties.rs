//! Sums over all subsets of the lives at risk, for ties taken as truly simultaneous (Cox 1972, section 6), by the
//! recursion of Gail, Lubin and Rubinstein (1981, Biometrika 68).

use nalgebra::{DMatrix, DVector};

/// For each subset size from 0 on: the sum of products of weights, with first and second derivatives in the
/// coefficients.
#[derive(Clone, Debug)]
pub(crate) struct Subsets {
    sums: Vec<Jet>,
    /// Logarithm of the factor by which each weight was raised.
    ln_raise: f64,
}

#[derive(Clone, Debug)]
struct Jet {
    value: f64,
    first: DVector<f64>,
    second: DMatrix<f64>,
}

impl Jet {
    fn constant(value: f64, size: usize) -> Self {
        Self {
            value,
            first: DVector::zeros(size),
            second: DMatrix::zeros(size, size),
        }
    }

    /// Adds `factor` times the product of `other` and `exp(j x . b)`, whose derivatives are `j x` and `j^2 x x'`.
    fn add_product(&mut self, other: &Self, factor: f64, j: f64, x: &DVector<f64>) {
        self.value += factor * other.value;
        self.first.axpy(factor, &other.first, 1.0);
        self.first.axpy(factor * j * other.value, x, 1.0);
        self.second += factor * &other.second;
        self.second.ger(factor * j, x, &other.first, 1.0);
        self.second.ger(factor * j, &other.first, x, 1.0);
        self.second.ger(factor * j * j * other.value, x, x, 1.0);
    }
}

impl Subsets {
    /// Sums over subsets of up to `failures` lives.
    pub(crate) fn new(failures: u64, size: usize) -> Self {
        let mut sums = vec![Jet::constant(1.0, size)];
        sums.extend((0..failures).map(|_| Jet::constant(0.0, size)));
        Self {
            sums,
            ln_raise: 0.0,
        }
    }

    /// Takes in the lives at risk, each as how many it stands for, log weight and covariates. `total` is the sum of
    /// all weights. None where numbers overflow.
    pub(crate) fn fill(
        &mut self,
        lives: impl Iterator<Item = (f64, f64, DVector<f64>)>,
        total: f64,
    ) -> Option<()> {
        let most = self.sums.len() - 1;
        // Raised so, the sum over the largest subsets is at most most^most / most!, well inside the range of numbers.
        self.ln_raise = (most as f64 / total).ln();
        for (count, ln_weight, covariates) in lives {
            let weight = (ln_weight + self.ln_raise).exp();
            // Coefficients of (1 + weight s)^count.
            let mut powers = vec![1.0];
            let mut power = 1.0;
            for chosen in 0..most {
                let left = count - chosen as f64;
                if left <= 0.0 {
                    break;
                }
                power *= weight * left / (chosen as f64 + 1.0);
                powers.push(power);
            }
            for size in (1..=most).rev() {
                let (below, from) = self.sums.split_at_mut(size);
                let Some(into) = from.first_mut() else {
                    continue;
                };
                for (chosen, factor) in powers.iter().enumerate().skip(1).take(size) {
                    if let Some(rest) = below.get(size - chosen) {
                        into.add_product(rest, *factor, chosen as f64, &covariates);
                    }
                }
            }
        }
        self.sums
            .last()
            .is_some_and(|jet| jet.value.is_finite() && jet.value > 0.0)
            .then_some(())
    }

    /// Logarithm of the sum over the largest subsets, with first and second derivatives.
    pub(crate) fn logarithm(&self) -> Option<(f64, DVector<f64>, DMatrix<f64>)> {
        let jet = self.sums.last()?;
        let most = (self.sums.len() - 1) as f64;
        let first = &jet.first / jet.value;
        let second = &jet.second / jet.value - &first * first.transpose();
        Some((jet.value.ln() - most * self.ln_raise, first, second))
    }
}
