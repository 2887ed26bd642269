//! Events that recur on items which are repaired and go on.

mod chi_square;
mod cramer_von_mises;
mod history;
mod mean_cumulative_difference;
mod mean_cumulative_function;
mod power_law;
mod power_law_exact;
mod power_law_likelihood;
mod power_law_limits;
mod shape_windows;
mod trend_tests;

pub use cramer_von_mises::{
    CramerVonMises, CriticalValue, cramer_von_mises, cramer_von_mises_by_ratio,
};
pub use history::{Histories, HistoryError, HistoryFault, System, Truncation};
pub use mean_cumulative_difference::{
    DifferencePoint, MeanCumulativeDifference, mean_cumulative_difference,
};
pub use mean_cumulative_function::{
    MeanCumulativeFunction, MeanCumulativePoint, MeanLimitKind, MeanLimits, MeanVariance,
    mean_cumulative_function,
};
pub use power_law::{PowerLawFit, power_law};
pub use power_law_limits::{PowerLawLimitMethod, PowerLawLimits};
pub use trend_tests::{TrendTest, laplace, mil_hdbk_189};

/// Why a statement about recurring events is not returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RecurrentError {
    /// No system was given.
    #[error("there are no systems")]
    NoSystems,
    /// No system had an event.
    #[error("no system had an event, so there is nothing to estimate; watch longer")]
    NoEvents,
    /// Watching stopped at the last event of each system, and nothing is left once those are set aside.
    #[error(
        "watching stopped at the only event of each system, so the events say nothing about a trend; watch for at least one more event"
    )]
    OnlyTruncatingEvents,
    /// Fewer events than the statement needs.
    #[error(
        "this needs at least {needed} events that did not end the watching but there are {events}"
    )]
    TooFewEvents {
        /// Events that count.
        events: u64,
        /// How many are needed.
        needed: u64,
    },
    /// Every event falls on the longest age watched.
    #[error(
        "every event falls on the longest age watched, so the likelihood grows without end with the shape; watch beyond the last event"
    )]
    AllAtTheEnd,
    /// All systems joined late, and their events thin out faster than the model can follow.
    #[error(
        "all systems joined late and their events thin out faster than a power law with a shape above 0 allows; add systems watched from new"
    )]
    ThinsOutTooFast,
    /// The systems were not all watched from new to one common end.
    #[error("this needs systems watched from new to one common age; {reason}")]
    NoCommonEnd {
        /// What differs.
        reason: &'static str,
    },
    /// An age that is not finite and above zero.
    #[error("the age must be finite and above 0 but is {value}")]
    Age {
        /// The age given.
        value: f64,
    },
    /// A confidence level outside (0, 1).
    #[error("the confidence level must lie between 0 and 1 but is {value}")]
    Level {
        /// The level asked for.
        value: f64,
    },
    /// The two groups are never watched at the same ages.
    #[error("the groups have no age at which both have been followed from the start")]
    NothingToCompare,
    /// Exact limits do not exist for these systems.
    #[error("exact limits do not exist here: {reason}; use the likelihood ratio")]
    NoExactLimits {
        /// What stands in the way.
        reason: &'static str,
    },
    /// A number left the range of floating point.
    #[error("the answer leaves the range of numbers on these data")]
    OutOfRange,
    /// The search stopped before its criterion was met.
    #[error("the search stopped before it met its criterion")]
    NotConverged,
}
