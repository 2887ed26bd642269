//! Limits of what a power-law process says: exact where the design allows, by the likelihood ratio elsewhere.

use super::power_law::{Design, PowerLawFit};
use super::power_law_exact::MOST_EVENTS_FOR_EXACT;
use super::{RecurrentError, chi_square};
use crate::intervals::{Level, Limits, Side, unbounded};
use crate::warning::{Warning, WarningCode};

/// How the limits of a power law are made. Exact ones exist for counts of events, not for lives, so the choice differs
/// from that of [`crate::intervals::Method`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PowerLawLimitMethod {
    /// From the known distribution of the estimate: for all systems watched from new to one age, or one system to its
    /// last event. The shape by chi-square; the intensity at the end by the conditional distribution of the number of
    /// events (stopped by time) or by a product of two gamma variables (stopped at an event) (Crow 1982, Technometrics
    /// 24; Lee and Lee 1978, Technometrics 20).
    Exact,
    /// Values whose best likelihood is within a chi-square of the top (Meeker and Escobar 1998, 8.3).
    LikelihoodRatio,
    /// Normal on the logarithm, with the observed information.
    Delta,
}

/// Limits with the way they were made.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerLawLimits {
    /// How they were made.
    pub method: PowerLawLimitMethod,
    /// The best value and its limits.
    pub limits: Limits,
}

impl PowerLawFit {
    /// Limits of the shape: exact where the design allows, by the likelihood ratio elsewhere.
    ///
    /// # Errors
    /// When the search for a limit fails.
    pub fn shape_limits(&self, level: Level) -> Result<PowerLawLimits, RecurrentError> {
        let method = match self.design {
            Design::Other(_) => PowerLawLimitMethod::LikelihoodRatio,
            _ => PowerLawLimitMethod::Exact,
        };
        self.shape_limits_by(level, method)
    }

    /// Limits of the shape by the method asked for.
    ///
    /// # Errors
    /// When exact limits do not exist in this design, or the search fails.
    pub fn shape_limits_by(
        &self,
        level: Level,
        method: PowerLawLimitMethod,
    ) -> Result<PowerLawLimits, RecurrentError> {
        let n = self.events as f64;
        let sides = match method {
            PowerLawLimitMethod::Exact => {
                let freedom = match self.design {
                    Design::CommonTime => 2.0 * n,
                    Design::OneToFailure => 2.0 * (n - 1.0),
                    Design::Other(reason) => return Err(RecurrentError::NoExactLimits { reason }),
                };
                let tail = tail(level);
                let at = |p: f64| {
                    Ok(Some(
                        self.shape * chi_square::quantile(p, freedom) / (2.0 * n),
                    ))
                };
                sides(level, || at(tail), || at(1.0 - tail))?
            }
            PowerLawLimitMethod::LikelihoodRatio => self.shape_by_likelihood(level)?,
            PowerLawLimitMethod::Delta => {
                let spread = level.distance() * self.log_covariance[1][1].sqrt();
                sides(
                    level,
                    || Ok(Some(self.shape * (-spread).exp())),
                    || Ok(Some(self.shape * spread.exp())),
                )?
            }
        };
        told(level, method, self.shape, sides, Vec::new())
    }

    /// Limits of the intensity of one system at an age: exact at the common end where the design allows, by the
    /// likelihood ratio elsewhere. Beyond the longest age watched they carry a warning.
    ///
    /// # Errors
    /// For an age that is not finite and above 0, an intensity out of range, or a search that fails.
    pub fn intensity_limits(
        &self,
        age: f64,
        level: Level,
    ) -> Result<PowerLawLimits, RecurrentError> {
        let exact = !matches!(self.design, Design::Other(_))
            && age == self.longest_age
            && self.events <= MOST_EVENTS_FOR_EXACT;
        let method = if exact {
            PowerLawLimitMethod::Exact
        } else {
            PowerLawLimitMethod::LikelihoodRatio
        };
        self.intensity_limits_by(age, level, method)
    }

    /// Limits of the intensity of one system at an age by the method asked for.
    ///
    /// # Errors
    /// As [`Self::intensity_limits`], and when exact limits do not exist in this design or at this age.
    pub fn intensity_limits_by(
        &self,
        age: f64,
        level: Level,
        method: PowerLawLimitMethod,
    ) -> Result<PowerLawLimits, RecurrentError> {
        if !(age.is_finite() && age > 0.0) {
            return Err(RecurrentError::Age { value: age });
        }
        let best = self.intensity(age).ok_or(RecurrentError::OutOfRange)?;
        let sides = match method {
            PowerLawLimitMethod::Exact => {
                let (low, high) = self.exact_factors(age, level)?;
                (low.map(|low| best * low), high.map(|high| best * high))
            }
            PowerLawLimitMethod::LikelihoodRatio => {
                let (low, high) = self.ln_intensity_steps(age, level)?;
                (
                    low.map(|step| best * step.exp()),
                    high.map(|step| best * step.exp()),
                )
            }
            PowerLawLimitMethod::Delta => {
                let spread = level.distance() * self.ln_intensity_error(age);
                sides(
                    level,
                    || Ok(Some(best * (-spread).exp())),
                    || Ok(Some(best * spread.exp())),
                )?
            }
        };
        told(level, method, best, sides, self.beyond(age))
    }

    /// Limits of the mean usage between events of one system at an age, as those of the intensity.
    ///
    /// # Errors
    /// As [`Self::intensity_limits`].
    pub fn mtbf_limits(&self, age: f64, level: Level) -> Result<PowerLawLimits, RecurrentError> {
        inverted(self.intensity_limits(age, level.opposite())?, level)
    }

    /// Limits of the mean usage between events of one system at an age by the method asked for.
    ///
    /// # Errors
    /// As [`Self::intensity_limits_by`].
    pub fn mtbf_limits_by(
        &self,
        age: f64,
        level: Level,
        method: PowerLawLimitMethod,
    ) -> Result<PowerLawLimits, RecurrentError> {
        inverted(
            self.intensity_limits_by(age, level.opposite(), method)?,
            level,
        )
    }

    fn beyond(&self, age: f64) -> Vec<Warning> {
        if age <= self.longest_age {
            return Vec::new();
        }
        vec![Warning::new(
            WarningCode::Extrapolation,
            format!(
                "The age {age} lies beyond the longest age watched, {}.",
                self.longest_age
            ),
        )]
    }

    /// Standard error of the logarithm of the intensity.
    pub(super) fn ln_intensity_error(&self, age: f64) -> f64 {
        let at = self.windows.moments(self.shape);
        let n = self.events as f64;
        let lever = self.ln_age(age) - at.mean;
        ((1.0 + lever * lever / at.variance) / n).sqrt()
    }
}

/// Chance left out on each side.
pub(super) fn tail(level: Level) -> f64 {
    match level.side() {
        Side::TwoSided => 0.5 * (1.0 - level.level()),
        Side::Lower | Side::Upper => 1.0 - level.level(),
    }
}

/// The sides asked for.
pub(super) fn sides(
    level: Level,
    low: impl FnOnce() -> Result<Option<f64>, RecurrentError>,
    high: impl FnOnce() -> Result<Option<f64>, RecurrentError>,
) -> Result<(Option<f64>, Option<f64>), RecurrentError> {
    let low = if level.wants_lower() { low()? } else { None };
    let high = if level.wants_upper() { high()? } else { None };
    Ok((low, high))
}

/// Limits with a warning for each side that was wanted and does not exist.
fn told(
    level: Level,
    method: PowerLawLimitMethod,
    value: f64,
    (lower, upper): (Option<f64>, Option<f64>),
    mut warnings: Vec<Warning>,
) -> Result<PowerLawLimits, RecurrentError> {
    let lower = lower.filter(|limit| limit.is_finite() && *limit > 0.0);
    let upper = upper.filter(|limit| limit.is_finite() && *limit > 0.0);
    if level.wants_lower() && lower.is_none() {
        warnings.push(unbounded("lower"));
    }
    if level.wants_upper() && upper.is_none() {
        warnings.push(unbounded("upper"));
    }
    Ok(PowerLawLimits {
        method,
        limits: Limits {
            value,
            lower,
            upper,
            warnings,
        },
    })
}

/// One over the limits, sides exchanged.
fn inverted(of: PowerLawLimits, level: Level) -> Result<PowerLawLimits, RecurrentError> {
    let value = 1.0 / of.limits.value;
    if !value.is_finite() {
        return Err(RecurrentError::OutOfRange);
    }
    let kept = of
        .limits
        .warnings
        .into_iter()
        .filter(|warning| warning.code != WarningCode::UnboundedLimit)
        .collect();
    told(
        level,
        of.method,
        value,
        (
            of.limits.upper.map(|limit| 1.0 / limit),
            of.limits.lower.map(|limit| 1.0 / limit),
        ),
        kept,
    )
}
