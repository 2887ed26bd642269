//! How limits are made.

use serde::{Deserialize, Serialize};

/// How limits are made. The default is the one that the coverage study in `docs/coverage.md` chose.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisLimitMethod))]
pub enum Method {
    /// The signed root of the likelihood ratio, corrected for few failures.
    #[default]
    ModifiedRoot,
    /// The likelihood ratio, referred to a chi-square.
    LikelihoodRatio,
    /// A normal estimate with the error of the delta method, on a logarithmic scale.
    Delta,
    /// The signed root of the likelihood ratio, referred to samples drawn from the fit.
    Bootstrap(Resampling),
}

/// How samples are drawn for the bootstrap. The same numbers give the same limits to the last bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisResampling))]
pub struct Resampling {
    /// Seed of the random numbers.
    pub seed: u64,
    /// Samples drawn.
    pub resamples: u32,
}
