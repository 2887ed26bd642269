//! Limits by the delta method on the log scale (Meeker and Escobar 1998, section 8.4).
//!
//! Too short upward below about 20 failures; prefer [`super::likelihood_ratio`].

use super::{Level, Limits, LimitsError, needs_location_and_shape};
use crate::families::Family;
use crate::fitting::Fit;

/// Limits of the usage by which a share `p` has failed.
///
/// # Errors
/// For `p` outside (0, 1), or a fit without covariance.
pub fn quantile_limits(fit: &Fit, p: f64, level: Level) -> Result<Limits, LimitsError> {
    needs_location_and_shape(fit)?;
    if !(p > 0.0 && p < 1.0) {
        return Err(LimitsError::Share { value: p });
    }
    let value = fit.quantile(p).ok_or(LimitsError::OutOfRange)?;
    let z = fit.family.standard_quantile(-(-p).ln_1p());
    // ln t_p = location + z exp(-log shape)
    let error = error_of(fit, [1.0, -z / fit.log_shape.exp()])?;
    Ok(on_log_scale(value, error, level))
}

/// Standard error of the logarithm of the usage by which a share `p` has failed.
///
/// # Errors
/// As [`quantile_limits`].
pub fn ln_quantile_error(fit: &Fit, p: f64) -> Result<f64, LimitsError> {
    needs_location_and_shape(fit)?;
    if !(p > 0.0 && p < 1.0) {
        return Err(LimitsError::Share { value: p });
    }
    let z = fit.family.standard_quantile(-(-p).ln_1p());
    error_of(fit, [1.0, -z / fit.log_shape.exp()])
}

/// Limits of a parameter by name: on the log scale, but plain for the lognormal's `mu`.
///
/// # Errors
/// For an unknown name, or a fit without covariance.
pub fn parameter_limits(fit: &Fit, name: &str, level: Level) -> Result<Limits, LimitsError> {
    needs_location_and_shape(fit)?;
    let value = fit.parameter(name).ok_or_else(|| LimitsError::Parameter {
        name: name.to_owned(),
    })?;
    let location = matches!(name, "mean" | "rate" | "scale" | "mu");
    let error = error_of(fit, if location { [1.0, 0.0] } else { [0.0, 1.0] })?;
    if fit.family == Family::Lognormal && name == "mu" {
        let reach = level.distance() * error;
        return Ok(asked(value, value - reach, value + reach, level));
    }
    Ok(on_log_scale(value, error, level))
}

/// Limits of survival at `usage > 0`, normal on the scale of the standard variable, so inside 0 to 1.
///
/// # Errors
/// For a usage that is not positive and finite, or a fit without covariance.
pub fn survival_limits(fit: &Fit, usage: f64, level: Level) -> Result<Limits, LimitsError> {
    needs_location_and_shape(fit)?;
    if !(usage.is_finite() && usage > 0.0) {
        return Err(LimitsError::Usage {
            rule: "above 0",
            value: usage,
        });
    }
    let shape = fit.log_shape.exp();
    let z = (usage.ln() - fit.location) * shape;
    let reach = level.distance() * error_of(fit, [-shape, z])?;
    let survival = |z: f64| (-fit.family.cumulative_hazard(z)).exp();
    Ok(asked(
        survival(z),
        survival(z + reach),
        survival(z - reach),
        level,
    ))
}

fn error_of(fit: &Fit, gradient: [f64; 2]) -> Result<f64, LimitsError> {
    let variance = fit
        .location_covariance
        .ok_or(LimitsError::NoCovariance)?
        .form(gradient);
    if variance.is_finite() && variance >= 0.0 {
        Ok(variance.sqrt())
    } else {
        Err(LimitsError::NoCovariance)
    }
}

fn on_log_scale(value: f64, error: f64, level: Level) -> Limits {
    let factor = (level.distance() * error).exp();
    asked(value, value / factor, value * factor, level)
}

fn asked(value: f64, lower: f64, upper: f64, level: Level) -> Limits {
    let mut warnings = Vec::new();
    let mut keep = |wanted: bool, limit: f64, side: &str| {
        if wanted && !limit.is_finite() {
            warnings.push(super::unbounded(side));
        }
        (wanted && limit.is_finite()).then_some(limit)
    };
    Limits {
        value,
        lower: keep(level.wants_lower(), lower, "lower"),
        upper: keep(level.wants_upper(), upper, "upper"),
        warnings,
    }
}
