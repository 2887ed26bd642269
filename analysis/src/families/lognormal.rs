//! Lognormal: survival `P(Z > z)` with `z = (ln t - mu) / sigma` (Lawless 2003, section 1.3).

use super::Jet;
use crate::special::normal;

/// Below this point the cumulative hazard equals the failure probability to full precision.
const LEFT_TAIL: f64 = -9.0;

pub(super) fn log_hazard(z: f64) -> Jet {
    let value = normal::ln_hazard(z);
    let hazard = value.exp();
    let slope = hazard - z;
    Jet {
        value,
        slope,
        curvature: hazard * slope - 1.0,
    }
}

pub(super) fn cumulative_hazard(z: f64) -> f64 {
    -normal::ln_upper_tail(z)
}

pub(super) fn log_hazard_between(start: f64, end: f64, _width: f64) -> f64 {
    if end < LEFT_TAIL {
        let top = normal::ln_upper_tail(-end);
        if start == f64::NEG_INFINITY {
            return top;
        }
        let bottom = normal::ln_upper_tail(-start);
        return top + (-(bottom - top).exp()).ln_1p();
    }
    let from = if start == f64::NEG_INFINITY {
        0.0
    } else {
        cumulative_hazard(start)
    };
    (cumulative_hazard(end) - from).ln()
}

pub(super) fn standard_quantile(hazard: f64) -> f64 {
    normal::upper_quantile(-hazard)
}

/// The standard deviation of the logarithm is the reciprocal of the shape.
pub(super) fn starting_shape(log_spread: f64) -> f64 {
    1.0 / log_spread
}
