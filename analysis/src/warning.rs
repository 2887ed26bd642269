//! Cautions that travel with a result.

use serde::{Deserialize, Serialize};

/// A caution in plain words, with a code for machines.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisWarning))]
pub struct Warning {
    /// Stable code; new codes may be added.
    pub code: WarningCode,
    /// One or two plain English sentences.
    pub message: String,
}

impl Warning {
    /// Pairs a code with its sentence.
    pub fn new(code: WarningCode, message: impl Into<String>) -> Self {
        Self {
            code,
            message: message.into(),
        }
    }
}

/// What a caution is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisWarningCode))]
pub enum WarningCode {
    /// Nobody in the sample was seen to fail.
    NoFailures,
    /// The sample holds no lives at all.
    NoLives,
    /// No finite best value exists for this model on these data.
    NoFiniteMaximum,
    /// The parameters of this model cannot be told apart on these data.
    NotIdentifiable,
    /// The estimate is the top of a hill beside an unbounded likelihood.
    LocalMaximum,
    /// Exact usages were taken as known to the precision of recording only.
    RecordingPrecision,
    /// A parameter stands at the end of its range, so it has no standard error.
    ParameterAtBound,
    /// The search for the best value stopped short.
    NotConverged,
    /// The covariance could not be computed or is not positive definite.
    NoCovariance,
    /// One side of the limits is unbounded on these data.
    UnboundedLimit,
    /// A limit could not be computed.
    LimitFailed,
    /// Samples drawn from the fit had no estimate and were left out.
    ResamplesLost,
    /// Fewer failures than the choice between models needs.
    TooFewFailures,
    /// A value lies beyond the longest observed usage.
    Extrapolation,
    /// Under delayed entry the risk set empties early, so the curve rests on few lives.
    EarlyEmptyRiskSet,
    /// The curve reached zero while later lives were still to enter.
    CurveStopsEarly,
    /// Failures at usage zero are reported apart and left out of the models.
    DeadOnArrival,
    /// The sample mixes interval or left censoring, so another estimator was used.
    IntervalEstimator,
    /// Lives that entered late are left out of the interval estimate. Given no more; reports kept from before carry it.
    LateEntriesLeftOut,
    /// An estimator could not be computed on these data.
    EstimatorFailed,
    /// Failures of several causes are fitted together.
    MixedCauses,
}
