//! Beta probabilities and quantiles, for ranks.

use super::gamma::{chi_square_lower, chi_square_quantile, chi_square_upper};
use super::normal;
use crate::solve::root;

/// From here on both parameters are large enough for expansions.
const LARGE: f64 = 5_000.0;
/// Whether `b` dwarfs `a` so much that terms of order `(a/b)^2 / 24` are lost.
fn dwarfs(b: f64, a: f64) -> bool {
    b >= 1e5 && a <= 5e-5 * b
}

/// Probability that a beta variable with parameters `a` and `b` lies below `x`; not a number unless both are positive.
///
/// The continued fraction fails for large parameters; there the expansions of [`beta_quantile`] are turned round.
#[must_use]
pub fn beta_probability(x: f64, a: f64, b: f64) -> f64 {
    if !(a > 0.0 && b > 0.0) || x.is_nan() {
        return f64::NAN;
    }
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    if a.min(b) >= LARGE {
        return below(x, a, b);
    }
    if dwarfs(b, a) {
        return chi_square_lower(-2.0 * (-x).ln_1p() * (b + 0.5 * (a - 1.0)), 2.0 * a);
    }
    if dwarfs(a, b) {
        return chi_square_upper(-2.0 * x.ln() * (a + 0.5 * (b - 1.0)), 2.0 * b);
    }
    statrs::function::beta::checked_beta_reg(a, b, x).unwrap_or(f64::NAN)
}

/// The `x` below which a beta variable with positive parameters `a` and `b` lies with probability `p`.
///
/// Newton in the log-odds of `x`, kept inside a shrinking bracket; expansions where a parameter is too large for that.
#[must_use]
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    if p <= 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return 1.0;
    }
    if a.min(b) >= LARGE {
        return expansion(p, a, b);
    }
    if dwarfs(b, a) {
        return -(-near_gamma(p, a, b)).exp_m1();
    }
    if dwarfs(a, b) {
        return (-near_gamma(1.0 - p, b, a)).exp();
    }
    let ln_beta = libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b);
    let mut y = (a / b).ln();
    let (mut low, mut high) = (-700.0_f64, 700.0_f64);
    for _ in 0..300 {
        let x = 1.0 / (1.0 + (-y).exp());
        let gap = beta_probability(x, a, b) - p;
        if gap > 0.0 {
            high = y;
        } else {
            low = y;
        }
        // Density of the log-odds: x^a (1-x)^b / B(a, b), with both logarithms free of cancellation.
        let ln_x = -(-y).exp().ln_1p();
        let ln_rest = -y.exp().ln_1p();
        let slope = (a * ln_x + b * ln_rest - ln_beta).exp();
        let mut next = y - gap / slope;
        if !next.is_finite() || next <= low || next >= high {
            next = 0.5 * (low + high);
        }
        let moved = (next - y).abs();
        y = next;
        if moved <= 1e-15 * (1.0 + y.abs()) {
            break;
        }
    }
    1.0 / (1.0 + (-y).exp())
}

/// Quantile by the expansion of Cornish and Fisher (1937) of the log-odds, whose cumulants are polygamma functions.
/// Off by less than 1e-9 of itself from [`LARGE`] on.
fn expansion(p: f64, a: f64, b: f64) -> f64 {
    let odds = LogOdds::new(a, b);
    1.0 / (1.0 + (-(odds.mean + odds.spread * odds.distance(normal::quantile(p)))).exp())
}

/// The probability below `x` by the same expansion.
fn below(x: f64, a: f64, b: f64) -> f64 {
    let odds = LogOdds::new(a, b);
    let distance = (x.ln() - (-x).ln_1p() - odds.mean) / odds.spread;
    // Beyond 40 deviations a chance is no longer a number above 0; up to there the expansion rises.
    if distance <= odds.distance(-40.0) {
        return 0.0;
    }
    if distance >= odds.distance(40.0) {
        return 1.0;
    }
    root(|z| odds.distance(z) - distance, -40.0, 40.0).map_or(f64::NAN, normal::lower_tail)
}

/// Mean, deviation and standardised cumulants of the logarithm of the odds of a beta variable.
struct LogOdds {
    mean: f64,
    spread: f64,
    skew: f64,
    tail: f64,
    next: f64,
}

impl LogOdds {
    fn new(a: f64, b: f64) -> Self {
        let (r, s) = (1.0 / a, 1.0 / b);
        let second = |r: f64| r * (1.0 + r * (0.5 + r / 6.0));
        let third = |r: f64| -r * r * (1.0 + r * (1.0 + 0.5 * r));
        let fourth = |r: f64| r * r * r * (2.0 + r * (3.0 + 2.0 * r));
        let fifth = |r: f64| -r * r * r * r * (6.0 + 12.0 * r);
        let spread = (second(r) + second(s)).sqrt();
        Self {
            mean: (a / b).ln() - 0.5 * (r - s) - (r * r - s * s) / 12.0,
            spread,
            skew: (third(r) - third(s)) / spread.powi(3),
            tail: (fourth(r) + fourth(s)) / spread.powi(4),
            next: (fifth(r) - fifth(s)) / spread.powi(5),
        }
    }

    /// Deviations above the mean that belong to `z` deviations of a normal variable.
    fn distance(&self, z: f64) -> f64 {
        let Self {
            skew, tail, next, ..
        } = *self;
        let q = z * z;
        z + skew * (q - 1.0) / 6.0 + tail * z * (q - 3.0) / 24.0
            - skew * skew * z * (2.0 * q - 5.0) / 36.0
            + next * (q * q - 6.0 * q + 3.0) / 120.0
            - skew * tail * (q * q - 5.0 * q + 2.0) / 24.0
            + skew * skew * skew * (12.0 * q * q - 53.0 * q + 17.0) / 324.0
    }
}

/// `-ln(1 - x)` at the quantile when `b` dwarfs `a`: nearly a gamma variable over `b + (a - 1)/2` (Wise 1950,
/// Biometrika 37).
fn near_gamma(p: f64, a: f64, b: f64) -> f64 {
    0.5 * chi_square_quantile(p, 2.0 * a) / (b + 0.5 * (a - 1.0))
}
