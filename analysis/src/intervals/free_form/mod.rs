//! Limits for the families whose location and shape are not all of their parameters: gamma, generalised gamma and
//! threshold Weibull.
//!
//! Each is taken apart into slices of one third parameter (of the gamma its shape, of the generalised gamma `q`, of
//! the threshold Weibull the threshold). A slice is log-location-scale. The region of the likelihood ratio (Meeker and
//! Escobar 1998, section 8.3) is the union of its slices, each with the fall counted from the top of the whole.

mod delta;
mod gamma;
mod highest;
mod reading;
mod region;
mod slice;
mod slices;

use self::reading::read;
use self::region::{End, Region};
use self::slices::Slices;
use super::{Level, Limits, LimitsError, Method, Quantity, unbounded};
use crate::families::Family;
use crate::fitting::Fit;
use crate::fitting::rows::Rows;
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

/// Limits of a quantity of such a fit, by the likelihood ratio or the delta method.
pub(super) fn limits(
    sample: &Sample,
    rows: &Rows,
    fit: &Fit,
    quantity: Quantity,
    level: Level,
    method: Method,
) -> Result<Limits, LimitsError> {
    quantity.check(fit)?;
    if matches!(quantity, Quantity::MeanResidualLife(_)) {
        return Err(LimitsError::MeanOfFreeForm { family: fit.family });
    }
    let value = read(&fit.life, quantity).ok_or(LimitsError::OutOfRange)?;
    match method {
        Method::Delta => delta::limits(fit, quantity, value, level),
        Method::LikelihoodRatio => by_ratio(sample, rows, fit, quantity, value, level),
        Method::ModifiedRoot | Method::Bootstrap(_) => {
            Err(LimitsError::Family { family: fit.family })
        }
    }
}

/// Whether the quantity is a chance, for which 0 and 1 are limits where the data leave a side open.
fn is_chance(quantity: Quantity) -> bool {
    matches!(
        quantity,
        Quantity::Survival(_) | Quantity::ConditionalSurvival { .. }
    )
}

fn by_ratio(
    sample: &Sample,
    rows: &Rows,
    fit: &Fit,
    quantity: Quantity,
    value: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    let mut slices = Slices::new(sample, rows, fit)?;
    let region = Region::around(&mut slices, level.distance())?;
    let mut warnings = Vec::new();
    if region.ends.contains(&End::Cut) {
        warnings.push(Warning::new(
            WarningCode::LocalMaximum,
            "The hill of the likelihood is not cut off from where it grows without end, so thresholds whose best shape is below one are left out.",
        ));
    }
    let third = matches!(
        (fit.family, quantity),
        (Family::Gamma, Quantity::Parameter("shape"))
            | (Family::GeneralisedGamma, Quantity::Parameter("q"))
            | (Family::ThresholdWeibull, Quantity::Parameter("threshold"))
    );
    let mut side = |wanted: bool, up: bool| -> Result<Option<f64>, LimitsError> {
        if !wanted {
            return Ok(None);
        }
        let found = if third {
            region.third(fit.family, up)
        } else {
            region.outermost(&mut slices, quantity, up)?
        };
        let found = match found {
            None if is_chance(quantity) => Some(if up { 1.0 } else { 0.0 }),
            found => found,
        };
        match found {
            None => warnings.push(unbounded(if up { "upper" } else { "lower" })),
            Some(_) if third && !up && region.at_zero(fit.family) => warnings.push(Warning::new(
                WarningCode::ParameterAtBound,
                "These data are compatible with a threshold of zero, the end of its range, which stands as the lower limit.",
            )),
            Some(_) => {}
        }
        // Rounding aside, the estimate is always within.
        Ok(found.map(|limit| {
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

#[cfg(test)]
mod tests;
