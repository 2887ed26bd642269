//! Estimates that assume no family.

mod aalen_johansen;
mod band;
mod causes;
mod conditional;
mod gray;
mod innermost;
mod isotonic;
mod kaplan_meier;
mod log_rank;
mod nelson_aalen;
mod newton;
mod point_limits;
mod quadratic;
mod risk;
mod survival_curve;
mod turnbull;
mod watch;
mod weights;

pub use aalen_johansen::{CauseIncidence, Incidence, IncidencePoint, aalen_johansen};
pub use band::{BandPoint, SimultaneousBand};
pub use conditional::{ConditionalCurve, conditional_survival};
pub use gray::{GrayTest, gray_test, gray_test_stratified};
pub use kaplan_meier::kaplan_meier;
pub use log_rank::{
    LogRank, LogRankGroup, LogRankRow, log_rank, log_rank_stratified, weighted_log_rank,
};
pub use nelson_aalen::{HazardStep, nelson_aalen};
pub use survival_curve::{CurvePoint, QuantileEstimate, RestrictedMean, SurvivalCurve};
pub use turnbull::{SupportInterval, TurnbullCurve, turnbull};
pub use watch::numbers_at_risk;
pub use weights::Weights;

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
    /// Strata that list different numbers of groups.
    #[error("every stratum must list the same groups, empty ones included")]
    UnevenStrata,
    /// Nobody failed, or nobody failed with any weight while another group was at risk.
    #[error(
        "no failure of any weight happened while two groups were at risk, so they cannot be compared"
    )]
    NothingToCompare,
    /// A power of the weights that is negative or not finite.
    #[error("a power of the weights must be finite and at least 0 but is {value}")]
    WeightPower {
        /// The power asked for.
        value: f64,
    },
    /// A usage that is negative or not finite.
    #[error("a usage must be finite and at least 0 but is {value}")]
    Usage {
        /// The usage asked for.
        value: f64,
    },
    /// A level for which no band is known.
    #[error("a simultaneous band needs a level of at least 0.8 and below 1, not {value}")]
    BandLevel {
        /// The level asked for.
        value: f64,
    },
    /// A stretch in which the curve does not move.
    #[error("between usages {from} and {to} the curve has no point with survival between 0 and 1")]
    NothingInStretch {
        /// First usage asked for.
        from: f64,
        /// Last usage asked for.
        to: f64,
    },
    /// Nobody was watched beyond a usage.
    #[error("nobody was watched beyond usage {beyond}; ask for an earlier one")]
    NobodyWatched {
        /// The usage asked for.
        beyond: f64,
    },
    /// The method is not derived for lives that entered late.
    #[error(
        "{lives} lives entered late, for which this comparison is not derived; compare the hazard of the cause by a log-rank test instead, with the other causes as censoring"
    )]
    LateEntries {
        /// How many lives entered late.
        lives: u64,
    },
    /// The search stopped before its criterion was met.
    #[error("the search stopped before it met its criterion")]
    NotConverged,
}
