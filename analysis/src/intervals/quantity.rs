//! What is asked of a fit, and along which path of the likelihood its limits lie.

use super::derived::Derived;
use super::path::{Path, ln_span};
use super::profile::Profile;
use super::{LimitsError, needs_location_and_shape};
use crate::families::{Curve, Family};
use crate::fitting::Fit;
use crate::fitting::rows::Rows;

/// A quantity of a fit. Usages are in the unit of the sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Quantity {
    /// Usage by which this share has failed, for a share in (0, 1).
    Quantile(f64),
    /// Share that survives this usage above 0.
    Survival(f64),
    /// Failures per unit of usage among those unfailed at this usage above 0.
    Hazard(f64),
    /// Chance that a life unfailed at `age >= 0` survives a further `span > 0`.
    ConditionalSurvival {
        /// Usage already survived.
        age: f64,
        /// Further usage.
        span: f64,
    },
    /// Further usage in which a life unfailed at `age >= 0` fails with chance `share` in (0, 1).
    Span {
        /// Usage already survived.
        age: f64,
        /// Chance of failure.
        share: f64,
    },
    /// Mean further usage of a life unfailed at this age, at least 0.
    MeanResidualLife(f64),
    /// A parameter by its name, see [`Family::parameter_names`]; `rate` of the exponential too.
    Parameter(&'static str),
}

/// From the target on a path to the quantity shown.
#[derive(Clone, Copy, Debug)]
enum Shown {
    /// `exp(target + shift)`.
    Exp(f64),
    /// `exp(-target - shift)`.
    Reciprocal(f64),
    /// `target + shift`.
    Plain(f64),
    /// `exp(-H(target))`, of the standard variable.
    Survival(Curve),
    /// `exp(-exp(target + shift))`.
    NotGained(f64),
}

/// A quantity as a target on a path.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Aim {
    pub path: Path,
    /// Target at the top.
    pub target: f64,
    /// Nuisance at the top.
    pub nuisance: f64,
    /// Gradient of the target in location and log shape, at the top.
    pub gradient: [f64; 2],
    pub range: (f64, f64),
    shown: Shown,
}

/// Log usage beyond these bounds is out of the range of numbers.
const LOG_USAGE: (f64, f64) = (-690.0, 690.0);
const LOG_SHAPE: (f64, f64) = (-16.0, 28.0);
/// Standard variable: beyond these the failed or the surviving share is nothing, in every family.
const STANDARD: (f64, f64) = (-600.0, 600.0);

impl Quantity {
    /// The parameter of a fit by its name.
    ///
    /// # Errors
    /// For an unknown name.
    pub fn parameter(fit: &Fit, name: &str) -> Result<Self, LimitsError> {
        let known = fit.family.parameter_names();
        known
            .iter()
            .chain(&["rate"])
            .find(|known| **known == name && fit.parameter(name).is_some())
            .map(|known| Self::Parameter(known))
            .ok_or_else(|| LimitsError::Parameter {
                name: name.to_owned(),
            })
    }

    /// Checks what was asked.
    pub(crate) fn check(self, fit: &Fit) -> Result<(), LimitsError> {
        let share = |p: f64| {
            if p > 0.0 && p < 1.0 {
                Ok(())
            } else {
                Err(LimitsError::Share { value: p })
            }
        };
        let usage = |value: f64, rule, good: bool| {
            if value.is_finite() && good {
                Ok(())
            } else {
                Err(LimitsError::Usage { rule, value })
            }
        };
        match self {
            Self::Quantile(p) => share(p),
            Self::Survival(t) | Self::Hazard(t) => usage(t, "above 0", t > 0.0),
            Self::ConditionalSurvival { age, span } => {
                usage(age, "at least 0", age >= 0.0)?;
                usage(span, "above 0", span > 0.0)
            }
            Self::Span { age, share: p } => {
                usage(age, "at least 0", age >= 0.0)?;
                share(p)
            }
            Self::MeanResidualLife(age) => usage(age, "at least 0", age >= 0.0),
            Self::Parameter(name) => {
                fit.parameter(name)
                    .map(|_| ())
                    .ok_or_else(|| LimitsError::Parameter {
                        name: name.to_owned(),
                    })
            }
        }
    }

    /// The path of a quantity, about a centre of log usage.
    ///
    /// # Errors
    /// For a question outside its range, or an estimate that leaves the range of numbers.
    pub(crate) fn aim(self, fit: &Fit, centre: f64) -> Result<Aim, LimitsError> {
        needs_location_and_shape(fit)?;
        self.aim_of_curve(fit, centre)
    }

    /// The same with whatever third parameter of the fit held.
    pub(crate) fn aim_of_curve(self, fit: &Fit, centre: f64) -> Result<Aim, LimitsError> {
        self.check(fit)?;
        let shape = fit.log_shape.exp();
        let usage = |z: f64, shown: Shown| Aim {
            path: Path::Quantile { z },
            target: fit.location + z / shape - centre,
            nuisance: fit.log_shape,
            gradient: [1.0, -z / shape],
            range: (LOG_USAGE.0 - centre, LOG_USAGE.1 - centre),
            shown,
        };
        if fit.family == Family::Exponential {
            // Everything follows from the mean, and a constant hazard knows no age.
            let shown = match self {
                Self::Quantile(p) | Self::Span { share: p, .. } => {
                    Shown::Exp(centre + (-(-p).ln_1p()).ln())
                }
                Self::Survival(t) => Shown::NotGained(t.ln() - centre),
                Self::ConditionalSurvival { span, .. } => Shown::NotGained(span.ln() - centre),
                Self::Hazard(_) | Self::Parameter("rate") => Shown::Reciprocal(centre),
                Self::MeanResidualLife(_) | Self::Parameter(_) => Shown::Exp(centre),
            };
            return Ok(usage(0.0, shown));
        }
        let aim = match self {
            Self::Quantile(p) => usage(
                fit.life.curve.standard_quantile(-(-p).ln_1p()),
                Shown::Exp(centre),
            ),
            Self::Parameter("scale") => usage(0.0, Shown::Exp(centre)),
            Self::Parameter("mu") => usage(0.0, Shown::Plain(centre)),
            Self::Parameter(name) => Aim {
                path: Path::Shape,
                target: fit.log_shape,
                nuisance: fit.member(centre).z(0.0),
                gradient: [0.0, 1.0],
                range: LOG_SHAPE,
                shown: if name == "sigma" {
                    Shown::Reciprocal(0.0)
                } else {
                    Shown::Exp(0.0)
                },
            },
            Self::Survival(t) => {
                let z = (t.ln() - fit.location) * shape;
                Aim {
                    path: Path::Standard { y: t.ln() - centre },
                    target: z,
                    nuisance: fit.log_shape,
                    gradient: [-shape, z],
                    range: STANDARD,
                    shown: Shown::Survival(fit.life.curve),
                }
            }
            Self::Span { age, share } if age <= 0.0 => {
                return Self::Quantile(share).aim(fit, centre);
            }
            Self::Span { age, share } => {
                let hazard = -(-share).ln_1p();
                let target =
                    ln_span(&fit.member(0.0), age, hazard).ok_or(LimitsError::OutOfRange)?;
                Aim {
                    path: Path::Span { age, hazard },
                    target,
                    nuisance: fit.log_shape,
                    gradient: super::path::span_gradient(&fit.member(0.0), age, hazard)
                        .ok_or(LimitsError::OutOfRange)?,
                    range: LOG_USAGE,
                    shown: Shown::Exp(0.0),
                }
            }
            Self::Hazard(t) => {
                let y = t.ln() - centre;
                curve(
                    fit,
                    centre,
                    Derived::Hazard { y },
                    Shown::Exp(-t.ln()),
                    LOG_USAGE,
                )?
            }
            Self::ConditionalSurvival { age, span } => curve(
                fit,
                centre,
                Derived::gain(age, span, centre).ok_or(LimitsError::OutOfRange)?,
                Shown::NotGained(0.0),
                STANDARD,
            )?,
            Self::MeanResidualLife(_) if fit.family == Family::Loglogistic => {
                return Err(LimitsError::HeavyTail);
            }
            Self::MeanResidualLife(age) => curve(
                fit,
                centre,
                Derived::Residual {
                    age: age.ln() - centre,
                },
                Shown::Exp(centre),
                (LOG_USAGE.0 - centre, LOG_USAGE.1 - centre),
            )?,
        };
        if aim.target < aim.range.0 || aim.target > aim.range.1 {
            return Err(LimitsError::OutOfRange);
        }
        Ok(aim)
    }
}

fn curve(
    fit: &Fit,
    centre: f64,
    curve: Derived,
    shown: Shown,
    range: (f64, f64),
) -> Result<Aim, LimitsError> {
    let location = fit.location - centre;
    let target = curve.ln_value(fit.life.curve, location, fit.log_shape);
    let gradient = curve.gradient(fit.life.curve, location, fit.log_shape);
    Ok(Aim {
        path: Path::Derived(curve),
        target: target.ok_or(LimitsError::OutOfRange)?,
        nuisance: fit.log_shape,
        gradient: gradient.ok_or(LimitsError::OutOfRange)?,
        range,
        shown,
    })
}

impl Aim {
    /// The quantity at a target; none where it leaves the range of numbers.
    pub(crate) fn shown(&self, target: f64) -> Option<f64> {
        let positive = |value: f64| (value.is_finite() && value > 0.0).then_some(value);
        match self.shown {
            Shown::Exp(shift) => positive((target + shift).exp()),
            Shown::Reciprocal(shift) => positive((-target - shift).exp()),
            Shown::Plain(shift) => Some(target + shift),
            Shown::Survival(family) => Some((-family.cumulative_hazard(target)).exp()),
            Shown::NotGained(shift) if matches!(self.path, Path::Quantile { .. }) => {
                Some((-(shift - target).exp()).exp())
            }
            Shown::NotGained(shift) => Some((-(target + shift).exp()).exp()),
        }
    }

    /// The target at which the quantity is `value`; none where it never is.
    pub(crate) fn target_of(&self, value: f64) -> Option<f64> {
        let target = match self.shown {
            Shown::Exp(shift) => value.ln() - shift,
            Shown::Reciprocal(shift) => -value.ln() - shift,
            Shown::Plain(shift) => value - shift,
            Shown::Survival(family) => family.standard_quantile(-value.ln()),
            Shown::NotGained(shift) if matches!(self.path, Path::Quantile { .. }) => {
                shift - (-value.ln()).ln()
            }
            Shown::NotGained(shift) => (-value.ln()).ln() - shift,
        };
        target.is_finite().then_some(target)
    }

    /// Whether the quantity grows with the target.
    pub(crate) fn grows(&self) -> bool {
        match self.shown {
            Shown::Exp(_) | Shown::Plain(_) => true,
            Shown::Reciprocal(_) | Shown::Survival(_) => false,
            Shown::NotGained(_) => matches!(self.path, Path::Quantile { .. }),
        }
    }

    /// Whether the quantity is a chance, for which 0 and 1 are limits where the data leave a side open.
    pub(crate) fn is_chance(&self) -> bool {
        matches!(self.shown, Shown::Survival(_) | Shown::NotGained(_))
    }

    /// Standard error of the target; none without covariance.
    pub(crate) fn error(&self, fit: &Fit) -> Option<f64> {
        let variance = fit.location_covariance?.form(self.gradient);
        (variance.is_finite() && variance >= 0.0).then(|| variance.sqrt())
    }

    /// The search along this path.
    pub(crate) fn profile<'a>(&self, rows: &'a Rows, fit: &Fit) -> Profile<'a> {
        Profile {
            rows,
            family: fit.life.curve,
            path: self.path,
            top: fit.log_likelihood,
            target: self.target,
            nuisance: self.nuisance,
            error: self.error(fit).filter(|error| *error > 0.0).unwrap_or(0.3),
            range: self.range,
        }
    }
}
