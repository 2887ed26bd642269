//! Exponential: the Weibull of shape one, with the mean as its scale.

use super::{Jet, weibull};

pub(super) fn log_hazard(z: f64) -> Jet {
    weibull::log_hazard(z)
}

pub(super) fn cumulative_hazard(z: f64) -> f64 {
    weibull::cumulative_hazard(z)
}

pub(super) fn log_hazard_between(start: f64, end: f64, width: f64) -> f64 {
    weibull::log_hazard_between(start, end, width)
}

pub(super) fn standard_quantile(hazard: f64) -> f64 {
    weibull::standard_quantile(hazard)
}

/// The shape is one by definition.
pub(super) fn starting_shape() -> f64 {
    1.0
}
