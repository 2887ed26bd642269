//! One failure mode and its curve.

use crate::families::Family;
use crate::fitting::likelihood::{Member, gain};
use crate::fitting::matrix::Symmetric;
use crate::fitting::rows::Stretch;
use crate::fitting::{Fit, FitError, KnownShapeFit};

/// What came of fitting one mode.
#[derive(Clone, Debug, PartialEq)]
pub enum ModeOutcome {
    /// Fitted freely.
    Fitted(Fit),
    /// Fitted with its declared shape, because a free fit does not exist.
    KnownShape {
        /// The fit of the scale.
        fit: KnownShapeFit,
        /// Why there is no free fit.
        instead_of: FitError,
    },
    /// Without failures: the scale is at its lower limit for the declared shape, so the mode strikes no earlier.
    Bound {
        /// The fit of the scale.
        fit: KnownShapeFit,
        /// Lower limit of the scale.
        scale: f64,
    },
    /// No model.
    Failed(FitError),
}

/// One failure mode, fitted with the failures of all others as right-censored.
#[derive(Clone, Debug, PartialEq)]
pub struct Mode {
    /// Its name; none for failures whose mode is unknown, taken as a mode of their own.
    pub cause: Option<String>,
    /// Failures of this mode.
    pub failures: u64,
    /// Its model.
    pub outcome: ModeOutcome,
}

impl Mode {
    /// Its name in messages.
    pub(crate) fn name(&self) -> String {
        self.cause
            .clone()
            .unwrap_or_else(|| "unknown mode".to_owned())
    }

    /// Free parameters of its model.
    pub(crate) fn parameters(&self) -> u32 {
        match &self.outcome {
            ModeOutcome::Fitted(fit) => fit.family.parameters(),
            ModeOutcome::KnownShape { .. } => 1,
            ModeOutcome::Bound { .. } | ModeOutcome::Failed(_) => 0,
        }
    }

    /// Its curve; none without a model.
    pub(crate) fn curve(&self) -> Option<ModeCurve> {
        match &self.outcome {
            ModeOutcome::Fitted(fit) => Some(ModeCurve::of(fit)),
            ModeOutcome::KnownShape { fit, .. } => {
                let scale = fit.scale?;
                let precision = fit.failures as f64 * fit.shape * fit.shape;
                Some(ModeCurve {
                    family: Family::Weibull,
                    location: scale.ln(),
                    log_shape: fit.shape.ln(),
                    covariance: Some(Symmetric {
                        a: 1.0 / precision,
                        ..Symmetric::default()
                    }),
                })
            }
            ModeOutcome::Bound { fit, scale } => Some(ModeCurve {
                family: Family::Weibull,
                location: scale.ln(),
                log_shape: fit.shape.ln(),
                covariance: Some(Symmetric::default()),
            }),
            ModeOutcome::Failed(_) => None,
        }
    }
}

/// The hazard of one mode.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ModeCurve {
    family: Family,
    location: f64,
    log_shape: f64,
    /// Of location and log shape.
    covariance: Option<Symmetric>,
}

impl ModeCurve {
    fn of(fit: &Fit) -> Self {
        Self {
            family: fit.family,
            location: fit.location,
            log_shape: fit.log_shape,
            covariance: fit.location_covariance,
        }
    }

    fn z(&self, ln_usage: f64) -> f64 {
        (ln_usage - self.location) * self.log_shape.exp()
    }

    /// Hazard accumulated up to a log usage.
    pub(crate) fn cumulative(&self, ln_usage: f64) -> f64 {
        self.family.cumulative_hazard(self.z(ln_usage))
    }

    /// Logarithm of the hazard per unit of log usage.
    pub(crate) fn ln_rate(&self, ln_usage: f64) -> f64 {
        self.family.log_hazard(self.z(ln_usage)).value + self.log_shape
    }

    /// Log usage at which the accumulated hazard reaches `hazard > 0`.
    pub(crate) fn ln_usage_at(&self, hazard: f64) -> f64 {
        self.location + self.family.standard_quantile(hazard) * (-self.log_shape).exp()
    }

    /// Its standard variable at a log usage.
    pub(crate) fn standard(&self, ln_usage: f64) -> f64 {
        self.z(ln_usage)
    }

    /// The same curve as a function of the standard variable of `other`, in which that has location 0 and shape 1. All
    /// numbers stay finite.
    pub(crate) fn seen_from(&self, other: &Self) -> Seen {
        let most = f64::MAX;
        let shift = (other.location - self.location) * self.log_shape.exp();
        Seen {
            family: self.family,
            shift: shift.clamp(-most, most),
            stretch: (self.log_shape - other.log_shape)
                .exp()
                .clamp(f64::MIN_POSITIVE, most),
        }
    }

    /// Hazard gained from usage `from` to usage `to`.
    pub(crate) fn gained(&self, from: f64, to: f64) -> f64 {
        let member = Member {
            family: self.family.curve(),
            location: self.location,
            log_shape: self.log_shape,
            anchor: 0.0,
        };
        Stretch::new(from, to, 0.0).map_or(0.0, |stretch| gain(&stretch, &member).ln.exp())
    }

    /// Variance of the hazard accumulated up to a log usage, to first order; none without covariance.
    pub(crate) fn variance(&self, ln_usage: f64) -> Option<f64> {
        let covariance = self.covariance?;
        let rate = self.ln_rate(ln_usage).exp();
        let variance = covariance.form([-rate, rate * (ln_usage - self.location)]);
        (variance.is_finite() && variance >= 0.0).then_some(variance)
    }
}

/// The hazard of one mode over the standard variable of another.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    family: Family,
    shift: f64,
    stretch: f64,
}

impl Seen {
    fn z(&self, x: f64) -> f64 {
        self.shift + self.stretch * x
    }

    /// Hazard accumulated up to `x`.
    pub(crate) fn cumulative(&self, x: f64) -> f64 {
        self.family.cumulative_hazard(self.z(x))
    }

    /// Logarithm of the hazard per unit of its own standard variable.
    pub(crate) fn ln_rate(&self, x: f64) -> f64 {
        self.family.log_hazard(self.z(x)).value
    }

    /// The `x` at which the accumulated hazard reaches `hazard`.
    pub(crate) fn reaches(&self, hazard: f64) -> f64 {
        (self.family.standard_quantile(hazard) - self.shift) / self.stretch
    }
}
