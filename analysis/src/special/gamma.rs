//! Chi-square probabilities and quantiles that hold in the extremes.

use std::f64::consts::PI;

/// Probability that a chi-square with `freedom` degrees lies above `x`.
///
/// Series below the mean, continued fraction above it (Abramowitz and Stegun 1964, 6.5.29 and 6.5.31).
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
/// for fractional freedom and extreme `p`.
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
    let on_lower = ln_p < ln_q;
    // Start: leading term of the lower tail when that is the small one, else Wilson and Hilferty (1931).
    let small = (ln_p + libm::lgamma(shape + 1.0)) / shape;
    let z = if on_lower {
        -super::normal::upper_quantile(ln_p)
    } else {
        super::normal::upper_quantile(ln_q)
    };
    let ninth = 1.0 / (9.0 * shape);
    let cube = 1.0 - ninth + z * ninth.sqrt();
    let mut y = if cube > 0.2 {
        shape.ln() + 3.0 * cube.ln()
    } else {
        small
    };
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for _ in 0..200 {
        let x = y.exp();
        let (ln_lower, ln_upper) = ln_tails(shape, x);
        let gap = if on_lower {
            ln_lower - ln_p
        } else {
            ln_q - ln_upper
        };
        if gap > 0.0 {
            high = y;
        } else {
            low = y;
        }
        let ln_density = shape * y - x - libm::lgamma(shape);
        let slope = (ln_density - if on_lower { ln_lower } else { ln_upper }).exp();
        let mut next = y - gap / slope;
        if !next.is_finite() || next <= low || next >= high {
            next = match (low.is_finite(), high.is_finite()) {
                (true, true) => 0.5 * (low + high),
                (true, false) => low + 1.0,
                (false, true) => high - 1.0,
                (false, false) => y,
            };
        }
        let moved = (next - y).abs();
        y = next;
        if moved <= 4e-16 * (1.0 + y.abs()) {
            break;
        }
    }
    y.exp()
}

/// Logarithms of the lower and upper regularised incomplete gamma functions.
fn ln_tails(a: f64, x: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (f64::NEG_INFINITY, 0.0);
    }
    let ln_front = a * x.ln() - x - libm::lgamma(a);
    if x < a + 1.0 {
        let mut term = 1.0 / a;
        let mut total = term;
        let mut n = a;
        for _ in 0..100_000 {
            n += 1.0;
            term *= x / n;
            total += term;
            if term < total * 1e-17 {
                break;
            }
        }
        let ln_lower = (ln_front + total.ln()).min(0.0);
        (ln_lower, ln_complement(ln_lower))
    } else {
        let ln_upper = (ln_front + upper_fraction(a, x).ln()).min(0.0);
        (ln_complement(ln_upper), ln_upper)
    }
}

/// `ln(1 - exp(v))` for `v <= 0`.
fn ln_complement(v: f64) -> f64 {
    if v > -0.7 {
        (-v.exp_m1()).ln()
    } else {
        (-v.exp()).ln_1p()
    }
}

/// Continued fraction of the upper incomplete gamma function, by the modified Lentz method.
fn upper_fraction(a: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / b;
    let mut h = d;
    for i in 1..100_000_u32 {
        let n = f64::from(i);
        let an = -n * (n - a);
        b += 2.0;
        d = an * d + b;
        if d.abs() < TINY {
            d = TINY;
        }
        c = b + an / c;
        if c.abs() < TINY {
            c = TINY;
        }
        d = 1.0 / d;
        let delta = d * c;
        h *= delta;
        if (delta - 1.0).abs() < 1e-15 {
            break;
        }
    }
    h
}

/// `pi / sin(pi x)` for `0 < x < 1`: the mean of a loglogistic life in units of its scale times `x`.
pub(crate) fn pi_over_sine(x: f64) -> f64 {
    PI / (PI * x).sin()
}
