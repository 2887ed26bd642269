//! One question, one answer: limits of any quantity by any method, and the confidence in any value of it.

use super::bootstrap::Roots;
use super::modified_root::ModifiedRoot;
use super::profile::Measure;
use super::quantity::{Aim, Quantity};
use super::{Level, Limits, LimitsError, Method, free_form, unbounded};
use crate::fitting::Fit;
use crate::fitting::rows::Rows;
use crate::sample::Sample;
use crate::special::normal;
use crate::warning::{Warning, WarningCode};

/// Limits of a quantity of a fit to a sample.
///
/// A side without a limit is none with a warning; a chance has the limits 0 and 1 there. A limit never lies on the
/// wrong side of the estimate: where a method would put it there, it is the estimate.
///
/// # Errors
/// For a question outside its range, a fit without covariance where the method needs one, or a search that fails.
pub fn limits(
    sample: &Sample,
    fit: &Fit,
    quantity: Quantity,
    level: Level,
    method: Method,
) -> Result<Limits, LimitsError> {
    with_cautions(sample, &Rows::new(sample), fit, quantity, level, method)
}

/// The same of several quantities, in their order: the sample is prepared only once.
#[must_use]
pub fn limits_of_each(
    sample: &Sample,
    fit: &Fit,
    quantities: &[Quantity],
    level: Level,
    method: Method,
) -> Vec<Result<Limits, LimitsError>> {
    let rows = Rows::new(sample);
    quantities
        .iter()
        .map(|quantity| with_cautions(sample, &rows, fit, *quantity, level, method))
        .collect()
}

fn with_cautions(
    sample: &Sample,
    rows: &Rows,
    fit: &Fit,
    quantity: Quantity,
    level: Level,
    method: Method,
) -> Result<Limits, LimitsError> {
    let mut limits = limits_on(sample, rows, fit, quantity, level, method)?;
    limits.warnings.extend(beyond(sample, fit, quantity));
    Ok(limits)
}

/// The limits, without the caution about extrapolation.
pub(super) fn limits_on(
    sample: &Sample,
    rows: &Rows,
    fit: &Fit,
    quantity: Quantity,
    level: Level,
    method: Method,
) -> Result<Limits, LimitsError> {
    if !fit.family.is_log_location_scale() {
        return free_form::limits(sample, rows, fit, quantity, level, method);
    }
    let aim = quantity.aim(fit, rows.centre)?;
    refuse_uncertain(quantity, method)?;
    let value = match quantity {
        Quantity::Quantile(p) => fit.quantile(p),
        Quantity::Parameter(name) => fit.parameter(name),
        _ => aim.shown(aim.target),
    }
    .ok_or(LimitsError::OutOfRange)?;
    let profile = aim.profile(rows, fit);
    Ok(match method {
        Method::Delta => {
            let error = aim.error(fit).ok_or(LimitsError::NoCovariance)?;
            let reach = level.distance() * error;
            sides(&aim, value, level, |sign| {
                Ok(Some(aim.target + sign * reach))
            })?
        }
        Method::LikelihoodRatio => sides(&aim, value, level, |sign| {
            profile.limit(sign, level.distance(), Measure::Root)
        })?,
        Method::ModifiedRoot => {
            let root = ModifiedRoot::new(sample, rows, fit, &aim)?;
            sides(&aim, value, level, |sign| {
                profile.limit(sign, level.distance(), Measure::Modified(&root))
            })?
        }
        Method::Bootstrap(resampling) => {
            let roots = Roots::draw(sample, fit, quantity, resampling)?;
            let mut limits = sides(&aim, value, level, |sign| {
                let distance = roots.distance(sign, level)?;
                if distance <= 0.0 {
                    return Ok(Some(aim.target));
                }
                profile.limit(sign, distance, Measure::Root)
            })?;
            limits.warnings.extend(roots.warning());
            limits
        }
    })
}

/// Confidence, between 0 and 1, with which a quantity lies below `value`: the level at which `value` would be the
/// one-sided upper limit.
///
/// # Errors
/// As [`limits`]; and for a value that the quantity can never take.
pub fn confidence_below(
    sample: &Sample,
    fit: &Fit,
    quantity: Quantity,
    value: f64,
    method: Method,
) -> Result<f64, LimitsError> {
    if !fit.family.is_log_location_scale() {
        return Err(LimitsError::ConfidenceOfFreeForm { family: fit.family });
    }
    let rows = Rows::new(sample);
    let aim = quantity.aim(fit, rows.centre)?;
    refuse_uncertain(quantity, method)?;
    let target = aim.target_of(value).ok_or(LimitsError::Value { value })?;
    let profile = aim.profile(&rows, fit);
    let signed = |measure| {
        profile
            .signed(target, measure)
            .ok_or(LimitsError::NotConverged)
    };
    let below = match method {
        Method::Delta => {
            let error = aim.error(fit).ok_or(LimitsError::NoCovariance)?;
            normal::lower_tail((target - aim.target) / error)
        }
        Method::LikelihoodRatio => normal::lower_tail(signed(Measure::Root)?),
        Method::ModifiedRoot => {
            let root = ModifiedRoot::new(sample, &rows, fit, &aim)?;
            normal::lower_tail(signed(Measure::Modified(&root))?)
        }
        Method::Bootstrap(resampling) => {
            Roots::draw(sample, fit, quantity, resampling)?.share_below(signed(Measure::Root)?)
        }
    };
    if below.is_nan() {
        return Err(LimitsError::NotConverged);
    }
    Ok(if aim.grows() { below } else { 1.0 - below })
}

/// Refuses what a method does not do well enough to be believed.
fn refuse_uncertain(quantity: Quantity, method: Method) -> Result<(), LimitsError> {
    match (quantity, method) {
        (Quantity::MeanResidualLife(_), Method::ModifiedRoot) => {
            Err(LimitsError::MeanByModifiedRoot)
        }
        _ => Ok(()),
    }
}

/// Both sides, from the targets at which they lie.
pub(super) fn sides(
    aim: &Aim,
    value: f64,
    level: Level,
    mut target: impl FnMut(f64) -> Result<Option<f64>, LimitsError>,
) -> Result<Limits, LimitsError> {
    let mut warnings = Vec::new();
    let mut side = |wanted: bool, up: bool| -> Result<Option<f64>, LimitsError> {
        if !wanted {
            return Ok(None);
        }
        let sign = if up == aim.grows() { 1.0 } else { -1.0 };
        let found = target(sign)?.and_then(|target| aim.shown(target));
        let limit = match found {
            None if aim.is_chance() => Some(if up { 1.0 } else { 0.0 }),
            found => found,
        };
        if limit.is_none() {
            warnings.push(unbounded(if up { "upper" } else { "lower" }));
        }
        // Rounding aside, the estimate is always within.
        Ok(limit.map(|limit| {
            if up {
                limit.max(value)
            } else {
                limit.min(value)
            }
        }))
    };
    Ok(Limits {
        value,
        lower: side(level.wants_lower(), false)?,
        upper: side(level.wants_upper(), true)?,
        warnings,
    })
}

/// The caution for a statement beyond the longest usage seen.
fn beyond(sample: &Sample, fit: &Fit, quantity: Quantity) -> Option<Warning> {
    let reached = match quantity {
        Quantity::Quantile(p) => fit.quantile(p)?,
        Quantity::Survival(usage) | Quantity::Hazard(usage) => usage,
        Quantity::ConditionalSurvival { age, span } => age + span,
        Quantity::Span { age, share } => age + fit.life.span_for_risk(age, share)?,
        Quantity::MeanResidualLife(age) => age,
        Quantity::Parameter(_) => return None,
    };
    let longest = sample.longest_usage();
    (reached > longest).then(|| {
        Warning::new(
            WarningCode::Extrapolation,
            format!("This lies beyond the longest usage seen, {longest}."),
        )
    })
}
