//! What decisions need of a life beside its distribution.

use super::DecisionError;
use crate::families::Family;
use crate::fitting::{LifeDistribution, SHAPE_RULE, SHAPES};
use crate::quadrature::integral;
use crate::solve::root;

/// Accuracy of the integrals.
const RELATIVE: f64 = 1e-12;
/// Beyond this cumulative hazard survival is less than the smallest number.
const ALL_FAILED: f64 = 700.0;
/// A stretch of log usage after which the usage left behind no longer counts.
const FAR_BELOW: f64 = 42.0;

/// A life whose log hazard bends downward in log usage, so that a cost has one lowest point: exponential, Weibull,
/// lognormal or loglogistic, with a shape that integrals can follow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SmoothLife(LifeDistribution);

impl SmoothLife {
    /// # Errors
    /// For a family not served, or a shape outside 0.001 to 1,000,000.
    pub(super) fn new(life: LifeDistribution) -> Result<Self, DecisionError> {
        if !life.family().is_log_location_scale() {
            return Err(DecisionError::Family {
                family: life.family(),
            });
        }
        if !SHAPES.contains(&life.shape()) {
            return Err(DecisionError::Value {
                name: "shape of the life, or one over its sigma,",
                rule: SHAPE_RULE,
                value: life.shape(),
            });
        }
        Ok(Self(life))
    }

    /// Logarithm of how far the hazard at a usage lies above the hazards before it, as failures: of the integral from
    /// 0 to the usage of survival times the excess of the last hazard over the one there. That is `hazard mean_up_to -
    /// failure` without the cancellation. Only where the hazard rises up to the usage.
    pub(super) fn ln_excess_of_last_hazard(&self, ln_usage: f64) -> Option<f64> {
        let last = self.ln_hazard(ln_usage);
        let end = ln_usage.min(self.ln_usage_at(ALL_FAILED));
        let area = integral(
            |y| {
                let share = -(self.ln_hazard(y) - last).min(0.0).exp_m1();
                share * (y - self.cumulative_hazard_since(y)).exp()
            },
            end.min(self.location) - FAR_BELOW,
            end,
            RELATIVE,
        )?;
        // A logarithm, because a dear failure sets the age far down in the tail.
        let ln_excess = area.ln() + last;
        ln_excess.is_finite().then_some(ln_excess)
    }

    /// Logarithm of the usage up to which the hazard rises; infinite if it always does, none if it never does.
    pub(super) fn ln_usage_of_highest_hazard(&self) -> Option<f64> {
        let shape = self.shape();
        // Slope of the log hazard in log usage; it falls with usage in every family here.
        let rise = |z: f64| shape * self.curve.log_hazard(z).slope - 1.0;
        match self.family {
            Family::Weibull => (shape > 1.0).then_some(f64::INFINITY),
            Family::Loglogistic if shape <= 1.0 => None,
            Family::Loglogistic | Family::Lognormal => {
                // Lognormal: far out the slope is near 1/z, far below it is near -z.
                let most = 10.0 + 40.0 * (1.0 + shape).ln() + 4.0 * shape;
                let least = -10.0 - 2.0 / shape;
                let z = root(rise, least, most)?;
                Some(self.location + z / shape)
            }
            _ => None,
        }
    }

    /// Share that survives a usage given by its logarithm.
    pub(super) fn survival_at(&self, ln_usage: f64) -> f64 {
        (-self.cumulative_hazard_since(ln_usage)).exp()
    }

    /// Logarithm of the hazard per unit of usage.
    pub(super) fn ln_hazard(&self, ln_usage: f64) -> f64 {
        let z = (ln_usage - self.location) * self.shape();
        self.curve.log_hazard(z).value + self.log_shape - ln_usage
    }

    /// Logarithm of the usage at which the cumulative hazard reaches a value.
    pub(super) fn ln_usage_at(&self, cumulative_hazard: f64) -> f64 {
        // The families served have no threshold.
        self.ln_since_threshold_at(cumulative_hazard)
    }
}

impl std::ops::Deref for SmoothLife {
    type Target = LifeDistribution;

    fn deref(&self) -> &LifeDistribution {
        &self.0
    }
}
