//! A Weibull life with its parameters given, whether fitted, a limit, or assumed.

use crate::families::Family;
use crate::fitting::Fit;
use crate::solve::root;

/// A Weibull life: `F(t) = 1 - exp(-(t / scale)^shape)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeibullLife {
    shape: f64,
    scale: f64,
}

/// A parameter that is not positive and finite.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("the {name} must be finite and above 0 but is {value}")]
pub struct LifeError {
    /// Which parameter.
    pub name: &'static str,
    /// The value given.
    pub value: f64,
}

/// The longest renewal age whose mean risk per unit of usage stays at or below a cap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MeanRiskAge {
    /// Renew at this usage.
    At(f64),
    /// The mean risk stays below the cap at any age.
    NeverReached,
    /// The mean risk is above the cap from the start; renewal does not help.
    AboveFromStart,
}

impl WeibullLife {
    /// Checks the two parameters.
    ///
    /// # Errors
    /// For a value that is not positive and finite.
    pub fn new(shape: f64, scale: f64) -> Result<Self, LifeError> {
        for (name, value) in [("shape", shape), ("scale", scale)] {
            if !(value.is_finite() && value > 0.0) {
                return Err(LifeError { name, value });
            }
        }
        Ok(Self { shape, scale })
    }

    /// The life a fit describes; none unless the fit is Weibull or exponential.
    #[must_use]
    pub fn from_fit(fit: &Fit) -> Option<Self> {
        match fit.family {
            Family::Weibull => Self::new(fit.parameter("shape")?, fit.parameter("scale")?).ok(),
            Family::Exponential => Self::new(1.0, fit.parameter("mean")?).ok(),
            _ => None,
        }
    }

    /// The shape.
    #[must_use]
    pub fn shape(self) -> f64 {
        self.shape
    }

    /// The usage by which 63.2 % have failed.
    #[must_use]
    pub fn scale(self) -> f64 {
        self.scale
    }

    /// Share failed by `usage >= 0`.
    #[must_use]
    pub fn failure(self, usage: f64) -> f64 {
        -(-(usage / self.scale).powf(self.shape)).exp_m1()
    }

    /// Usage by which a share `p` in (0, 1) has failed; none outside, or where it leaves the range of numbers.
    #[must_use]
    pub fn quantile(self, p: f64) -> Option<f64> {
        self.span_for_risk(0.0, p)
    }

    /// Chance that a part unfailed at `age >= 0` fails within the next `span >= 0`:
    /// `1 - exp((t/scale)^shape - ((t+d)/scale)^shape)`.
    #[must_use]
    pub fn conditional_failure(self, age: f64, span: f64) -> f64 {
        if span <= 0.0 {
            return 0.0;
        }
        if age <= 0.0 {
            return self.failure(span);
        }
        let growth = (self.shape * (span / age).ln_1p()).exp_m1();
        let gain = (self.shape * (age / self.scale).ln() + growth.ln()).exp();
        -(-gain).exp_m1()
    }

    /// Failures expected over the next `span` among parts of the ages given.
    #[must_use]
    pub fn expected_failures(self, ages: impl IntoIterator<Item = f64>, span: f64) -> f64 {
        ages.into_iter()
            .map(|age| self.conditional_failure(age, span))
            .collect::<crate::summation::Sum>()
            .total()
    }

    /// Further usage until the chance of failing, for a part unfailed at `age`, reaches `p`:
    /// `scale ((age/scale)^shape - ln(1-p))^(1/shape) - age`.
    ///
    /// None for `p` outside (0, 1), a negative age, or where the answer leaves the range of numbers.
    #[must_use]
    pub fn span_for_risk(self, age: f64, p: f64) -> Option<f64> {
        if !(p > 0.0 && p < 1.0 && age.is_finite() && age >= 0.0) {
            return None;
        }
        let risk = -(-p).ln_1p();
        let span = if age > 0.0 {
            // (1 + risk / H(age))^(1/shape) - 1, in units of the age, without cancellation.
            let ln_ratio = risk.ln() - self.shape * (age / self.scale).ln();
            let ln_growth = if ln_ratio > 36.0 {
                ln_ratio
            } else {
                ln_ratio.exp().ln_1p()
            };
            age * (ln_growth / self.shape).exp_m1()
        } else {
            self.scale * (risk.ln() / self.shape).exp()
        };
        (span.is_finite() && span > 0.0).then_some(span)
    }

    /// The longest renewal age `T` with `F(T) / T <= p`, the mean risk per unit of usage over one interval.
    #[must_use]
    pub fn age_for_mean_risk(self, p: f64) -> MeanRiskAge {
        if p.is_nan() || p <= 0.0 || self.shape < 1.0 {
            return MeanRiskAge::AboveFromStart;
        }
        if self.shape <= 1.0 {
            return if p >= 1.0 / self.scale {
                MeanRiskAge::NeverReached
            } else {
                MeanRiskAge::AboveFromStart
            };
        }
        // In x = ln(T / scale): ln F - x rises to where h(T) T = F/(1-F), then falls.
        let ln_mean_risk = |x: f64| {
            let hazard = (self.shape * x).exp();
            let ln_share = if hazard < 1e-9 {
                self.shape * x - 0.5 * hazard
            } else {
                (-(-hazard).exp_m1()).ln()
            };
            ln_share - x
        };
        let rising = |x: f64| {
            let hazard = (self.shape * x).exp();
            // Positive while shape * H / (exp(H) - 1) > 1.
            self.shape
                * if hazard < 1e-12 {
                    1.0
                } else {
                    hazard / hazard.exp_m1()
                }
                - 1.0
        };
        let Some(top) = root(rising, -40.0 / self.shape, 8.0 / self.shape) else {
            return MeanRiskAge::AboveFromStart;
        };
        let cap = (p * self.scale).ln();
        if ln_mean_risk(top) <= cap {
            return MeanRiskAge::NeverReached;
        }
        let start = (cap / (self.shape - 1.0)).min(top) - 1.0;
        match root(|x| ln_mean_risk(x) - cap, start, top) {
            Some(x) => MeanRiskAge::At(self.scale * x.exp()),
            None => MeanRiskAge::AboveFromStart,
        }
    }
}
