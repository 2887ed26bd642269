//! Coordinates of a probability plot.

use serde::{Deserialize, Serialize};

use crate::families::Family;
use crate::ranks::{Positions, RankedFailures, adjusted_ranks};
use crate::sample::Sample;

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

/// The most points of a plot; more show no more.
pub const MOST_POINTS: u64 = 5_000;

/// Points of a probability plot for a family over the logarithm of usage; the exponential there has slope 1. Of more
/// failures than [`MOST_POINTS`] an even choice of that many is shown, first and last included.
///
/// Empty where [`adjusted_ranks`] is an error.
#[must_use]
pub fn probability_plot(sample: &Sample, family: Family) -> Vec<PlotPoint> {
    let ranked = adjusted_ranks(sample).unwrap_or_default();
    chosen(&ranked, sample.failures())
        .into_iter()
        .map(|(time, rank)| PlotPoint {
            time,
            adjusted_rank: rank,
            failed: Positions::Exact.share_at(rank, sample.lives()),
            x: time.ln(),
            y: family.standard_quantile(Positions::Exact.hazard_at(rank, sample.lives())),
        })
        .collect()
}

/// Usage and rank of every failure, or of an even choice of them.
fn chosen(ranked: &[RankedFailures], failures: u64) -> Vec<(f64, f64)> {
    if failures <= MOST_POINTS {
        let all = ranked
            .iter()
            .flat_map(|group| group.ranks().map(|rank| (group.time, rank)));
        return all.collect();
    }
    let mut groups = ranked.iter();
    let mut group = groups.next();
    let mut before = 0;
    let last = u128::from(MOST_POINTS - 1);
    (0..=last)
        .filter_map(|place| {
            let wanted = u64::try_from(place * u128::from(failures - 1) / last).ok()?;
            while let Some(passed) = group.filter(|group| before + group.count <= wanted) {
                before += passed.count;
                group = groups.next();
            }
            let group = group?;
            Some((
                group.time,
                group.first + group.step * (wanted - before) as f64,
            ))
        })
        .collect()
}
