//! Plotting positions: the share failed that goes with a rank.

use serde::{Deserialize, Serialize};

use super::RankError;
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
    ///
    /// # Errors
    /// For a rank outside that range.
    pub fn share(self, rank: f64, lives: u64) -> Result<f64, RankError> {
        within(rank, lives)?;
        Ok(self.share_at(rank, lives))
    }

    /// The same for a rank that adjusted ranks gave, which lies in the range but for rounding.
    pub(crate) fn share_at(self, rank: f64, lives: u64) -> f64 {
        match self {
            Self::Exact => quantile_at(rank, lives, 0.5),
            Self::Benard => (rank - 0.3) / (lives as f64 + 0.4),
        }
    }

    /// Cumulative hazard that goes with that share, `-ln(1 - share)`, from the share not failed: among very many lives
    /// the last share failed rounds to 1.
    pub(crate) fn hazard_at(self, rank: f64, lives: u64) -> f64 {
        let after = (lives as f64 - rank) + 1.0;
        let left = match self {
            Self::Exact => beta_quantile(0.5, after, rank),
            Self::Benard => (after - 0.3) / (lives as f64 + 0.4),
        };
        if left < 0.5 {
            -left.ln()
        } else {
            -(-self.share_at(rank, lives)).ln_1p()
        }
    }
}

/// Share at rank `rank` of `lives`, by the median of its beta distribution (Johnson 1951).
///
/// # Errors
/// For a rank outside 1 to `lives`.
pub fn median_rank(rank: f64, lives: u64) -> Result<f64, RankError> {
    Positions::Exact.share(rank, lives)
}

/// The same at another probability: limits of the share at a rank.
///
/// # Errors
/// For a rank outside 1 to `lives`, or a probability outside (0, 1).
pub fn rank_quantile(rank: f64, lives: u64, probability: f64) -> Result<f64, RankError> {
    within(rank, lives)?;
    if !(probability > 0.0 && probability < 1.0) {
        return Err(RankError::Level { value: probability });
    }
    Ok(quantile_at(rank, lives, probability))
}

/// `(rank - 0.3) / (lives + 0.4)` (Benard and Bos-Levenbach 1953, Statistica Neerlandica 7); within 1 % of the median
/// rank from five lives on.
///
/// # Errors
/// For a rank outside 1 to `lives`.
pub fn benard(rank: f64, lives: u64) -> Result<f64, RankError> {
    Positions::Benard.share(rank, lives)
}

/// The quantile for a rank known to lie in its range.
pub(super) fn quantile_at(rank: f64, lives: u64, probability: f64) -> f64 {
    beta_quantile(probability, rank, (lives as f64 - rank) + 1.0)
}

fn within(rank: f64, lives: u64) -> Result<(), RankError> {
    if rank >= 1.0 && rank <= lives as f64 {
        Ok(())
    } else {
        Err(RankError::Rank { rank, lives })
    }
}
