//! A life distribution with its parameters given, whether fitted, a limit, or assumed.

use super::LifeError;
use crate::families::Family;
use crate::fitting::Fit;
use crate::quadrature::integral;
use crate::special::gamma::pi_over_sine;

/// Accuracy of the integrals.
const RELATIVE: f64 = 1e-12;
/// Beyond this cumulative hazard survival is less than the smallest number.
const ALL_FAILED: f64 = 700.0;
/// A stretch of log usage after which the usage left behind no longer counts.
const FAR_BELOW: f64 = 42.0;
/// Shapes beyond these bounds are refused; the widest real lives stay far inside.
const SHAPES: std::ops::RangeInclusive<f64> = 1e-3..=1e6;

/// A life of one of the two-parameter families, or an exponential one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Life {
    family: Family,
    /// Logarithm of the usage at which the standard variable is 0.
    location: f64,
    shape: f64,
}

impl Life {
    /// `F(t) = 1 - exp(-(t / scale)^shape)`.
    ///
    /// # Errors
    /// For a parameter that is not positive and finite, or a shape outside 0.001 to 1,000,000.
    pub fn weibull(shape: f64, scale: f64) -> Result<Self, LifeError> {
        Self::checked(Family::Weibull, "scale", scale, "shape", shape)
    }

    /// `F(t) = 1 - exp(-t / mean)`.
    ///
    /// # Errors
    /// For a mean that is not positive and finite.
    pub fn exponential(mean: f64) -> Result<Self, LifeError> {
        Self::checked(Family::Exponential, "mean", mean, "shape", 1.0)
    }

    /// Odds of failure `(t / scale)^shape`; the scale is the median.
    ///
    /// # Errors
    /// As [`Self::weibull`].
    pub fn loglogistic(shape: f64, scale: f64) -> Result<Self, LifeError> {
        Self::checked(Family::Loglogistic, "scale", scale, "shape", shape)
    }

    /// The logarithm of life is normal with mean `mu` and standard deviation `sigma`.
    ///
    /// # Errors
    /// For a `mu` out of range, or a `sigma` that is not positive and finite or lies outside 1e-6 to 1,000.
    pub fn lognormal(mu: f64, sigma: f64) -> Result<Self, LifeError> {
        let median = mu.exp();
        if !(median.is_finite() && median > 0.0) {
            return Err(LifeError {
                name: "mu",
                value: mu,
            });
        }
        if !(sigma > 0.0 && SHAPES.contains(&(1.0 / sigma))) {
            return Err(LifeError {
                name: "sigma",
                value: sigma,
            });
        }
        Ok(Self {
            family: Family::Lognormal,
            location: mu,
            shape: 1.0 / sigma,
        })
    }

    fn checked(
        family: Family,
        scale_name: &'static str,
        scale: f64,
        shape_name: &'static str,
        shape: f64,
    ) -> Result<Self, LifeError> {
        if !(scale.is_finite() && scale > 0.0) {
            return Err(LifeError {
                name: scale_name,
                value: scale,
            });
        }
        if !SHAPES.contains(&shape) {
            return Err(LifeError {
                name: shape_name,
                value: shape,
            });
        }
        Ok(Self {
            family,
            location: scale.ln(),
            shape,
        })
    }

    /// The life a fit describes; none for a family that is not among those here, or parameters out of range.
    #[must_use]
    pub fn from_fit(fit: &Fit) -> Option<Self> {
        let of = |name| fit.parameter(name);
        match fit.family {
            Family::Weibull => Self::weibull(of("shape")?, of("scale")?).ok(),
            Family::Exponential => Self::exponential(of("mean")?).ok(),
            Family::Lognormal => Self::lognormal(of("mu")?, of("sigma")?).ok(),
            Family::Loglogistic => Self::loglogistic(of("shape")?, of("scale")?).ok(),
            Family::Gamma | Family::GeneralisedGamma | Family::ThresholdWeibull => None,
        }
    }

    /// The family.
    #[must_use]
    pub fn family(self) -> Family {
        self.family
    }

    /// Share of lives that survive `usage`.
    #[must_use]
    pub fn survival(self, usage: f64) -> f64 {
        (-self.cumulative_hazard(usage)).exp()
    }

    /// Share of lives that have failed by `usage`.
    #[must_use]
    pub fn failure(self, usage: f64) -> f64 {
        -(-self.cumulative_hazard(usage)).exp_m1()
    }

    /// Failures per unit of usage among those still unfailed at `usage > 0`; none where out of range.
    #[must_use]
    pub fn hazard(self, usage: f64) -> Option<f64> {
        let hazard = self.ln_hazard(usage.ln()).exp();
        (usage > 0.0 && hazard.is_finite()).then_some(hazard)
    }

    /// Mean life; none where it is infinite or leaves the range of numbers.
    #[must_use]
    pub fn mean(self) -> Option<f64> {
        let ln_mean = match self.family {
            Family::Exponential => self.location,
            Family::Weibull => self.location + libm::lgamma(1.0 + 1.0 / self.shape),
            Family::Lognormal => self.location + 0.5 / (self.shape * self.shape),
            Family::Loglogistic if self.shape > 1.0 => {
                self.location + (pi_over_sine(1.0 / self.shape) / self.shape).ln()
            }
            _ => return None,
        };
        let mean = ln_mean.exp();
        (mean.is_finite() && mean > 0.0).then_some(mean)
    }

    /// Mean usage of a life cut off at `usage >= 0`, the integral of survival; none where out of range.
    #[must_use]
    pub fn mean_up_to(self, usage: f64) -> Option<f64> {
        if usage.is_nan() || usage < 0.0 {
            return None;
        }
        if usage <= 0.0 {
            return Some(0.0);
        }
        let end = usage.ln().min(self.ln_usage_at(ALL_FAILED));
        // Before this usage nobody has failed as far as numbers go.
        let untouched = self.ln_usage_at(1e-17).min(end);
        let start = untouched.max(end.min(self.location) - FAR_BELOW);
        let rest = integral(
            |y| (y - self.family.cumulative_hazard(self.z(y))).exp(),
            start,
            end,
            RELATIVE,
        )?;
        let total = start.exp() + rest;
        total.is_finite().then_some(total)
    }

    /// Integral of the share failed from usage 0 to `usage >= 0`; none where out of range.
    #[must_use]
    pub fn failed_up_to(self, usage: f64) -> Option<f64> {
        self.failed_between(0.0, usage)
    }

    /// The same between two usages.
    pub(super) fn failed_between(self, from: f64, to: f64) -> Option<f64> {
        if !(from >= 0.0 && to >= from && to.is_finite()) {
            return None;
        }
        let last = self.failure(to);
        // So small a share has lost its digits.
        if last < 1e-280 || to <= from {
            return Some(0.0);
        }
        let end = to.ln();
        let start = self
            .ln_usage_at(last * 1e-17)
            .max(from.ln())
            .max(end - FAR_BELOW)
            .min(end);
        let failure = |y: f64| -(-self.family.cumulative_hazard(self.z(y))).exp_m1();
        integral(|y| failure(y) * y.exp(), start, end, RELATIVE)
    }

    /// Logarithm of how far the hazard at a usage lies above the hazards before it, as failures: of the integral from
    /// 0 to the usage of survival times the excess of the last hazard over the one there. That is `hazard mean_up_to -
    /// failure` without the cancellation. Only where the hazard rises up to the usage.
    pub(super) fn ln_excess_of_last_hazard(self, ln_usage: f64) -> Option<f64> {
        let last = self.ln_hazard(ln_usage);
        let end = ln_usage.min(self.ln_usage_at(ALL_FAILED));
        let area = integral(
            |y| {
                let share = -(self.ln_hazard(y) - last).min(0.0).exp_m1();
                share * (y - self.family.cumulative_hazard(self.z(y))).exp()
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
    pub(super) fn ln_usage_of_highest_hazard(self) -> Option<f64> {
        // Slope of the log hazard in log usage; it falls with usage in every family here.
        let rise = |z: f64| self.shape * self.family.log_hazard(z).slope - 1.0;
        match self.family {
            Family::Weibull => (self.shape > 1.0).then_some(f64::INFINITY),
            Family::Loglogistic if self.shape <= 1.0 => None,
            Family::Loglogistic | Family::Lognormal => {
                // Lognormal: far out the slope is near 1/z, far below it is near -z.
                let most = 10.0 + 40.0 * (1.0 + self.shape).ln() + 4.0 * self.shape;
                let least = -10.0 - 2.0 / self.shape;
                let z = crate::solve::root(rise, least, most)?;
                Some(self.location + z / self.shape)
            }
            _ => None,
        }
    }

    fn z(self, ln_usage: f64) -> f64 {
        self.shape * (ln_usage - self.location)
    }

    pub(super) fn location(self) -> f64 {
        self.location
    }

    pub(super) fn shape(self) -> f64 {
        self.shape
    }

    /// Hazard accumulated up to a usage.
    pub(super) fn cumulative_hazard(self, usage: f64) -> f64 {
        if usage <= 0.0 {
            return 0.0;
        }
        self.family.cumulative_hazard(self.z(usage.ln()))
    }

    /// Share that survives a usage given by its logarithm.
    pub(super) fn survival_at(self, ln_usage: f64) -> f64 {
        (-self.family.cumulative_hazard(self.z(ln_usage))).exp()
    }

    /// Logarithm of the hazard per unit of usage.
    pub(super) fn ln_hazard(self, ln_usage: f64) -> f64 {
        self.family.log_hazard(self.z(ln_usage)).value + self.shape.ln() - ln_usage
    }

    /// Logarithm of the usage at which the cumulative hazard reaches a value.
    pub(super) fn ln_usage_at(self, cumulative_hazard: f64) -> f64 {
        self.location + self.family.standard_quantile(cumulative_hazard) / self.shape
    }
}
