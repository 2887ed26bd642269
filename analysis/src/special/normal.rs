//! The normal curve, in logarithms and far into its tails.

use std::f64::consts::{FRAC_1_SQRT_2, LN_2, PI};

const LN_SQRT_2_PI: f64 = 0.918_938_533_204_672_7;

/// Logarithm of the standard normal density.
#[must_use]
pub fn ln_density(z: f64) -> f64 {
    -0.5 * z * z - LN_SQRT_2_PI
}

/// Scaled complement of the error function, `exp(x^2) erfc(x)`, for `x >= 0`.
///
/// Continued fraction above 4 (Abramowitz and Stegun 1964, 7.1.14).
#[must_use]
pub fn scaled_erfc(x: f64) -> f64 {
    if x < 4.0 {
        return (x * x).exp() * libm::erfc(x);
    }
    let mut tail = 0.0;
    let mut term = 60.0_f64;
    while term >= 1.0 {
        tail = 0.5 * term / (x + tail);
        term -= 1.0;
    }
    1.0 / ((x + tail) * PI.sqrt())
}

/// Logarithm of the upper tail `P(Z > z)`.
#[must_use]
pub fn ln_upper_tail(z: f64) -> f64 {
    if z < 0.0 {
        (-lower_tail(z)).ln_1p()
    } else {
        scaled_erfc(z * FRAC_1_SQRT_2).ln() - 0.5 * z * z - LN_2
    }
}

/// `P(Z <= z)`.
#[must_use]
pub fn lower_tail(z: f64) -> f64 {
    0.5 * libm::erfc(-z * FRAC_1_SQRT_2)
}

/// Hazard of the standard normal, density over upper tail.
#[must_use]
pub fn hazard(z: f64) -> f64 {
    ln_hazard(z).exp()
}

/// Logarithm of the hazard of the standard normal.
#[must_use]
pub fn ln_hazard(z: f64) -> f64 {
    if z < 0.0 {
        ln_density(z) - (-lower_tail(z)).ln_1p()
    } else {
        // Density and tail share exp(-z^2/2), which cancels.
        LN_2 - LN_SQRT_2_PI - scaled_erfc(z * FRAC_1_SQRT_2).ln()
    }
}

/// The `z` with `P(Z > z) = exp(ln_tail)`, for `ln_tail < 0`; infinite at the ends.
///
/// Newton steps on the logarithm of the smaller tail, from the leading term of its expansion.
#[must_use]
pub fn upper_quantile(ln_tail: f64) -> f64 {
    if ln_tail >= 0.0 {
        return f64::NEG_INFINITY;
    }
    if ln_tail == f64::NEG_INFINITY {
        return f64::INFINITY;
    }
    if ln_tail > -LN_2 {
        let ln_other = (-ln_tail.exp_m1()).ln();
        return -upper_quantile(ln_other);
    }
    // Here the tail is at most one half, so z >= 0 and the log tail is concave: Newton cannot overshoot for long.
    let mut z = (-2.0 * (ln_tail + LN_2)).sqrt();
    for _ in 0..60 {
        let step = (ln_upper_tail(z) - ln_tail) / hazard(z);
        z += step;
        if step.abs() <= 1e-16 * (1.0 + z.abs()) {
            break;
        }
    }
    z.max(0.0)
}

/// The `z` with `P(Z <= z) = p`, for `0 < p < 1`; infinite at the ends.
#[must_use]
pub fn quantile(p: f64) -> f64 {
    if p <= 0.5 {
        -upper_quantile(p.ln())
    } else {
        upper_quantile((-p).ln_1p())
    }
}
