//! Weibull with a declared shape: only the scale is fitted.
//!
//! With the shape known, usage raised to it is exponential, and chi-square limits hold even with no failures
//! (IEC 61649; Nelson 1985, Journal of Quality Technology 17).

use super::FitError;
use crate::observation::Ending;
use crate::sample::Sample;
use crate::special::gamma::chi_square_quantile;
use crate::summation::Sum;

/// A Weibull with declared shape on one sample.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownShapeFit {
    /// The shape declared.
    pub shape: f64,
    /// Scale by maximum likelihood; none without failures.
    pub scale: Option<f64>,
    /// Log-likelihood at that scale; none without failures.
    pub log_likelihood: Option<f64>,
    /// Lives seen to fail.
    pub failures: u64,
    /// All lives.
    pub lives: u64,
    /// Logarithm of the summed usage, each usage raised to the shape.
    ln_exposure: f64,
}

/// Fits the scale of a Weibull whose shape is declared. Sound with no failures at all.
///
/// # Errors
/// For a shape that is not positive and finite, an empty sample, or failures that are not known exactly.
pub fn known_shape(sample: &Sample, shape: f64) -> Result<KnownShapeFit, FitError> {
    if !(shape.is_finite() && shape > 0.0) {
        return Err(FitError::Shape { value: shape });
    }
    if sample.lives() == 0 || sample.longest_usage() <= 0.0 {
        return Err(FitError::NoLives);
    }
    let inexact = sample.left_censored() + sample.interval_censored();
    if inexact > 0 {
        return Err(FitError::InexactFailures { lives: inexact });
    }
    let longest = sample.longest_usage();
    let mut exposure = Sum::default();
    let mut ln_failures = Sum::default();
    for row in sample.observations() {
        let count = row.count as f64;
        exposure.add(count * power_between(row.entry / longest, row.lower / longest, shape));
        if row.ending() == Ending::Exact {
            ln_failures.add(count * row.lower.ln());
        }
    }
    let ln_exposure = exposure.total().ln() + shape * longest.ln();
    if !ln_exposure.is_finite() {
        return Err(FitError::NoLives);
    }
    let failures = sample.failures();
    let r = failures as f64;
    let ln_scale = (ln_exposure - r.ln()) / shape;
    let fitted = failures > 0 && ln_scale.exp().is_finite();
    let value = r * (shape.ln() - shape * ln_scale) + (shape - 1.0) * ln_failures.total() - r;
    Ok(KnownShapeFit {
        shape,
        scale: fitted.then(|| ln_scale.exp()),
        log_likelihood: fitted.then_some(value),
        failures,
        lives: sample.lives(),
        ln_exposure,
    })
}

/// `b^k - a^k` for `0 <= a <= b <= 1`, without loss when they are close.
fn power_between(a: f64, b: f64, k: f64) -> f64 {
    if a <= 0.0 {
        return b.powf(k);
    }
    let ln_ratio = ((b - a) / a).ln_1p();
    b.powf(k) * -(-k * ln_ratio).exp_m1()
}

impl KnownShapeFit {
    /// Summed usage, each raised to the shape; none where it leaves the range of numbers.
    #[must_use]
    pub fn exposure(&self) -> Option<f64> {
        Some(self.ln_exposure.exp()).filter(|value| value.is_finite())
    }

    /// One-sided lower limit of the scale at confidence `level` in (0, 1), by the chi-square with `2r + 2` degrees.
    #[must_use]
    pub fn scale_lower(&self, level: f64) -> Option<f64> {
        self.scale_at(level, 2.0 * self.failures as f64 + 2.0)
    }

    /// Two-sided limits of the scale at confidence `level`; the upper side does not exist without failures.
    #[must_use]
    pub fn scale_limits(&self, level: f64) -> (Option<f64>, Option<f64>) {
        let tail = 0.5 * (1.0 - level);
        let r = self.failures as f64;
        let upper = if self.failures > 0 {
            self.scale_at(tail, 2.0 * r)
        } else {
            None
        };
        (self.scale_at(1.0 - tail, 2.0 * r + 2.0), upper)
    }

    /// One-sided lower limit, at confidence `level`, of the usage by which a share `p` has failed.
    #[must_use]
    pub fn quantile_lower(&self, p: f64, level: f64) -> Option<f64> {
        if !(p > 0.0 && p < 1.0) {
            return None;
        }
        let factor = ((-(-p).ln_1p()).ln() / self.shape).exp();
        Some(self.scale_lower(level)? * factor).filter(|value| value.is_finite())
    }

    fn scale_at(&self, level: f64, freedom: f64) -> Option<f64> {
        if !(level > 0.0 && level < 1.0) {
            return None;
        }
        let quantile = chi_square_quantile(level, freedom);
        let scale =
            ((std::f64::consts::LN_2 + self.ln_exposure - quantile.ln()) / self.shape).exp();
        (scale.is_finite() && scale > 0.0).then_some(scale)
    }
}
