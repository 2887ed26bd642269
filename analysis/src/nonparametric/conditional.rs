//! Survival given survival to some usage: the curve to look at where early risk sets are tiny.

use super::kaplan_meier::kaplan_meier;
use super::survival_curve::{RestrictedMean, SurvivalCurve};
use super::{EstimateError, Limits};
use crate::observation::Observation;
use crate::sample::Sample;

/// A survival curve that starts at 1 at some usage.
#[derive(Clone, Debug, PartialEq)]
pub struct ConditionalCurve {
    /// Usage that every life is given to have survived.
    pub given: f64,
    /// Survival of those lives; 1 up to the given usage, points beyond it only.
    pub curve: SurvivalCurve,
}

/// Product-limit survival of lives known to have survived `given`: the risk sets beyond it, and only those (Klein and
/// Moeschberger 2003, section 4.6).
///
/// # Errors
/// As [`super::kaplan_meier`]; for a usage that is negative or not finite, or beyond which nobody was watched.
pub fn conditional_survival(
    sample: &Sample,
    given: f64,
    limits: Limits,
) -> Result<ConditionalCurve, EstimateError> {
    if !(given.is_finite() && given >= 0.0) {
        return Err(EstimateError::Usage { value: given });
    }
    if sample.lives() == 0 {
        return Err(EstimateError::NoLives);
    }
    let inexact = sample.left_censored() + sample.interval_censored();
    if inexact > 0 {
        return Err(EstimateError::InexactFailures { lives: inexact });
    }
    let mut rows = Vec::new();
    for row in sample.observations() {
        if row.lower > given && row.lower > row.entry {
            rows.push(Observation {
                entry: row.entry.max(given),
                lower: row.lower,
                upper: row.upper,
                cause: None,
                count: row.count,
            });
        }
    }
    let watched = Sample::new(rows)
        .ok()
        .filter(|watched| watched.lives() > 0)
        .ok_or(EstimateError::NobodyWatched { beyond: given })?;
    Ok(ConditionalCurve {
        given,
        curve: kaplan_meier(&watched, limits)?,
    })
}

impl SurvivalCurve {
    /// Last usage at which everybody then at risk failed although later lives follow: the curve is 0 from the first
    /// such usage on and says nothing of those lives. Survival given survival to this usage does.
    #[must_use]
    pub fn stops_early_at(&self) -> Option<f64> {
        self.points()
            .rev()
            .skip(1)
            .find(|point| point.failed > 0 && point.failed == point.at_risk)
            .map(|point| point.time)
    }
}

impl ConditionalCurve {
    /// Mean further usage up to `horizon`, a usage counted from new; none where [`SurvivalCurve::restricted_mean`] is
    /// none, and for a horizon before the given usage.
    #[must_use]
    pub fn restricted_further_usage(&self, horizon: f64) -> Option<RestrictedMean> {
        if horizon < self.given {
            return None;
        }
        let mean = self.curve.restricted_mean(horizon)?;
        Some(RestrictedMean {
            value: (mean.value - self.given).max(0.0),
            ..mean
        })
    }
}
