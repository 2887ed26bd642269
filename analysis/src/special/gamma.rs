//! Chi-square probabilities and quantiles that hold in the extremes.

use std::f64::consts::PI;

use super::incomplete_gamma::GammaShape;

/// Probability that a chi-square with `freedom` degrees lies above `x`.
#[must_use]
pub fn chi_square_upper(x: f64, freedom: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    let (ln_lower, ln_upper) = ln_tails(0.5 * freedom, 0.5 * x);
    if ln_lower < ln_upper {
        -ln_lower.exp_m1()
    } else {
        ln_upper.exp()
    }
}

/// Probability that a chi-square with `freedom` degrees lies below `x`, without loss where it is small.
#[must_use]
pub fn chi_square_lower(x: f64, freedom: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let (ln_lower, ln_upper) = ln_tails(0.5 * freedom, 0.5 * x);
    if ln_lower < ln_upper {
        ln_lower.exp()
    } else {
        -ln_upper.exp_m1()
    }
}

/// The `x` below which a chi-square with `freedom > 0` degrees lies with probability `p`, for `0 < p < 1`.
///
/// Newton in the logarithm of `x` on the logarithm of the smaller tail, kept inside a shrinking bracket; accurate
/// for fractional and for huge freedom and extreme `p`.
#[must_use]
pub fn chi_square_quantile(p: f64, freedom: f64) -> f64 {
    if p <= 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return f64::INFINITY;
    }
    2.0 * gamma_quantile(p.ln(), (-p).ln_1p(), 0.5 * freedom)
}

/// Gamma quantile (unit rate) at the probability whose two tails have the logarithms given.
fn gamma_quantile(ln_p: f64, ln_q: f64, shape: f64) -> f64 {
    let gamma = GammaShape::new(shape);
    let on_lower = ln_p < ln_q;
    let z = if on_lower {
        -super::normal::upper_quantile(ln_p)
    } else {
        super::normal::upper_quantile(ln_q)
    };
    // Start: leading term of the lower tail when that is the small one, else Wilson and Hilferty (1931).
    let ninth = 1.0 / (9.0 * shape);
    let cube = 1.0 - ninth + z * ninth.sqrt();
    let mut u = if cube > 0.2 {
        3.0 * cube.ln()
    } else {
        (ln_p + libm::lgamma(shape + 1.0)) / shape - shape.ln()
    };
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for _ in 0..200 {
        let tails = gamma.tails(u);
        let (gap, ln_slope) = if on_lower {
            (tails.ln_lower - ln_p, tails.ln_lower_rate)
        } else {
            (ln_q - tails.ln_upper, tails.ln_upper_rate)
        };
        if gap > 0.0 {
            high = u;
        } else {
            low = u;
        }
        let mut next = u - gap / ln_slope.exp();
        if !next.is_finite() || next <= low || next >= high {
            next = match (low.is_finite(), high.is_finite()) {
                (true, true) => 0.5 * (low + high),
                (true, false) => low + 1.0,
                (false, true) => high - 1.0,
                (false, false) => u,
            };
        }
        let moved = (next - u).abs();
        u = next;
        if moved <= 4e-16 * (1.0 + u.abs()) {
            break;
        }
    }
    shape * u.exp()
}

/// Logarithms of the lower and upper regularised incomplete gamma functions.
fn ln_tails(shape: f64, x: f64) -> (f64, f64) {
    let ratio = x / shape;
    let u = if ratio < f64::MIN_POSITIVE {
        x.ln() - shape.ln()
    } else {
        ratio.ln()
    };
    let tails = GammaShape::new(shape).tails(u);
    (tails.ln_lower, tails.ln_upper)
}

/// `pi / sin(pi x)` for `0 < x < 1`: the mean of a loglogistic life in units of its scale times `x`.
pub(crate) fn pi_over_sine(x: f64) -> f64 {
    PI / (PI * x).sin()
}
