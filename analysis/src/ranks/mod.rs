//! Ranks of failures, and lines through them on probability paper.
//!
//! For plots and for comparison with paper practice; maximum likelihood is the default for estimates.

mod adjusted;
mod bounds;
mod paper;
mod position;
mod regression;

pub use adjusted::{RankedFailures, adjusted_ranks};
pub use bounds::{RankBounds, beta_binomial_bounds};
pub use paper::paper;
pub(crate) use paper::{Line, line_of, place};
pub use position::{Positions, benard, median_rank, rank_quantile};
pub(crate) use regression::correlation;
pub use regression::{Direction, RankFit, rank_regression};

use crate::families::Family;

/// Why there are no ranks, or no line through them.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RankError {
    /// Nobody failed.
    #[error("nobody was seen to fail, so there are no ranks")]
    NoFailures,
    /// Ranks need usages at failure known exactly.
    #[error(
        "{lives} failures are left- or interval-censored; ranks need exact usages, so fit by maximum likelihood instead"
    )]
    InexactFailures {
        /// How many failures are not exact.
        lives: u64,
    },
    /// Ranks are not defined for lives that entered late.
    #[error(
        "{lives} lives entered late, for which ranks are not defined; fit by maximum likelihood instead"
    )]
    LateEntries {
        /// How many lives entered late.
        lives: u64,
    },
    /// More failures than ranks are taken of one by one.
    #[error("{failures} failures are more than the {most} that are ranked one by one")]
    TooManyFailures {
        /// Failures in the sample.
        failures: u64,
        /// The most that are taken.
        most: u64,
    },
    /// A line needs two different usages.
    #[error("all failures happened at one usage; a line needs at least two")]
    OneUsage,
    /// A rank that no life of so many has.
    #[error("the rank must lie between 1 and the {lives} lives but is {rank}")]
    Rank {
        /// The rank asked for.
        rank: f64,
        /// How many lives there are.
        lives: u64,
    },
    /// A usage that is not positive and finite, or a share failed outside (0, 1).
    #[error("a usage of {time} with a share of {share} failed has no place on the paper")]
    OffPaper {
        /// The usage.
        time: f64,
        /// The share failed.
        share: f64,
    },
    /// A confidence level or probability outside (0, 1).
    #[error("the confidence level must lie between 0 and 1 but is {value}")]
    Level {
        /// The level asked for.
        value: f64,
    },
    /// No fixed scale makes the family a straight line.
    #[error(
        "the {} model has a free form, so no paper makes it a straight line; fit it by maximum likelihood instead",
        family.code()
    )]
    NoPaper {
        /// The family asked for.
        family: Family,
    },
    /// Numbers left the range of floating point.
    #[error("the {} line leaves the range of numbers on these data", family.code())]
    OutOfRange {
        /// The family asked for.
        family: Family,
    },
}
