//! Limits of the share failed at each failure.

use super::position::quantile_at;
use super::{Positions, RankError, adjusted_ranks};
use crate::sample::Sample;

/// Share failed at one failure, with its limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RankBounds {
    /// Usage at failure.
    pub time: f64,
    /// Adjusted rank.
    pub rank: f64,
    /// Median rank.
    pub share: f64,
    /// Lower limit of the share.
    pub lower: f64,
    /// Upper limit of the share.
    pub upper: f64,
}

/// The most failures given limits one by one.
const MOST: u64 = 100_000;

/// Beta-binomial bounds, one per failure: quantiles of the beta distribution at the adjusted rank, which need not be a
/// whole number. `level` is two-sided, so 0.9 gives the 5 % and 95 % ranks.
///
/// # Errors
/// As [`adjusted_ranks`]; for a level outside (0, 1); for too many failures.
pub fn beta_binomial_bounds(sample: &Sample, level: f64) -> Result<Vec<RankBounds>, RankError> {
    if !(level > 0.0 && level < 1.0) {
        return Err(RankError::Level { value: level });
    }
    let ranked = adjusted_ranks(sample)?;
    let (lives, failures) = (sample.lives(), sample.failures());
    if failures > MOST {
        return Err(RankError::TooManyFailures {
            failures,
            most: MOST,
        });
    }
    let tail = 0.5 * (1.0 - level);
    Ok(ranked
        .iter()
        .flat_map(|group| group.ranks().map(|rank| (group.time, rank)))
        .map(|(time, rank)| RankBounds {
            time,
            rank,
            share: Positions::Exact.share_at(rank, lives),
            lower: quantile_at(rank, lives, tail),
            upper: quantile_at(rank, lives, 1.0 - tail),
        })
        .collect())
}
