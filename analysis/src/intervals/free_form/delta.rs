//! Limits by the delta method: the gradient in the logarithms of the parameters (`mu`, `q` and the threshold as they
//! are) by differences, with the covariance of the fit (Meeker and Escobar 1998, section 8.4).

use super::reading::read;
use crate::families::Family;
use crate::fitting::{Fit, LifeDistribution};
use crate::intervals::{Level, Limits, LimitsError, Quantity, unbounded};

/// Step of a difference, in standard errors.
const STEP: f64 = 1e-3;

/// The scale on which the estimate is taken as normal.
#[derive(Clone, Copy)]
enum Scale {
    Plain,
    Log,
    /// Logarithm of the cumulative hazard, for chances.
    LogHazard,
}

impl Scale {
    fn of(quantity: Quantity) -> Self {
        match quantity {
            Quantity::Survival(_) | Quantity::ConditionalSurvival { .. } => Self::LogHazard,
            Quantity::Parameter("mu" | "q" | "threshold") => Self::Plain,
            _ => Self::Log,
        }
    }

    fn to(self, value: f64) -> f64 {
        match self {
            Self::Plain => value,
            Self::Log => value.ln(),
            Self::LogHazard => (-value.ln()).ln(),
        }
    }

    fn back(self, at: f64) -> f64 {
        match self {
            Self::Plain => at,
            Self::Log => at.exp(),
            Self::LogHazard => (-at.exp()).exp(),
        }
    }
}

pub(super) fn limits(
    fit: &Fit,
    quantity: Quantity,
    value: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    let covariance = fit
        .log_covariance
        .as_ref()
        .ok_or(LimitsError::NoCovariance)?;
    let scale = Scale::of(quantity);
    let at = scale.to(value);
    if !at.is_finite() {
        return Err(LimitsError::OutOfRange);
    }
    let gradient: Vec<f64> = covariance
        .iter()
        .enumerate()
        .map(|(place, row)| {
            let error = row.get(place).copied().unwrap_or(0.0).sqrt();
            slope(fit, quantity, scale, place, STEP * error)
        })
        .collect::<Option<_>>()
        .ok_or(LimitsError::OutOfRange)?;
    let variance: f64 = covariance
        .iter()
        .zip(&gradient)
        .map(|(row, along)| {
            let inner: f64 = row.iter().zip(&gradient).map(|(cell, by)| cell * by).sum();
            inner * along
        })
        .sum();
    // Of a chance that no parameter moves the variance is zero.
    if !(variance.is_finite() && variance >= 0.0) {
        return Err(LimitsError::NoCovariance);
    }
    let reach = level.distance() * variance.sqrt();
    let mut warnings = Vec::new();
    let mut side = |wanted: bool, up: bool| {
        if !wanted {
            return None;
        }
        let sign = match scale {
            Scale::LogHazard => -1.0,
            _ => 1.0,
        };
        let limit = scale.back(at + if up { sign * reach } else { -sign * reach });
        let limit = match quantity {
            // Nothing counts from before new.
            Quantity::Parameter("threshold") => limit.max(0.0),
            _ => limit,
        };
        if !limit.is_finite() {
            warnings.push(unbounded(if up { "upper" } else { "lower" }));
            return None;
        }
        Some(if up {
            limit.max(value)
        } else {
            limit.min(value)
        })
    };
    Ok(Limits {
        value,
        lower: side(level.wants_lower(), false),
        upper: side(level.wants_upper(), true),
        warnings,
    })
}

/// Derivative of the scaled quantity along one parameter, by central differences of fourth order.
fn slope(fit: &Fit, quantity: Quantity, scale: Scale, place: usize, step: f64) -> Option<f64> {
    let name = fit.family.parameter_names().get(place)?;
    let look = |steps: f64| {
        let mut parameters = fit.parameters.clone();
        let cell = parameters.get_mut(place)?;
        match *name {
            "mu" | "q" | "threshold" => *cell += steps * step,
            _ => *cell *= (steps * step).exp(),
        }
        let mut threshold = 0.0;
        if fit.family == Family::ThresholdWeibull {
            // A step may go below zero, where a fit may not.
            std::mem::swap(&mut threshold, parameters.get_mut(2)?);
        }
        let mut life = LifeDistribution::new(fit.family, &parameters).ok()?;
        life.threshold = threshold;
        Some(scale.to(read(&life, quantity)?)).filter(|at| at.is_finite())
    };
    let near = (look(1.0)? - look(-1.0)?) * 8.0 - (look(2.0)? - look(-2.0)?);
    Some(near / (12.0 * step))
}
