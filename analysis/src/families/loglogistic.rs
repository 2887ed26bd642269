//! Loglogistic: odds of failure `exp(z)`, that is `(t / scale)^shape` (Lawless 2003, section 1.3).

use std::f64::consts::PI;

use super::{Jet, ln_exp_m1};

/// `ln(1 + exp(z))` without overflow.
fn softplus(z: f64) -> f64 {
    if z > 0.0 {
        z + (-z).exp().ln_1p()
    } else {
        z.exp().ln_1p()
    }
}

pub(super) fn log_hazard(z: f64) -> Jet {
    let survival = (-softplus(z)).exp();
    let failure = (-softplus(-z)).exp();
    Jet {
        value: -softplus(-z),
        slope: survival,
        curvature: -survival * failure,
    }
}

pub(super) fn cumulative_hazard(z: f64) -> f64 {
    softplus(z)
}

pub(super) fn log_hazard_between(start: f64, end: f64, width: f64) -> f64 {
    // H(b) - H(a) = ln(1 + F(a) (exp(b - a) - 1)); with a at minus infinity it is ln(1 + exp(b)).
    let ln_ratio = if start == f64::NEG_INFINITY {
        end
    } else {
        ln_exp_m1(width) - softplus(-start)
    };
    if ln_ratio < -37.0 {
        ln_ratio
    } else {
        softplus(ln_ratio).ln()
    }
}

pub(super) fn standard_quantile(hazard: f64) -> f64 {
    ln_exp_m1(hazard)
}

/// The logarithm of a loglogistic life has standard deviation `pi / (shape sqrt 3)`.
pub(super) fn starting_shape(log_spread: f64) -> f64 {
    PI / (3.0_f64.sqrt() * log_spread)
}
