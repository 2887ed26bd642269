//! Weibull with a declared shape: only the scale is fitted.
//!
//! With the shape known, usage raised to it is exponential, and chi-square limits hold even with no failures
//! (IEC 61649; Nelson 1985, Journal of Quality Technology 17). Failures known only to lie between two usages have no
//! such closed form; their limits are by the likelihood ratio with the shape held (Meeker and Escobar 1998, section
//! 8.3).

use super::{FitError, SHAPES};
use crate::observation::Ending;
use crate::sample::Sample;
use crate::solve::root;
use crate::special::gamma::chi_square_quantile;
use crate::special::incomplete_gamma::ln_complement;
use crate::special::normal;
use crate::summation::Sum;

/// A Weibull with declared shape on one sample.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownShapeFit {
    /// The shape declared.
    pub shape: f64,
    /// Scale by maximum likelihood; none without failures, or where every failure is only known to lie before some
    /// usage and nothing was seen to survive, so that the scale shrinks to zero.
    pub scale: Option<f64>,
    /// Log-likelihood at that scale; none where there is no scale, or where it leaves the range of numbers.
    pub log_likelihood: Option<f64>,
    /// Lives seen to fail.
    pub failures: u64,
    /// All lives.
    pub lives: u64,
    /// How the limits are made.
    pub limits: KnownShapeLimits,
    /// Logarithm of the summed usage, each usage raised to the shape.
    ln_exposure: f64,
    likelihood: Likelihood,
}

/// How limits with a known shape are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KnownShapeLimits {
    /// By the chi-square: all failures exact, or none.
    ChiSquare,
    /// By the likelihood ratio with the shape held: some failures not known exactly.
    LikelihoodRatio,
}

/// Likelihood of the logarithm of the rate: `rate = (longest / scale)^shape`, for usages over the longest.
#[derive(Clone, Debug, PartialEq)]
struct Likelihood {
    ln_longest: f64,
    exact: f64,
    exposure: f64,
    /// Count and exposure of every failure that is not exact.
    within: Vec<(f64, f64)>,
    /// What does not depend on the rate.
    constant: f64,
}

/// Logarithms of rates beyond these are out of the range of numbers.
const FURTHEST: f64 = 1_400.0;

/// Fits the scale of a Weibull whose shape is declared, under any mixture of censoring and delayed entry. Sound with
/// no failures at all.
///
/// # Errors
/// For a shape outside 0.001 to 1,000,000, or an empty sample.
pub fn known_shape(sample: &Sample, shape: f64) -> Result<KnownShapeFit, FitError> {
    if !SHAPES.contains(&shape) {
        return Err(FitError::Shape { value: shape });
    }
    if sample.lives() == 0 || sample.longest_usage() <= 0.0 {
        return Err(FitError::NoLives);
    }
    let longest = sample.longest_usage();
    let mut exposure = Sum::default();
    let mut ln_failures = Sum::default();
    let mut within = Vec::new();
    for row in sample.observations() {
        let count = row.count as f64;
        exposure.add(count * power_between(row.entry / longest, row.lower / longest, shape));
        match row.ending() {
            Ending::Exact => ln_failures.add(count * row.lower.ln()),
            Ending::RightCensored => {}
            Ending::LeftCensored | Ending::IntervalCensored => within.push((
                count,
                power_between(row.lower / longest, row.upper / longest, shape),
            )),
        }
    }
    let exact = sample.exact_failures() as f64;
    let likelihood = Likelihood {
        ln_longest: longest.ln(),
        exact,
        exposure: exposure.total(),
        within,
        constant: exact * (shape.ln() - shape * longest.ln()) + (shape - 1.0) * ln_failures.total(),
    };
    let ln_exposure = likelihood.exposure.ln() + shape * longest.ln();
    let inexact = sample.exact_failures() < sample.failures();
    if ln_exposure.is_nan() || (!inexact && !ln_exposure.is_finite()) {
        return Err(FitError::NoLives);
    }
    let ln_rate = likelihood.best();
    let scale = ln_rate
        .map(|ln_rate| likelihood.scale(ln_rate, shape))
        .filter(|scale| scale.is_finite() && *scale > 0.0);
    Ok(KnownShapeFit {
        shape,
        scale,
        log_likelihood: ln_rate
            .filter(|_| scale.is_some())
            .map(|ln_rate| likelihood.constant + likelihood.value(ln_rate))
            .filter(|value| value.is_finite()),
        failures: sample.failures(),
        lives: sample.lives(),
        limits: if inexact {
            KnownShapeLimits::LikelihoodRatio
        } else {
            KnownShapeLimits::ChiSquare
        },
        ln_exposure,
        likelihood,
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

impl Likelihood {
    /// Logarithm of the best rate; none where the likelihood grows towards one end.
    fn best(&self) -> Option<f64> {
        if self.within.is_empty() {
            let ln_rate = self.exact.ln() - self.exposure.ln();
            return ln_rate.is_finite().then_some(ln_rate);
        }
        if self.exposure <= 0.0 {
            return None;
        }
        root(|ln_rate| self.slope(ln_rate), -FURTHEST, FURTHEST)
    }

    /// Failures expected while known unfailed; none without exposure, however large the rate.
    fn exposed(&self, rate: f64) -> f64 {
        if self.exposure > 0.0 {
            rate * self.exposure
        } else {
            0.0
        }
    }

    fn value(&self, ln_rate: f64) -> f64 {
        let rate = ln_rate.exp();
        let mut value = Sum::default();
        value.add(self.exact * ln_rate);
        value.add(-self.exposed(rate));
        for (count, exposure) in &self.within {
            let gained = rate * exposure;
            let share = if gained < 1e-12 {
                ln_rate + exposure.ln()
            } else {
                ln_complement(-gained)
            };
            value.add(count * share);
        }
        value.total()
    }

    fn slope(&self, ln_rate: f64) -> f64 {
        let rate = ln_rate.exp();
        let mut slope = Sum::default();
        slope.add(self.exact);
        slope.add(-self.exposed(rate));
        for (count, exposure) in &self.within {
            let gained = rate * exposure;
            slope.add(if gained > 700.0 {
                0.0
            } else if gained > 0.0 {
                count * gained / gained.exp_m1()
            } else {
                *count
            });
        }
        // Far out the exposure outweighs everything else, even as its product overflows.
        slope.total().clamp(-f64::MAX, f64::MAX)
    }

    fn scale(&self, ln_rate: f64, shape: f64) -> f64 {
        (self.ln_longest - ln_rate / shape).exp()
    }

    /// Logarithm of the rate whose signed root of the likelihood ratio is `distance`.
    fn at_distance(&self, distance: f64) -> Option<f64> {
        let best = self.best();
        let top = best.map_or(0.0, |best| self.value(best));
        let fall = |ln_rate: f64| {
            (2.0 * (top - self.value(ln_rate)) - distance * distance).clamp(-f64::MAX, f64::MAX)
        };
        match best {
            Some(best) if distance >= 0.0 => root(fall, best, best + FURTHEST),
            Some(best) => root(fall, best - FURTHEST, best),
            // The rate has no upper end: its best value is infinite, with a likelihood of one.
            None if distance < 0.0 => root(fall, -FURTHEST, FURTHEST),
            None => None,
        }
    }
}

impl KnownShapeFit {
    /// Summed usage known unfailed, each raised to the shape; none where it leaves the range of numbers.
    #[must_use]
    pub fn exposure(&self) -> Option<f64> {
        Some(self.ln_exposure.exp()).filter(|value| value.is_finite())
    }

    /// The scale if one failure were about to happen, where none has: a lower limit at 63.2 % confidence. None once
    /// there are failures.
    #[must_use]
    pub fn scale_assuming_one_failure(&self) -> Option<f64> {
        let scale = (self.ln_exposure / self.shape).exp();
        (self.failures == 0 && scale.is_finite() && scale > 0.0).then_some(scale)
    }

    /// One-sided lower limit of the scale at confidence `level` in (0, 1): by the chi-square with `2r + 2` degrees, as
    /// for lives watched up to usages set beforehand, or by the likelihood ratio where some failures are not exact.
    #[must_use]
    pub fn scale_lower(&self, level: f64) -> Option<f64> {
        self.side(level, 2.0 * self.failures as f64 + 2.0)
    }

    /// One-sided lower limit by the chi-square with `2r` degrees, for lives watched until the last of `r` failures.
    /// None without failures, or where some failures are not exact.
    #[must_use]
    pub fn scale_lower_failure_truncated(&self, level: f64) -> Option<f64> {
        let exact = self.limits == KnownShapeLimits::ChiSquare;
        (exact && self.failures > 0).then(|| self.side(level, 2.0 * self.failures as f64))?
    }

    /// Two-sided limits of the scale at confidence `level`; the upper side does not exist without failures.
    #[must_use]
    pub fn scale_limits(&self, level: f64) -> (Option<f64>, Option<f64>) {
        let tail = 0.5 * (1.0 - level);
        let r = self.failures as f64;
        let upper = if self.failures > 0 {
            self.side(tail, 2.0 * r)
        } else {
            None
        };
        (self.side(1.0 - tail, 2.0 * r + 2.0), upper)
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

    fn side(&self, level: f64, freedom: f64) -> Option<f64> {
        if !(level > 0.0 && level < 1.0) {
            return None;
        }
        let scale = match self.limits {
            KnownShapeLimits::ChiSquare => {
                let quantile = chi_square_quantile(level, freedom);
                ((std::f64::consts::LN_2 + self.ln_exposure - quantile.ln()) / self.shape).exp()
            }
            KnownShapeLimits::LikelihoodRatio => {
                let ln_rate = self.likelihood.at_distance(normal::quantile(level))?;
                self.likelihood.scale(ln_rate, self.shape)
            }
        };
        (scale.is_finite() && scale > 0.0).then_some(scale)
    }
}
