//! A life distribution with its parameters given, whether fitted or assumed.

use super::likelihood::{Member, gain};
use super::rows::Stretch;
use super::{residual_life, restricted_mean};
use crate::families::{Curve, Family, GeneralisedGamma};
use crate::solve::root;
use crate::special::gamma::pi_over_sine;
use crate::special::incomplete_gamma::stirling_residual;

/// A member of a family: what it says about a life.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LifeDistribution {
    pub(crate) family: Family,
    pub(crate) curve: Curve,
    /// Logarithm of usage, counted from the threshold, at which the standard variable is zero.
    pub(crate) location: f64,
    pub(crate) log_shape: f64,
    /// Usage before which nothing fails.
    pub(crate) threshold: f64,
}

/// Why parameters make no life.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ParameterError {
    /// Too few or too many.
    #[error("the {} model has {wanted} parameters but {given} are given", family.code())]
    Number {
        /// The family.
        family: Family,
        /// How many it has.
        wanted: usize,
        /// How many were given.
        given: usize,
    },
    /// A value outside its range.
    #[error("{name} must be {rule} but is {value}")]
    Range {
        /// The parameter.
        name: &'static str,
        /// The rule it breaks.
        rule: &'static str,
        /// The value given.
        value: f64,
    },
}

/// Shapes that integrals and powers can follow; the widest real lives stay far inside.
pub(crate) const SHAPES: std::ops::RangeInclusive<f64> = 1e-3..=1e6;
/// The same in words.
pub(crate) const SHAPE_RULE: &str = "between 0.001 and 1,000,000";

/// Largest `q` either way; beyond it a life is a power law with an end.
const LARGEST_FORM: f64 = 50.0;

impl LifeDistribution {
    /// From natural parameters in the order of [`Family::parameter_names`].
    ///
    /// # Errors
    /// For a wrong number of parameters or one outside its range.
    pub fn new(family: Family, parameters: &[f64]) -> Result<Self, ParameterError> {
        let names = family.parameter_names();
        if names.len() != parameters.len() {
            return Err(ParameterError::Number {
                family,
                wanted: names.len(),
                given: parameters.len(),
            });
        }
        for (name, value) in names.iter().zip(parameters) {
            let (good, rule) = match *name {
                "mu" => (value.abs() <= 700.0, "within 700 of 0"),
                "q" => (value.abs() <= LARGEST_FORM, "within 50 of 0"),
                "threshold" => (value.is_finite() && *value >= 0.0, "finite and at least 0"),
                _ => (value.is_finite() && *value > 0.0, "finite and above 0"),
            };
            if !good {
                return Err(ParameterError::Range {
                    name,
                    rule,
                    value: *value,
                });
            }
        }
        let read = |place: usize| parameters.get(place).copied().unwrap_or_default();
        let [first, second, third] = [0, 1, 2].map(read);
        let mut life = Self {
            family,
            curve: family.curve(),
            location: first.ln(),
            log_shape: second.ln(),
            threshold: 0.0,
        };
        match family {
            Family::Exponential => life.log_shape = 0.0,
            Family::Weibull | Family::Loglogistic => {}
            Family::Lognormal => (life.location, life.log_shape) = (first, -second.ln()),
            Family::Gamma => {
                let form = first.sqrt().recip();
                life.location = first.ln() + second.ln();
                life.log_shape = -form.ln();
                life.curve = Curve::GeneralisedGamma(GeneralisedGamma::new(form));
            }
            Family::GeneralisedGamma => {
                (life.location, life.log_shape) = (first, -second.ln());
                life.curve = Curve::GeneralisedGamma(GeneralisedGamma::new(third));
            }
            Family::ThresholdWeibull => life.threshold = third,
        }
        Ok(life)
    }

    /// `F(t) = 1 - exp(-t / mean)`.
    ///
    /// # Errors
    /// For a mean that is not finite and above 0.
    pub fn exponential(mean: f64) -> Result<Self, ParameterError> {
        Self::new(Family::Exponential, &[mean])
    }

    /// `F(t) = 1 - exp(-(t / scale)^shape)`.
    ///
    /// # Errors
    /// For a parameter that is not finite and above 0.
    pub fn weibull(shape: f64, scale: f64) -> Result<Self, ParameterError> {
        Self::new(Family::Weibull, &[scale, shape])
    }

    /// Odds of failure `(t / scale)^shape`; the scale is the median.
    ///
    /// # Errors
    /// As [`Self::weibull`].
    pub fn loglogistic(shape: f64, scale: f64) -> Result<Self, ParameterError> {
        Self::new(Family::Loglogistic, &[scale, shape])
    }

    /// The logarithm of life is normal with mean `mu` and standard deviation `sigma`.
    ///
    /// # Errors
    /// For a `mu` further than 700 from 0, or a `sigma` that is not finite and above 0.
    pub fn lognormal(mu: f64, sigma: f64) -> Result<Self, ParameterError> {
        Self::new(Family::Lognormal, &[mu, sigma])
    }

    pub(crate) fn of_member(family: Family, member: &Member, threshold: f64) -> Self {
        Self {
            family,
            curve: member.family,
            location: member.location,
            log_shape: member.log_shape,
            threshold,
        }
    }

    /// The family.
    #[must_use]
    pub fn family(&self) -> Family {
        self.family
    }

    /// The member of the family, on a log scale about `centre`.
    pub(crate) fn member(&self, centre: f64) -> Member {
        Member {
            family: self.curve,
            location: self.location - centre,
            log_shape: self.log_shape,
            anchor: 0.0,
        }
    }

    pub(crate) fn shape(&self) -> f64 {
        self.log_shape.exp()
    }

    /// Standard variable at a usage above the threshold.
    pub(super) fn z(&self, usage: f64) -> f64 {
        ((usage - self.threshold).ln() - self.location) * self.shape()
    }

    /// Hazard accumulated up to `usage >= 0`, at most the largest finite number.
    #[must_use]
    pub fn cumulative_hazard(&self, usage: f64) -> f64 {
        if usage <= self.threshold {
            return 0.0;
        }
        self.curve.cumulative_hazard(self.z(usage)).min(f64::MAX)
    }

    /// Share of lives that survive `usage`.
    #[must_use]
    pub fn survival(&self, usage: f64) -> f64 {
        (-self.cumulative_hazard(usage)).exp()
    }

    /// Share of lives that have failed by `usage`.
    #[must_use]
    pub fn failure(&self, usage: f64) -> f64 {
        -(-self.cumulative_hazard(usage)).exp_m1()
    }

    /// Failures per unit of usage among those still unfailed at `usage > 0`; none where it is unbounded.
    #[must_use]
    pub fn hazard(&self, usage: f64) -> Option<f64> {
        if usage < self.threshold {
            return Some(0.0);
        }
        let since = usage - self.threshold;
        let ln = self.curve.log_hazard(self.z(usage)).value + self.log_shape - since.ln();
        Some(ln.exp()).filter(|hazard| hazard.is_finite())
    }

    /// Usage by which a share `p` has failed, for `0 < p < 1`; none where it leaves the range of numbers.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        if !(p > 0.0 && p < 1.0) {
            return None;
        }
        let z = self.curve.standard_quantile(-(-p).ln_1p());
        let usage = self.threshold + (self.location + z / self.shape()).exp();
        (usage.is_finite() && usage > 0.0).then_some(usage)
    }

    /// Logarithm of the cumulative hazard gained from `age >= 0` over the next `span >= 0`.
    pub(super) fn ln_gain(&self, age: f64, span: f64) -> f64 {
        let (since, span) = if age >= self.threshold {
            (age - self.threshold, span)
        } else {
            (0.0, span - (self.threshold - age))
        };
        if span.is_nan() || span <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let stretch = if since > 0.0 {
            let width = (span / since).ln_1p();
            Stretch {
                from: since.ln(),
                to: since.ln() + width,
                width,
            }
        } else {
            Stretch {
                from: f64::NEG_INFINITY,
                to: span.ln(),
                width: f64::INFINITY,
            }
        };
        gain(&stretch, &self.member(0.0)).ln
    }

    /// Chance that a life unfailed at `age >= 0` fails within the next `span >= 0` of usage.
    #[must_use]
    pub fn conditional_failure(&self, age: f64, span: f64) -> f64 {
        -(-self.ln_gain(age, span).exp()).exp_m1()
    }

    /// Chance that a life unfailed at `age >= 0` survives the next `span >= 0` of usage.
    #[must_use]
    pub fn conditional_survival(&self, age: f64, span: f64) -> f64 {
        (-self.ln_gain(age, span).exp()).exp()
    }

    /// Further usage over which a life unfailed at `age >= 0` fails with probability `p`, for `0 < p < 1`; none
    /// where it leaves the range of numbers.
    #[must_use]
    pub fn span_for_risk(&self, age: f64, p: f64) -> Option<f64> {
        (p > 0.0 && p < 1.0).then(|| self.span_for_hazard(age, -(-p).ln_1p()))?
    }

    /// Further usage that adds `hazard` to the cumulative hazard at `age`.
    pub(super) fn span_for_hazard(&self, age: f64, hazard: f64) -> Option<f64> {
        if !(age.is_finite() && age >= 0.0) {
            return None;
        }
        let since = age - self.threshold;
        let span = if since <= 0.0 {
            let z = self.curve.standard_quantile(hazard);
            (self.location + z / self.shape()).exp() - since
        } else {
            let want = hazard.ln();
            let from = since.ln();
            let gap = |ln_span: f64| {
                let width = (ln_span - from).exp().ln_1p();
                let width = if width.is_finite() {
                    width
                } else {
                    ln_span - from
                };
                let stretch = Stretch {
                    from,
                    to: from + width,
                    width,
                };
                (gain(&stretch, &self.member(0.0)).ln - want).clamp(-1e3, 1e3)
            };
            root(gap, from - 200.0, from + 1_500.0)?.exp()
        };
        (span.is_finite() && span > 0.0).then_some(span)
    }

    /// Mean life; none where it is infinite or leaves the range of numbers.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        Some(self.threshold + self.mean_since_threshold()?).filter(|mean| mean.is_finite())
    }

    fn mean_since_threshold(&self) -> Option<f64> {
        let shape = self.shape();
        let mean = match self.curve {
            Curve::Exponential => self.location.exp(),
            Curve::Weibull => (self.location + libm::lgamma(1.0 + 1.0 / shape)).exp(),
            Curve::Lognormal => (self.location + 0.5 / (shape * shape)).exp(),
            Curve::Loglogistic if shape > 1.0 => {
                self.location.exp() * pi_over_sine(1.0 / shape) / shape
            }
            Curve::Loglogistic => return None,
            Curve::GeneralisedGamma(curve) => {
                (self.location + ln_mean_ratio(curve.form(), 1.0 / shape)?).exp()
            }
        };
        (mean.is_finite() && mean > 0.0).then_some(mean)
    }

    /// Mean usage of a life cut off at `usage >= 0`, the integral of survival; none where out of range.
    #[must_use]
    pub fn mean_up_to(&self, usage: f64) -> Option<f64> {
        restricted_mean::mean_up_to(self, usage)
    }

    /// Integral of the share failed from usage 0 to `usage >= 0`; none where out of range.
    #[must_use]
    pub fn failed_up_to(&self, usage: f64) -> Option<f64> {
        restricted_mean::failed_between(self, 0.0, usage)
    }

    /// The same between two usages.
    pub(crate) fn failed_between(&self, from: f64, to: f64) -> Option<f64> {
        restricted_mean::failed_between(self, from, to)
    }

    /// Logarithm of the usage since the threshold at which the cumulative hazard reaches a value.
    pub(crate) fn ln_since_threshold_at(&self, cumulative_hazard: f64) -> f64 {
        self.location + self.curve.standard_quantile(cumulative_hazard) / self.shape()
    }

    /// Hazard accumulated up to a usage whose distance from the threshold is given by its logarithm.
    pub(crate) fn cumulative_hazard_since(&self, ln_since: f64) -> f64 {
        self.curve
            .cumulative_hazard((ln_since - self.location) * self.shape())
    }

    /// Mean further usage of a life unfailed at `age >= 0`; none where it is infinite, or not found to 1e-10.
    #[must_use]
    pub fn mean_residual_life(&self, age: f64) -> Option<f64> {
        residual_life::mean_residual_life(self, age)
    }
}

/// Logarithm of mean over `exp(mu)`: `ln Gamma(a + s/Q) - ln Gamma(a) - (s/Q) ln a` with `a = 1/Q^2`, arranged about
/// Stirling's formula so that it holds as `Q` nears 0. None where the mean is infinite.
pub(super) fn ln_mean_ratio(form: f64, sigma: f64) -> Option<f64> {
    let growth = sigma * form;
    if growth <= -1.0 {
        return None;
    }
    if form.abs() < 1e-100 {
        return Some(0.5 * sigma * sigma);
    }
    let a = 1.0 / (form * form);
    // (1 + e) ln(1 + e) - e over e^2.
    let bend = if growth.abs() < 1e-3 {
        0.5 - growth * (1.0 / 6.0 - growth * (1.0 / 12.0 - growth * (1.0 / 20.0 - growth / 30.0)))
    } else {
        ((1.0 + growth) * growth.ln_1p() - growth) / (growth * growth)
    };
    Some(
        sigma * sigma * bend - 0.5 * growth.ln_1p() + stirling_residual(a * (1.0 + growth))
            - stirling_residual(a),
    )
}
