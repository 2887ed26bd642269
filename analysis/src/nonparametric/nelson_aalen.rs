//! Cumulative hazard without a family (Nelson 1972, Technometrics 14; Aalen 1978, Annals of Statistics 6).

use super::EstimateError;
use super::risk::moments;
use crate::sample::Sample;
use crate::summation::Sum;

/// Cumulative hazard just after one usage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HazardStep {
    /// Usage at which a life ends.
    pub time: f64,
    /// Sum of failures over lives at risk.
    pub value: f64,
    /// Sum of failures over the square of lives at risk: the default variance, without smoothing of ties.
    pub variance: f64,
    /// Sum of `(n - d) d / ((n - 1) n^2)`, the form corrected for ties.
    pub variance_tied: f64,
}

impl HazardStep {
    /// Square root of the default variance.
    #[must_use]
    pub fn std_error(&self) -> f64 {
        self.variance.sqrt()
    }
}

/// Cumulative hazard at every usage at which a life ends.
///
/// # Errors
/// As [`super::kaplan_meier`].
pub fn nelson_aalen(sample: &Sample) -> Result<Vec<HazardStep>, EstimateError> {
    let (mut value, mut variance, mut tied) = (Sum::default(), Sum::default(), Sum::default());
    Ok(moments(sample)?
        .iter()
        .map(|moment| {
            let (n, d) = (moment.at_risk as f64, moment.failed as f64);
            if moment.failed > 0 {
                value.add(d / n);
                variance.add(d / (n * n));
                if moment.at_risk > 1 {
                    tied.add((n - d) * d / ((n - 1.0) * n * n));
                }
            }
            HazardStep {
                time: moment.time,
                value: value.total(),
                variance: variance.total(),
                variance_tied: tied.total(),
            }
        })
        .collect())
}
