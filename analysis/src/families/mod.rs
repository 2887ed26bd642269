//! Families of life distributions, each as its standard curves.
//!
//! Every family here is log-location-scale: with `z = shape * (ln t - location)` the cumulative hazard is one fixed
//! curve in `z` (Meeker and Escobar 1998, chapter 4). One likelihood then serves them all. The third parameter of the
//! generalised gamma chooses the curve, and the threshold of the three-parameter Weibull moves the usages.

use serde::{Deserialize, Serialize};

mod exponential;
mod generalised_gamma;
mod loglogistic;
mod lognormal;
mod weibull;

pub(crate) use generalised_gamma::GeneralisedGamma;

/// A family of life distributions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisFamily))]
pub enum Family {
    /// Constant hazard. Parameter: mean.
    Exponential,
    /// Hazard a power of usage. Parameters: scale (63.2 % failed), shape.
    Weibull,
    /// Logarithm of life is normal. Parameters: mu and sigma of the logarithm.
    Lognormal,
    /// Logarithm of life is logistic. Parameters: scale (median), shape.
    Loglogistic,
    /// Sum of `shape` exponential stages. Parameters: shape, scale (mean of a stage).
    Gamma,
    /// The family in which Weibull, gamma and lognormal nest. Parameters: mu, sigma, q (Prentice 1974).
    GeneralisedGamma,
    /// Weibull whose usage counts from a threshold on. Parameters: scale, shape, threshold.
    ThresholdWeibull,
}

/// The standard curve of a family, with its form where the family has a free one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Curve {
    Exponential,
    Weibull,
    Lognormal,
    Loglogistic,
    GeneralisedGamma(GeneralisedGamma),
}

/// A function of `z` with its first two derivatives.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Jet {
    pub value: f64,
    pub slope: f64,
    pub curvature: f64,
}

impl From<Family> for Curve {
    fn from(family: Family) -> Self {
        family.curve()
    }
}

impl Family {
    /// The families that a report fits unless told otherwise, in its order.
    pub const ALL: [Self; 4] = [
        Self::Weibull,
        Self::Exponential,
        Self::Lognormal,
        Self::Loglogistic,
    ];

    /// Every family that can be fitted: those of [`Self::ALL`] first.
    pub const EVERY: [Self; 7] = [
        Self::Weibull,
        Self::Exponential,
        Self::Lognormal,
        Self::Loglogistic,
        Self::Gamma,
        Self::GeneralisedGamma,
        Self::ThresholdWeibull,
    ];

    /// The code used in JSON.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Exponential => "exponential",
            Self::Weibull => "weibull",
            Self::Lognormal => "lognormal",
            Self::Loglogistic => "loglogistic",
            Self::Gamma => "gamma",
            Self::GeneralisedGamma => "generalised-gamma",
            Self::ThresholdWeibull => "threshold-weibull",
        }
    }

    /// Number of free parameters.
    #[must_use]
    pub fn parameters(self) -> u32 {
        match self {
            Self::Exponential => 1,
            Self::Weibull | Self::Lognormal | Self::Loglogistic | Self::Gamma => 2,
            Self::GeneralisedGamma | Self::ThresholdWeibull => 3,
        }
    }

    /// Names of the parameters in the order of the covariance.
    #[must_use]
    pub fn parameter_names(self) -> &'static [&'static str] {
        match self {
            Self::Exponential => &["mean"],
            Self::Weibull | Self::Loglogistic => &["scale", "shape"],
            Self::Lognormal => &["mu", "sigma"],
            Self::Gamma => &["shape", "scale"],
            Self::GeneralisedGamma => &["mu", "sigma", "q"],
            Self::ThresholdWeibull => &["scale", "shape", "threshold"],
        }
    }

    /// Whether location and shape are all of its parameters, so that its standard curve is always the same.
    pub(crate) fn is_log_location_scale(self) -> bool {
        !matches!(
            self,
            Self::Gamma | Self::GeneralisedGamma | Self::ThresholdWeibull
        )
    }

    /// Its standard curve. The threshold Weibull has the Weibull's, with usages counted from the threshold. Gamma and
    /// generalised gamma have another for each form: theirs here is the lognormal, which both tend to at one end of the
    /// form. No probability paper makes these three straight.
    pub(crate) fn curve(self) -> Curve {
        match self {
            Self::Exponential => Curve::Exponential,
            Self::Weibull | Self::ThresholdWeibull => Curve::Weibull,
            Self::Lognormal | Self::Gamma | Self::GeneralisedGamma => Curve::Lognormal,
            Self::Loglogistic => Curve::Loglogistic,
        }
    }

    /// As [`Curve::log_hazard`].
    pub(crate) fn log_hazard(self, z: f64) -> Jet {
        self.curve().log_hazard(z)
    }

    /// As [`Curve::cumulative_hazard`].
    pub(crate) fn cumulative_hazard(self, z: f64) -> f64 {
        self.curve().cumulative_hazard(z)
    }

    /// As [`Curve::standard_quantile`].
    pub(crate) fn standard_quantile(self, hazard: f64) -> f64 {
        self.curve().standard_quantile(hazard)
    }
}

impl Curve {
    /// Logarithm of the hazard per unit of `z`.
    pub(crate) fn log_hazard(self, z: f64) -> Jet {
        match self {
            Self::Exponential => exponential::log_hazard(z),
            Self::Weibull => weibull::log_hazard(z),
            Self::Lognormal => lognormal::log_hazard(z),
            Self::Loglogistic => loglogistic::log_hazard(z),
            Self::GeneralisedGamma(curve) => curve.log_hazard(z),
        }
    }

    /// Cumulative hazard at `z`; 0 at minus infinity.
    pub(crate) fn cumulative_hazard(self, z: f64) -> f64 {
        match self {
            Self::Exponential => exponential::cumulative_hazard(z),
            Self::Weibull => weibull::cumulative_hazard(z),
            Self::Lognormal => lognormal::cumulative_hazard(z),
            Self::Loglogistic => loglogistic::cumulative_hazard(z),
            Self::GeneralisedGamma(curve) => curve.cumulative_hazard(z),
        }
    }

    /// Logarithm of the cumulative hazard gained from `z` to `z + width`; `z` may be minus infinity, with `end` the
    /// finite upper point.
    pub(crate) fn log_hazard_between(self, start: f64, end: f64, width: f64) -> f64 {
        match self {
            Self::Exponential => exponential::log_hazard_between(start, end, width),
            Self::Weibull => weibull::log_hazard_between(start, end, width),
            Self::Lognormal => lognormal::log_hazard_between(start, end, width),
            Self::Loglogistic => loglogistic::log_hazard_between(start, end, width),
            Self::GeneralisedGamma(curve) => curve.log_hazard_between(start, end),
        }
    }

    /// The `z` at which the cumulative hazard reaches `hazard`.
    pub(crate) fn standard_quantile(self, hazard: f64) -> f64 {
        match self {
            Self::Exponential => exponential::standard_quantile(hazard),
            Self::Weibull => weibull::standard_quantile(hazard),
            Self::Lognormal => lognormal::standard_quantile(hazard),
            Self::Loglogistic => loglogistic::standard_quantile(hazard),
            Self::GeneralisedGamma(curve) => curve.standard_quantile(hazard),
        }
    }

    /// Shape to start a search from, given the spread (standard deviation) of the logarithms of the failures.
    pub(crate) fn starting_shape(self, log_spread: f64) -> f64 {
        match self {
            Self::Exponential => exponential::starting_shape(),
            Self::Weibull => weibull::starting_shape(log_spread),
            Self::Lognormal => lognormal::starting_shape(log_spread),
            Self::Loglogistic => loglogistic::starting_shape(log_spread),
            Self::GeneralisedGamma(curve) => curve.starting_shape(log_spread),
        }
    }

    /// Bound of the relative change of slope of the log hazard over a unit of `z`.
    pub(crate) fn roughness(self) -> f64 {
        match self {
            Self::GeneralisedGamma(curve) => curve.roughness(),
            Self::Exponential | Self::Weibull | Self::Lognormal | Self::Loglogistic => 1.0,
        }
    }
}

/// `ln(exp(w) - 1)` for `w > 0`.
pub(crate) fn ln_exp_m1(w: f64) -> f64 {
    if w > 36.0 { w } else { w.exp_m1().ln() }
}
