//! Limits by the likelihood ratio: the values whose best likelihood is within a chi-square of the top
//! (Meeker and Escobar 1998, section 8.3). The default: they honour the lopsidedness of few failures.

use super::path::{Path, ln_span};
use super::profile::Profile;
use super::{Level, Limits, LimitsError, unbounded};
use crate::families::Family;
use crate::fitting::Fit;
use crate::fitting::rows::Rows;
use crate::sample::Sample;

/// Log usage beyond these bounds is out of the range of numbers.
const LOG_USAGE: (f64, f64) = (-690.0, 690.0);
const LOG_SHAPE: (f64, f64) = (-16.0, 28.0);
/// Standard variable: beyond these the failed or the surviving share is nothing, in every family.
const STANDARD: (f64, f64) = (-600.0, 600.0);

/// Limits of the usage by which a share `p` has failed.
///
/// # Errors
/// For `p` outside (0, 1), or a search that fails.
pub fn quantile_limits(
    sample: &Sample,
    fit: &Fit,
    p: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    quantile_limits_of(&Rows::new(sample), fit, p, level)
}

/// The same for several shares at once: the sample is prepared only once.
pub fn quantiles_limits(
    sample: &Sample,
    fit: &Fit,
    shares: &[f64],
    level: Level,
) -> Vec<Result<Limits, LimitsError>> {
    let rows = Rows::new(sample);
    shares
        .iter()
        .map(|p| quantile_limits_of(&rows, fit, *p, level))
        .collect()
}

fn quantile_limits_of(rows: &Rows, fit: &Fit, p: f64, level: Level) -> Result<Limits, LimitsError> {
    let hazard = hazard_of(p)?;
    let value = fit.quantile(p).ok_or(LimitsError::OutOfRange)?;
    let z = fit.family.standard_quantile(hazard);
    usage_limits_of(rows, fit, z, value, level)
}

fn usage_limits(
    sample: &Sample,
    fit: &Fit,
    z: f64,
    value: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    usage_limits_of(&Rows::new(sample), fit, z, value, level)
}

fn usage_limits_of(
    rows: &Rows,
    fit: &Fit,
    z: f64,
    value: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    let centre = rows.centre;
    let profile = Profile {
        rows,
        family: fit.family,
        path: Path::Quantile { z },
        top: fit.log_likelihood,
        target: fit.location + z / fit.log_shape.exp() - centre,
        nuisance: fit.log_shape,
        error: error(fit, [1.0, -z / fit.log_shape.exp()]),
        range: (LOG_USAGE.0 - centre, LOG_USAGE.1 - centre),
    };
    sides(&profile, value, level, |target| (target + centre).exp())
}

/// Limits of a parameter by name.
///
/// # Errors
/// For an unknown name, or a search that fails.
pub fn parameter_limits(
    sample: &Sample,
    fit: &Fit,
    name: &str,
    level: Level,
) -> Result<Limits, LimitsError> {
    let value = fit.parameter(name).ok_or_else(|| LimitsError::Parameter {
        name: name.to_owned(),
    })?;
    match name {
        "mean" | "scale" => usage_limits(sample, fit, 0.0, value, level),
        "rate" => Ok(turned(
            usage_limits(sample, fit, 0.0, 1.0 / value, level.opposite())?,
            value,
            |mean| 1.0 / mean,
        )),
        "mu" => {
            let limits = usage_limits(sample, fit, 0.0, value.exp(), level)?;
            Ok(Limits {
                value,
                lower: limits.lower.map(f64::ln),
                upper: limits.upper.map(f64::ln),
                ..limits
            })
        }
        "sigma" => Ok(turned(
            shape_limits(sample, fit, 1.0 / value, level.opposite())?,
            value,
            |shape| 1.0 / shape,
        )),
        _ => shape_limits(sample, fit, value, level),
    }
}

fn shape_limits(
    sample: &Sample,
    fit: &Fit,
    value: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    let rows = Rows::new(sample);
    let profile = Profile {
        rows: &rows,
        family: fit.family,
        path: Path::Shape,
        top: fit.log_likelihood,
        target: fit.log_shape,
        nuisance: fit.member(rows.centre).z(0.0),
        error: error(fit, [0.0, 1.0]),
        range: LOG_SHAPE,
    };
    sides(&profile, value, level, f64::exp)
}

/// Limits of survival at `usage > 0`; where the data leave a side open, the limit is 0 or 1.
///
/// # Errors
/// For a usage that is not positive and finite, or a search that fails.
pub fn survival_limits(
    sample: &Sample,
    fit: &Fit,
    usage: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    if !(usage.is_finite() && usage > 0.0) {
        return Err(LimitsError::Usage {
            rule: "above 0",
            value: usage,
        });
    }
    if fit.family == Family::Exponential {
        let mean = usage_limits(sample, fit, 0.0, fit.location.exp(), level)?;
        let survival = |mean: f64| (-usage / mean).exp();
        return Ok(Limits {
            value: fit.survival(usage),
            lower: mean.lower.map(survival),
            upper: mean.upper.map(survival),
            ..mean
        });
    }
    let rows = Rows::new(sample);
    let y = usage.ln() - rows.centre;
    let shape = fit.log_shape.exp();
    let z = (usage.ln() - fit.location) * shape;
    let profile = Profile {
        rows: &rows,
        family: fit.family,
        path: Path::Standard { y },
        top: fit.log_likelihood,
        target: z,
        nuisance: fit.log_shape,
        error: error(fit, [-shape, z]),
        range: STANDARD,
    };
    let survival = |z: f64| (-fit.family.cumulative_hazard(z)).exp();
    let distance = level.distance();
    let side = |wanted: bool, sign: f64, natural: f64| -> Result<Option<f64>, LimitsError> {
        if !wanted {
            return Ok(None);
        }
        Ok(Some(
            profile.limit(sign, distance)?.map_or(natural, survival),
        ))
    };
    Ok(Limits {
        value: fit.survival(usage),
        lower: side(level.wants_lower(), 1.0, 0.0)?,
        upper: side(level.wants_upper(), -1.0, 1.0)?,
        warnings: Vec::new(),
    })
}

/// Limits of the further usage `d` with `P(T <= age + d | T > age) = p`.
///
/// # Errors
/// For `p` outside (0, 1), a negative age, or a search that fails.
pub fn span_limits(
    sample: &Sample,
    fit: &Fit,
    age: f64,
    p: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    let hazard = hazard_of(p)?;
    if !(age.is_finite() && age >= 0.0) {
        return Err(LimitsError::Usage {
            rule: "at least 0",
            value: age,
        });
    }
    // A constant hazard does not know its age.
    if age <= 0.0 || fit.family == Family::Exponential {
        return quantile_limits(sample, fit, p, level);
    }
    let value = ln_span(&fit.member(0.0), age, hazard).ok_or(LimitsError::OutOfRange)?;
    if !(value.exp().is_finite() && value.exp() > 0.0) {
        return Err(LimitsError::OutOfRange);
    }
    let rows = Rows::new(sample);
    let profile = Profile {
        rows: &rows,
        family: fit.family,
        path: Path::Span { age, hazard },
        top: fit.log_likelihood,
        target: value,
        nuisance: fit.log_shape,
        error: 0.3,
        range: LOG_USAGE,
    };
    sides(&profile, value.exp(), level, f64::exp)
}

fn hazard_of(p: f64) -> Result<f64, LimitsError> {
    if p > 0.0 && p < 1.0 {
        Ok(-(-p).ln_1p())
    } else {
        Err(LimitsError::Share { value: p })
    }
}

/// Standard error of a target from its gradient in location and log shape; 0.3 where there is none.
fn error(fit: &Fit, gradient: [f64; 2]) -> f64 {
    let variance = fit
        .location_covariance
        .map(|covariance| covariance.form(gradient));
    variance
        .filter(|variance| variance.is_finite() && *variance > 0.0)
        .map_or(0.3, f64::sqrt)
}

fn sides(
    profile: &Profile<'_>,
    value: f64,
    level: Level,
    shown: impl Fn(f64) -> f64,
) -> Result<Limits, LimitsError> {
    let mut warnings = Vec::new();
    let mut side = |wanted: bool, sign: f64, name: &str| -> Result<Option<f64>, LimitsError> {
        if !wanted {
            return Ok(None);
        }
        let limit = profile
            .limit(sign, level.distance())?
            .map(&shown)
            .filter(|limit| limit.is_finite() && *limit > 0.0);
        if limit.is_none() {
            warnings.push(unbounded(name));
        }
        Ok(limit)
    };
    let lower = side(level.wants_lower(), -1.0, "lower")?;
    let upper = side(level.wants_upper(), 1.0, "upper")?;
    Ok(Limits {
        value,
        lower,
        upper,
        warnings,
    })
}

/// Limits of a decreasing function of what was limited: the sides change places.
fn turned(limits: Limits, value: f64, shown: impl Fn(f64) -> f64) -> Limits {
    let warnings = limits
        .warnings
        .iter()
        .map(|warning| {
            unbounded(if warning.message.contains("upper") {
                "lower"
            } else {
                "upper"
            })
        })
        .collect();
    Limits {
        value,
        lower: limits.upper.map(&shown),
        upper: limits.lower.map(&shown),
        warnings,
    }
}
