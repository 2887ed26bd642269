//! Everything the engine says about one sample, as one document.

mod analyse;
mod choose;
mod comparison;
mod incidence;
mod model;
mod modes;
mod recurrence;
mod regression;

pub use analyse::{Options, analyse};
pub use comparison::{ComparedGroup, Comparison, GroupTest, TestName, compare};
pub use incidence::{CauseIncidenceReport, IncidencePointReport, IncidenceReport};
pub use model::quantiles;
pub use modes::{BetterModel, ModeReport, ModesComparison, ModesReport};
pub use recurrence::{
    CramerVonMisesReport, CriticalValueReport, MeanPointReport, PowerLawLimitsKind, PowerLawReport,
    RecurrenceReport, TrendReport, recurrence,
};
pub use regression::{
    AcceleratedLifeReport, ChiSquareReport, CoefficientReport, ProportionalHazardsReport,
    RegressionReport, TiesRule, regress,
};

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::families::Family;
use crate::goodness::Goodness;
use crate::intervals::Method;
use crate::nonparametric::LimitKind;
use crate::warning::Warning;

/// Everything the engine says about one sample. What cannot be computed is null, with a warning.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisReport))]
pub struct Report {
    /// Counts of the lives behind the report.
    pub sample: SampleSummary,
    /// Survival without a family.
    pub survival_curve: CurveReport,
    /// Cumulative hazard without a family; empty where failures are not known exactly.
    pub cumulative_hazard: Vec<HazardPoint>,
    /// One entry per family, fitted or not.
    pub models: Vec<ModelReport>,
    /// The model to read first; null if none could be fitted.
    pub chosen: Option<Chosen>,
    /// Causes among the failures, in order of name.
    pub causes: Vec<CauseCount>,
    /// Share failed of each cause; absent unless asked for, with at least two causes and failures known exactly.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub incidence: Option<IncidenceReport>,
    /// Causes fitted apart; absent unless asked for, with at least two causes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub modes: Option<ModesReport>,
    /// Cautions about the sample and its curves.
    pub warnings: Vec<Warning>,
}

impl Report {
    /// The entry of one family.
    #[must_use]
    pub fn model(&self, family: Family) -> Option<&ModelReport> {
        self.models.iter().find(|model| model.family == family)
    }
}

/// Counts of the lives behind a report.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisSample))]
pub struct SampleSummary {
    /// All lives, without those dead on arrival.
    pub lives: u64,
    /// Lives seen to fail, without those dead on arrival.
    pub failures: u64,
    /// Lives not seen to fail.
    pub right_censored: u64,
    /// Failures known only to lie before a usage.
    pub left_censored: u64,
    /// Failures known only to lie between two usages.
    pub interval_censored: u64,
    /// Lives watched only from some usage above zero on.
    pub delayed_entry: u64,
    /// Failures at usage zero; they enter no curve and no model.
    pub dead_on_arrival: u64,
    /// Usage watched and known to be unfailed, over all lives.
    pub total_usage: f64,
    /// Largest usage seen.
    pub longest_usage: f64,
    /// SHA-256 of the lives, whatever their order.
    pub digest: String,
}

/// Survival without a family.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisCurve))]
pub struct CurveReport {
    /// Which estimator made the curve.
    pub estimator: Estimator,
    /// How the limits were made; the interval estimate has none.
    pub limits: CurveLimits,
    /// Steps of the curve, in order of usage. Survival is 1 before the first.
    pub points: Vec<CurvePointReport>,
    /// Usage by which half have failed.
    pub median: Estimate,
}

/// Estimate of a survival curve: `kaplan-meier`, the product-limit estimate, where failures are known exactly;
/// `turnbull`, the interval estimate, elsewhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisEstimator))]
pub enum Estimator {
    /// The product-limit estimate (Kaplan and Meier), for failures known exactly.
    KaplanMeier,
    /// The interval estimate (Turnbull): maximum likelihood from intervals.
    Turnbull,
}

/// How the limits of a curve were made.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisCurveLimits))]
pub struct CurveLimits {
    /// Scale on which the curve is taken as normal.
    pub kind: LimitKind,
    /// Two-sided confidence level.
    pub level: f64,
}

/// One step of a survival curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisCurvePoint))]
pub struct CurvePointReport {
    /// Usage; for the interval estimate the end of the interval in which the step lies.
    pub time: f64,
    /// Lives at risk; null for the interval estimate.
    pub at_risk: Option<u64>,
    /// Failures here; null for the interval estimate.
    pub failed: Option<u64>,
    /// Lives no longer watched from here on; null for the interval estimate.
    pub censored: Option<u64>,
    /// Survival just after.
    pub survival: f64,
    /// Standard error; null where undefined.
    pub std_error: Option<f64>,
    /// Lower limit; null where undefined.
    pub lower: Option<f64>,
    /// Upper limit; null where undefined.
    pub upper: Option<f64>,
}

/// A value with limits, each null where it does not exist.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisEstimate))]
pub struct Estimate {
    /// Best value.
    pub value: Option<f64>,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

/// One step of the cumulative hazard.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisHazardPoint))]
pub struct HazardPoint {
    /// Usage.
    pub time: f64,
    /// Cumulative hazard.
    pub value: f64,
    /// Standard error.
    pub std_error: f64,
}

/// One family on this sample. All members but the family are null or empty if it could not be fitted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisModel))]
pub struct ModelReport {
    /// The family.
    pub family: Family,
    /// Parameters by name; each says how its limits were made.
    pub parameters: Option<BTreeMap<String, ParameterReport>>,
    /// Names of the rows and columns of the covariance.
    pub parameter_order: Vec<String>,
    /// Log-likelihood at the maximum, by the density of usage.
    pub log_likelihood: Option<f64>,
    /// Akaike's criterion.
    pub aic: Option<f64>,
    /// Akaike's criterion corrected for small samples.
    pub aicc: Option<f64>,
    /// Schwarz's criterion.
    pub bic: Option<f64>,
    /// Inverse observed information of the parameters.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Usages by which stated shares have failed.
    pub quantiles: Vec<QuantileReport>,
    /// Measures of fit and plot coordinates.
    pub goodness: Option<Goodness>,
    /// Mean life; null where infinite.
    pub mean_life: Option<f64>,
    /// Cautions about this model.
    pub warnings: Vec<Warning>,
}

/// One parameter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisParameter))]
pub struct ParameterReport {
    /// Best value.
    pub value: f64,
    /// Standard error; null without covariance.
    pub std_error: Option<f64>,
    /// Lower limit; null where unbounded or not asked for.
    pub lower: Option<f64>,
    /// Upper limit; null where unbounded or not asked for.
    pub upper: Option<f64>,
    /// How the limits were made.
    pub kind: LimitsKind,
}

/// The usage by which a stated share has failed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisQuantile))]
pub struct QuantileReport {
    /// Share failed.
    pub p: f64,
    /// Usage; null where it leaves the range of numbers.
    pub value: Option<f64>,
    /// Lower limit; null where unbounded or not asked for.
    pub lower: Option<f64>,
    /// Upper limit; null where unbounded or not asked for.
    pub upper: Option<f64>,
    /// How the limits were made.
    pub kind: LimitsKind,
    /// Confidence level of the limits.
    pub level: f64,
}

/// How limits of parameters and quantiles are made: `modified-root`, by the signed root of the likelihood ratio,
/// modified for few failures; `likelihood-ratio`, by the likelihood ratio referred to a chi-square; `delta`, by a normal
/// estimate with the error of the delta method; `bootstrap`, by the signed root referred to samples drawn from the fit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisLimitsKind))]
pub enum LimitsKind {
    /// By the signed root of the likelihood ratio, modified for few failures.
    #[default]
    ModifiedRoot,
    /// By the likelihood ratio, referred to a chi-square.
    LikelihoodRatio,
    /// By a normal estimate with the error of the delta method.
    Delta,
    /// By the signed root of the likelihood ratio, referred to samples drawn from the fit.
    Bootstrap,
}

impl LimitsKind {
    /// Every kind.
    pub const EVERY: [Self; 4] = [
        Self::ModifiedRoot,
        Self::LikelihoodRatio,
        Self::Delta,
        Self::Bootstrap,
    ];

    /// The code used in JSON.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::ModifiedRoot => "modified-root",
            Self::LikelihoodRatio => "likelihood-ratio",
            Self::Delta => "delta",
            Self::Bootstrap => "bootstrap",
        }
    }

    /// Its name in words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::ModifiedRoot => "modified root",
            Self::LikelihoodRatio => "likelihood ratio",
            Self::Delta => "delta method",
            Self::Bootstrap => "bootstrap",
        }
    }
}

impl From<Method> for LimitsKind {
    fn from(method: Method) -> Self {
        match method {
            Method::ModifiedRoot => Self::ModifiedRoot,
            Method::LikelihoodRatio => Self::LikelihoodRatio,
            Method::Delta => Self::Delta,
            Method::Bootstrap(_) => Self::Bootstrap,
        }
    }
}

/// The model to read first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisChoice))]
pub struct Chosen {
    /// Its family.
    pub family: Family,
    /// Why, in plain words.
    pub why: String,
}

/// Failures of one cause.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisCause))]
pub struct CauseCount {
    /// The cause; null for failures without one.
    pub cause: Option<String>,
    /// How many lives failed of it.
    pub failures: u64,
}
