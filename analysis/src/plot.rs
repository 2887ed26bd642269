//! Coordinates of a probability plot.

use serde::{Deserialize, Serialize};

use crate::families::Family;
use crate::observation::Ending;
use crate::sample::Sample;
use crate::special::beta::beta_quantile;

/// One failure on a probability plot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisPlotPoint))]
pub struct PlotPoint {
    /// Usage at failure.
    pub time: f64,
    /// Rank among all lives, adjusted for those censored before.
    pub adjusted_rank: f64,
    /// Share failed by that usage: the median rank.
    pub failed: f64,
    /// Logarithm of the usage.
    pub x: f64,
    /// The share on the family's own scale, on which a fitting family gives a straight line.
    pub y: f64,
}

/// Ranks adjusted for censoring, one per failure in order: a failure adds
/// `(n + 1 - rank before) / (1 + lives still watched)` (Johnson 1964). Failures come before censorings at ties.
///
/// Empty unless all failures are exact and all lives were watched from new, and for more than 5 000 failures.
#[must_use]
pub fn adjusted_ranks(sample: &Sample) -> Vec<(f64, f64)> {
    /// A plot of more points shows no more.
    const MOST: u64 = 5_000;
    if sample.exact_failures() != sample.failures()
        || sample.delayed_entry() > 0
        || sample.failures() > MOST
    {
        return Vec::new();
    }
    let n = sample.lives() as f64;
    let mut left = n;
    let mut rank = 0.0;
    let mut ranks = Vec::new();
    for row in sample.observations() {
        if row.ending() == Ending::Exact {
            for _ in 0..row.count {
                rank += (n + 1.0 - rank) / (1.0 + left);
                left -= 1.0;
                ranks.push((row.lower, rank));
            }
        } else {
            left -= row.count as f64;
        }
    }
    ranks
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

/// Points of a probability plot for a family; empty where [`adjusted_ranks`] is.
#[must_use]
pub fn probability_plot(sample: &Sample, family: Family) -> Vec<PlotPoint> {
    adjusted_ranks(sample)
        .into_iter()
        .map(|(time, rank)| {
            let failed = median_rank(rank, sample.lives());
            PlotPoint {
                time,
                adjusted_rank: rank,
                failed,
                x: time.ln(),
                y: family.standard_quantile(-(-failed).ln_1p()),
            }
        })
        .collect()
}
