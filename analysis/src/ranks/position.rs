//! Plotting positions: the share failed that goes with a rank.

use serde::{Deserialize, Serialize};

use crate::special::beta::beta_quantile;

/// How a rank becomes a share failed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Positions {
    /// Median of the beta distribution of the rank. The default.
    #[default]
    Exact,
    /// Benard's approximation.
    Benard,
}

impl Positions {
    /// Share failed at rank `rank`, between 1 and `lives`.
    #[must_use]
    pub fn share(self, rank: f64, lives: u64) -> f64 {
        match self {
            Self::Exact => median_rank(rank, lives),
            Self::Benard => benard(rank, lives),
        }
    }
}

/// Share at rank `rank` of `lives`, by the median of its beta distribution (Johnson 1951).
#[must_use]
pub fn median_rank(rank: f64, lives: u64) -> f64 {
    rank_quantile(rank, lives, 0.5)
}

/// The same at another probability: limits of the share at a rank.
#[must_use]
pub fn rank_quantile(rank: f64, lives: u64, probability: f64) -> f64 {
    beta_quantile(probability, rank, lives as f64 + 1.0 - rank)
}

/// `(rank - 0.3) / (lives + 0.4)` (Benard and Bos-Levenbach 1953, Statistica Neerlandica 7); within 1 % of the median
/// rank from five lives on.
#[must_use]
pub fn benard(rank: f64, lives: u64) -> f64 {
    (rank - 0.3) / (lives as f64 + 0.4)
}
