//! Limits of what a series system says, by the delta method.

use super::error::CompetingError;
use super::mode::ModeCurve;
use super::system::{SeriesSystem, checked, total};
use crate::intervals::{Level, Limits, LimitsError};

impl SeriesSystem {
    /// Limits of the survival at `usage > 0` by the delta method on the logarithm of the hazard accumulated, so inside
    /// 0 to 1. Modes are independent; a mode at its bound adds no variance.
    ///
    /// # Errors
    /// As [`Self::failing_at`], and for a mode without covariance.
    pub fn survival_limits(&self, usage: f64, level: Level) -> Result<Limits, CompetingError> {
        let curves = self.curves()?;
        let value = self.survival(usage)?;
        let ln_usage = checked(usage)?.ln();
        if !ln_usage.is_finite() {
            return Err(LimitsError::Usage {
                rule: "above 0",
                value: usage,
            }
            .into());
        }
        let factor = (level.distance() * ln_hazard_error(&curves, ln_usage)?).exp();
        let hazard = total(&curves, ln_usage).min(f64::MAX);
        Ok(Limits {
            value,
            lower: level.wants_lower().then(|| (-hazard * factor).exp()),
            upper: level.wants_upper().then(|| (-hazard / factor).exp()),
            warnings: Vec::new(),
        })
    }

    /// Limits of the usage by which a share `p` has failed by any mode, by the delta method on the log scale.
    ///
    /// # Errors
    /// As [`Self::quantile`], and for a mode without covariance.
    pub fn quantile_limits(&self, p: f64, level: Level) -> Result<Limits, CompetingError> {
        let curves = self.curves()?;
        let value = self.quantile(p)?;
        let ln_usage = value.ln();
        let rate: f64 = curves
            .iter()
            .map(|curve| curve.ln_rate(ln_usage).exp())
            .sum();
        let steepness = rate / total(&curves, ln_usage);
        let error = ln_hazard_error(&curves, ln_usage)? / steepness;
        let factor = (level.distance() * error).exp();
        let (lower, upper) = (value / factor, value * factor);
        if !(lower > 0.0 && upper.is_finite()) {
            return Err(LimitsError::OutOfRange.into());
        }
        Ok(Limits {
            value,
            lower: level.wants_lower().then_some(lower),
            upper: level.wants_upper().then_some(upper),
            warnings: Vec::new(),
        })
    }
}

fn ln_hazard_error(curves: &[ModeCurve], ln_usage: f64) -> Result<f64, LimitsError> {
    let variance: f64 = curves
        .iter()
        .map(|curve| curve.variance(ln_usage))
        .sum::<Option<f64>>()
        .ok_or(LimitsError::NoCovariance)?;
    let error = variance.sqrt() / total(curves, ln_usage);
    if error.is_finite() {
        Ok(error)
    } else {
        Err(LimitsError::OutOfRange)
    }
}
