//! What an accelerated-life model says at a covariate point, with limits.
//!
//! Likelihood ratio is the default (Meeker and Escobar 1998, section 17.4.2): the covariates are counted from the
//! point, so that the quantile or the survival asked for is itself one parameter, and the rest is free.

use nalgebra::DVector;

use super::accelerated_life::AcceleratedLifeFit;
use super::covariates::{CovariatePoint, CovariateSample};
use super::design::find;
use super::error::PredictionError;
use super::held_profile::{Held, Target};
use super::place::Place;
use crate::intervals::{Level, Limits, LimitsError, unbounded};
use crate::warning::{Warning, WarningCode};

/// How the limits of a regression are made: the two of [`crate::intervals::Method`] that covariates allow.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RegressionLimitMethod {
    /// Values whose best likelihood is within a chi-square of the top.
    #[default]
    LikelihoodRatio,
    /// Normal on the log scale; too short upward with few failures.
    Delta,
}

/// Log usage beyond these bounds is out of the range of numbers.
const LOG_USAGE: (f64, f64) = (-690.0, 690.0);
/// Standard variable: beyond these the failed or the surviving share is nothing, in every family.
const STANDARD: (f64, f64) = (-600.0, 600.0);

impl AcceleratedLifeFit {
    /// Usage by which a share `p` has failed at a point.
    ///
    /// # Errors
    /// For a point that does not fit the model, `p` outside (0, 1), or a usage beyond the range of numbers.
    pub fn quantile(&self, point: &CovariatePoint, p: f64) -> Result<f64, PredictionError> {
        let place = self.place(point)?;
        let z = self.standard_quantile(p)?;
        let usage = self.log_quantile(&place, z).exp();
        if usage.is_finite() && usage > 0.0 {
            Ok(usage)
        } else {
            Err(LimitsError::OutOfRange.into())
        }
    }

    /// Share of lives that survive `usage >= 0` at a point.
    ///
    /// # Errors
    /// For a point that does not fit the model, or a usage that is negative or not finite.
    pub fn survival(&self, point: &CovariatePoint, usage: f64) -> Result<f64, PredictionError> {
        let place = self.place(point)?;
        if !(usage.is_finite() && usage >= 0.0) {
            return Err(LimitsError::Usage {
                rule: "at least 0",
                value: usage,
            }
            .into());
        }
        if usage == 0.0 {
            return Ok(1.0);
        }
        Ok(self.survival_at(self.standard(&place, usage)))
    }

    /// Limits of the usage by which a share `p` has failed at a point. `sample` is the one fitted.
    ///
    /// # Errors
    /// As [`Self::quantile`]; another sample; a fit without covariance (delta); a search that fails.
    pub fn quantile_limits(
        &self,
        sample: &CovariateSample,
        point: &CovariatePoint,
        p: f64,
        level: Level,
        method: RegressionLimitMethod,
    ) -> Result<Limits, PredictionError> {
        let value = self.quantile(point, p)?;
        let place = self.place(point)?;
        let z = self.standard_quantile(p)?;
        let sigma = (-self.log_shape(&place)).exp();
        // ln t_p = intercept + b . x + z exp(-log shape)
        let error = self.error(&place, 1.0, -z * sigma);
        let mut limits = match method {
            RegressionLimitMethod::Delta => {
                let factor = (level.distance() * error.ok_or(LimitsError::NoCovariance)?).exp();
                kept(value, Some(value / factor), Some(value * factor), level)
            }
            RegressionLimitMethod::LikelihoodRatio => {
                let held = Held {
                    z,
                    place: &place,
                    target: Target::Quantile,
                };
                let target = self.log_quantile(&place, z) - self.inner.centre;
                let range = (
                    LOG_USAGE.0 - self.inner.centre,
                    LOG_USAGE.1 - self.inner.centre,
                );
                let [lower, upper] =
                    self.sides(sample, &held, target, error, range, level, [-1.0, 1.0])?;
                let usage = |target: f64| (target + self.inner.centre).exp();
                kept(value, lower.map(usage), upper.map(usage), level)
            }
        };
        limits.warnings.extend(self.cautions(point, value));
        Ok(limits)
    }

    /// Limits of the survival at `usage > 0` at a point; where the data leave a side open, the limit is 0 or 1.
    /// `sample` is the one fitted.
    ///
    /// # Errors
    /// As [`Self::survival`], and for usage 0; another sample; a fit without covariance (delta); a search that fails.
    pub fn survival_limits(
        &self,
        sample: &CovariateSample,
        point: &CovariatePoint,
        usage: f64,
        level: Level,
        method: RegressionLimitMethod,
    ) -> Result<Limits, PredictionError> {
        if !(usage.is_finite() && usage > 0.0) {
            return Err(LimitsError::Usage {
                rule: "above 0",
                value: usage,
            }
            .into());
        }
        let value = self.survival(point, usage)?;
        let place = self.place(point)?;
        let z = self.standard(&place, usage);
        let shape = self.log_shape(&place).exp();
        let error = self.error(&place, -shape, z);
        let [lower, upper] = match method {
            RegressionLimitMethod::Delta => {
                let reach = level.distance() * error.ok_or(LimitsError::NoCovariance)?;
                [Some(z + reach), Some(z - reach)]
            }
            RegressionLimitMethod::LikelihoodRatio => {
                let held = Held {
                    z,
                    place: &place,
                    target: Target::Standard(usage.ln() - self.inner.centre),
                };
                self.sides(sample, &held, z, error, STANDARD, level, [1.0, -1.0])?
            }
        };
        let side = |wanted: bool, z: Option<f64>, natural: f64| {
            wanted.then(|| z.map_or(natural, |z| self.survival_at(z)))
        };
        Ok(Limits {
            value,
            lower: side(level.wants_lower(), lower, 0.0),
            upper: side(level.wants_upper(), upper, 1.0),
            warnings: self.cautions(point, usage),
        })
    }

    /// Limits of the acceleration factor `exp(b)` of a covariate: what multiplies every quantile of life per unit of
    /// it. `sample` is the one fitted.
    ///
    /// # Errors
    /// For an unknown covariate; another sample; a fit without covariance (delta); a search that fails.
    pub fn acceleration_factor(
        &self,
        sample: &CovariateSample,
        covariate: &str,
        level: Level,
        method: RegressionLimitMethod,
    ) -> Result<Limits, PredictionError> {
        let (j, column) = find(&self.columns, &self.names, covariate)?;
        let scale = column.scale;
        let coefficient = self
            .coefficients
            .get(j)
            .ok_or_else(|| PredictionError::Covariate {
                name: covariate.to_owned(),
            })?;
        let value = coefficient.value.exp();
        if !(value.is_finite() && value > 0.0) {
            return Err(LimitsError::OutOfRange.into());
        }
        match method {
            RegressionLimitMethod::Delta => {
                let error = coefficient.std_error.ok_or(LimitsError::NoCovariance)?;
                let factor = (level.distance() * error).exp();
                Ok(kept(
                    value,
                    Some(value / factor),
                    Some(value * factor),
                    level,
                ))
            }
            RegressionLimitMethod::LikelihoodRatio => {
                let place = Place {
                    scaled: DVector::zeros(self.columns.len()),
                    intercept: 0,
                    shape: 0,
                };
                let target = coefficient.value * scale;
                let held = Held {
                    z: 0.0,
                    place: &place,
                    target: Target::Coefficient(j),
                };
                let error = coefficient.std_error.map(|error| error * scale);
                let [lower, upper] =
                    self.sides(sample, &held, target, error, LOG_USAGE, level, [-1.0, 1.0])?;
                let factor = |target: f64| (target / scale).exp();
                Ok(kept(value, lower.map(factor), upper.map(factor), level))
            }
        }
    }

    /// Cautions for an answer beyond the data.
    fn cautions(&self, point: &CovariatePoint, usage: f64) -> Vec<Warning> {
        let mut cautions = Vec::new();
        let far = |message: String| Warning::new(WarningCode::Extrapolation, message);
        for ((value, column), name) in point.values.iter().zip(&self.columns).zip(&self.names) {
            if *value < column.least || *value > column.most {
                cautions.push(far(format!(
                    "{name} {value} lies outside the values seen, {} to {}.",
                    column.least, column.most
                )));
            }
        }
        if usage > self.longest_usage {
            cautions.push(far(format!(
                "The usage {usage} lies beyond the longest usage seen, {}.",
                self.longest_usage
            )));
        }
        cautions
    }
}

/// Limits with only the sides asked for; a side that is missing or out of range is told.
pub(super) fn kept(value: f64, lower: Option<f64>, upper: Option<f64>, level: Level) -> Limits {
    let mut warnings = Vec::new();
    let mut side = |wanted: bool, limit: Option<f64>, name: &str| {
        let limit = limit.filter(|limit| limit.is_finite() && *limit > 0.0);
        if wanted && limit.is_none() {
            warnings.push(unbounded(name));
        }
        limit.filter(|_| wanted)
    };
    Limits {
        value,
        lower: side(level.wants_lower(), lower, "lower"),
        upper: side(level.wants_upper(), upper, "upper"),
        warnings,
    }
}
