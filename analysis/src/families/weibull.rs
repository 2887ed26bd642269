//! Weibull: cumulative hazard `exp(z)`, that is `(t / scale)^shape` (Weibull 1951, Journal of Applied Mechanics 18).

use std::f64::consts::PI;

use super::{Jet, ln_exp_m1};

pub(super) fn log_hazard(z: f64) -> Jet {
    Jet {
        value: z,
        slope: 1.0,
        curvature: 0.0,
    }
}

pub(super) fn cumulative_hazard(z: f64) -> f64 {
    z.exp()
}

pub(super) fn log_hazard_between(start: f64, end: f64, width: f64) -> f64 {
    if start == f64::NEG_INFINITY {
        end
    } else {
        start + ln_exp_m1(width)
    }
}

pub(super) fn standard_quantile(hazard: f64) -> f64 {
    hazard.ln()
}

/// The logarithm of a Weibull life has standard deviation `pi / (shape sqrt 6)`.
pub(super) fn starting_shape(log_spread: f64) -> f64 {
    PI / (6.0_f64.sqrt() * log_spread)
}
