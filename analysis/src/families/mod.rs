//! Families of life distributions, each as its standard curves.
//!
//! Every family here is log-location-scale: with `z = shape * (ln t - location)` the cumulative hazard is one fixed
//! curve in `z` (Meeker and Escobar 1998, chapter 4). One likelihood then serves them all.

use serde::{Deserialize, Serialize};

mod exponential;
mod loglogistic;
mod lognormal;
mod weibull;

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
}

/// A function of `z` with its first two derivatives.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Jet {
    pub value: f64,
    pub slope: f64,
    pub curvature: f64,
}

impl Family {
    /// Every family, in the order in which reports list them.
    pub const ALL: [Self; 4] = [
        Self::Weibull,
        Self::Exponential,
        Self::Lognormal,
        Self::Loglogistic,
    ];

    /// The code used in JSON.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Exponential => "exponential",
            Self::Weibull => "weibull",
            Self::Lognormal => "lognormal",
            Self::Loglogistic => "loglogistic",
        }
    }

    /// Number of free parameters.
    #[must_use]
    pub fn parameters(self) -> u32 {
        match self {
            Self::Exponential => 1,
            _ => 2,
        }
    }

    /// Names of the parameters in the order of the covariance.
    #[must_use]
    pub fn parameter_names(self) -> &'static [&'static str] {
        match self {
            Self::Exponential => &["mean"],
            Self::Weibull | Self::Loglogistic => &["scale", "shape"],
            Self::Lognormal => &["mu", "sigma"],
        }
    }

    /// Logarithm of the hazard per unit of `z`.
    pub(crate) fn log_hazard(self, z: f64) -> Jet {
        match self {
            Self::Exponential => exponential::log_hazard(z),
            Self::Weibull => weibull::log_hazard(z),
            Self::Lognormal => lognormal::log_hazard(z),
            Self::Loglogistic => loglogistic::log_hazard(z),
        }
    }

    /// Cumulative hazard at `z`; 0 at minus infinity.
    pub(crate) fn cumulative_hazard(self, z: f64) -> f64 {
        match self {
            Self::Exponential => exponential::cumulative_hazard(z),
            Self::Weibull => weibull::cumulative_hazard(z),
            Self::Lognormal => lognormal::cumulative_hazard(z),
            Self::Loglogistic => loglogistic::cumulative_hazard(z),
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
        }
    }

    /// The `z` at which the cumulative hazard reaches `hazard`.
    pub(crate) fn standard_quantile(self, hazard: f64) -> f64 {
        match self {
            Self::Exponential => exponential::standard_quantile(hazard),
            Self::Weibull => weibull::standard_quantile(hazard),
            Self::Lognormal => lognormal::standard_quantile(hazard),
            Self::Loglogistic => loglogistic::standard_quantile(hazard),
        }
    }

    /// Shape to start a search from, given the spread (standard deviation) of the logarithms of the failures.
    pub(crate) fn starting_shape(self, log_spread: f64) -> f64 {
        match self {
            Self::Exponential => exponential::starting_shape(),
            Self::Weibull => weibull::starting_shape(log_spread),
            Self::Lognormal => lognormal::starting_shape(log_spread),
            Self::Loglogistic => loglogistic::starting_shape(log_spread),
        }
    }
}

/// `ln(exp(w) - 1)` for `w > 0`.
pub(crate) fn ln_exp_m1(w: f64) -> f64 {
    if w > 36.0 { w } else { w.exp_m1().ln() }
}
