//! Why groups could not be pooled.

use crate::families::Family;
use crate::fitting::FitError;
use crate::intervals::LimitsError;

/// Why no pooled estimates are returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PoolingError {
    /// The method does not serve the family.
    #[error(
        "pooling serves exponential, Weibull, lognormal and loglogistic lives, not the {} family",
        family.code()
    )]
    Family {
        /// The family asked for.
        family: Family,
    },
    /// Too few groups to see how groups differ.
    #[error(
        "{groups} groups with failures cannot show how groups differ; at least {least} are needed"
    )]
    TooFewGroups {
        /// Groups that count.
        groups: usize,
        /// Groups needed.
        least: usize,
    },
    /// Two groups have the same name.
    #[error("the group {name} stands twice")]
    Twice {
        /// The name.
        name: String,
    },
    /// The lives of all groups taken as one have no estimate.
    #[error("all groups taken as one: {0}")]
    Common(#[from] FitError),
    /// An estimate or its variance cannot be used.
    #[error("group {place}: the estimate must be finite and its variance finite and above 0")]
    Effect {
        /// Position of the group as given, from 0.
        place: usize,
    },
    /// The declared spread between groups cannot be used.
    #[error("the variance between groups must be finite and at least 0 but is {value}")]
    Between {
        /// The value declared.
        value: f64,
    },
    /// This rule needs equal variances.
    #[error("the rule of Efron and Morris needs groups of equal variance; use another")]
    UnequalVariances,
    /// A share asked for is outside (0, 1), or the like.
    #[error(transparent)]
    Limits(#[from] LimitsError),
    /// The search ended without meeting its criterion.
    #[error("the search for the spread between groups stopped before it met its criterion")]
    NotConverged,
}
