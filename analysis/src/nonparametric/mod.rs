//! Estimates that assume no family.

mod innermost;
mod isotonic;
mod kaplan_meier;
mod log_rank;
mod nelson_aalen;
mod newton;
mod risk;
mod turnbull;

pub use kaplan_meier::{CurvePoint, QuantileEstimate, RestrictedMean, SurvivalCurve, kaplan_meier};
pub use log_rank::{LogRank, LogRankGroup, LogRankRow, log_rank, log_rank_stratified};
pub use nelson_aalen::{HazardStep, nelson_aalen};
pub use turnbull::{SupportInterval, TurnbullCurve, turnbull};

use serde::{Deserialize, Serialize};

/// How pointwise limits of a survival curve are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Scale on which the curve is taken as normal.
    pub kind: LimitKind,
    /// Two-sided confidence level in (0, 1).
    pub level: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            kind: LimitKind::LogLog,
            level: 0.95,
        }
    }
}

/// Scale on which a survival curve is taken as normal (Klein and Moeschberger 2003, section 4.3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisLimitKind))]
pub enum LimitKind {
    /// Logarithm of the cumulative hazard; limits stay inside 0 to 1. The default.
    LogLog,
    /// Logarithm of survival.
    Log,
    /// Survival itself, clipped to 0 to 1.
    Plain,
}

/// Why an estimate that assumes no family is not returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum EstimateError {
    /// The sample is empty.
    #[error("there are no lives")]
    NoLives,
    /// The estimator needs usages at failure known exactly.
    #[error("{lives} failures are left- or interval-censored; this estimator needs exact usages")]
    InexactFailures {
        /// How many failures are not exact.
        lives: u64,
    },
    /// A confidence level outside (0, 1).
    #[error("the confidence level must lie between 0 and 1 but is {value}")]
    Level {
        /// The level asked for.
        value: f64,
    },
    /// Fewer than two groups were given.
    #[error("a comparison needs at least two groups with lives but got {groups}")]
    Groups {
        /// How many were given.
        groups: usize,
    },
    /// Nobody failed, or nobody failed while another group was at risk.
    #[error("no failure happened while two groups were at risk, so they cannot be compared")]
    NothingToCompare,
    /// Delayed entry leaves parts of the curve without a best value.
    #[error("with these delayed entries the curve has no single best value: {reason}")]
    DelayedEntry {
        /// What in the data causes it.
        reason: &'static str,
    },
    /// The search stopped before its criterion was met.
    #[error("the search stopped before it met its criterion")]
    NotConverged,
}
