//! Weighted log-rank comparison of groups (Mantel 1966; Klein and Moeschberger 2003, sections 7.3 and 7.5).

use super::EstimateError;
use super::quadratic::quadratic;
use super::risk::moments;
use super::watch::Watch;
use super::weights::{Weigher, Weights};
use crate::sample::Sample;
use crate::special::gamma::chi_square_upper;
use crate::summation::Sum;

/// Result of a weighted log-rank test.
#[derive(Clone, Debug, PartialEq)]
pub struct LogRank {
    /// Weights used.
    pub weights: Weights,
    /// Weighted observed and expected failures, in the order of the groups given.
    pub groups: Vec<LogRankGroup>,
    /// Covariance of observed minus expected, hypergeometric.
    pub covariance: Vec<Vec<f64>>,
    /// Test statistic.
    pub chi_square: f64,
    /// Degrees of freedom: groups that could be compared, less one.
    pub freedom: u32,
    /// Chance of a statistic at least as large if the groups are alike.
    pub p_value: f64,
    /// What the sums are made of, one row per usage at which something failed and per stratum.
    pub rows: Vec<LogRankRow>,
}

/// One group's totals.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LogRankGroup {
    /// Failures seen, each times its weight.
    pub observed: f64,
    /// Failures expected if the groups were alike, each times its weight.
    pub expected: f64,
}

/// One usage at which something failed.
#[derive(Clone, Debug, PartialEq)]
pub struct LogRankRow {
    /// Usage.
    pub time: f64,
    /// Weight of this usage.
    pub weight: f64,
    /// Lives at risk in each group.
    pub at_risk: Vec<u64>,
    /// Failures in each group.
    pub observed: Vec<u64>,
    /// Failures expected in each group.
    pub expected: Vec<f64>,
}

/// Compares the survival of two or more groups by the log-rank test.
///
/// # Errors
/// As [`weighted_log_rank`].
pub fn log_rank(groups: &[&Sample]) -> Result<LogRank, EstimateError> {
    weighted_log_rank(&[groups.to_vec()], Weights::LogRank)
}

/// Compares groups within strata by the log-rank test.
///
/// # Errors
/// As [`weighted_log_rank`].
pub fn log_rank_stratified(strata: &[Vec<&Sample>]) -> Result<LogRank, EstimateError> {
    weighted_log_rank(strata, Weights::LogRank)
}

/// Compares groups within strata; every stratum lists the same groups in the same order, empty ones included. Lives
/// may enter late. A group that was never at risk together with another takes no part.
///
/// # Errors
/// For fewer than two groups, strata with different numbers of groups, failures not known exactly, a power of the
/// weights that is negative or not finite, or no failure of any weight while two groups were at risk.
pub fn weighted_log_rank(
    strata: &[Vec<&Sample>],
    weights: Weights,
) -> Result<LogRank, EstimateError> {
    let size = groups_in(strata)?;
    weights.check()?;
    let mut rows = Vec::new();
    let mut totals = Totals::new(size);
    for groups in strata {
        let own = stratum_rows(groups, weights)?;
        own.iter().for_each(|row| totals.add(row));
        rows.extend(own);
    }
    let groups = totals.groups();
    let covariance = totals.covariance();
    let gaps: Vec<f64> = groups
        .iter()
        .map(|group| group.observed - group.expected)
        .collect();
    let (chi_square, freedom) = quadratic(&covariance, &gaps);
    if freedom == 0 {
        return Err(EstimateError::NothingToCompare);
    }
    Ok(LogRank {
        weights,
        groups,
        covariance,
        chi_square,
        freedom,
        p_value: chi_square_upper(chi_square, f64::from(freedom)),
        rows,
    })
}

/// How many groups every stratum lists.
pub(super) fn groups_in(strata: &[Vec<&Sample>]) -> Result<usize, EstimateError> {
    let size = strata.iter().map(Vec::len).min().unwrap_or(0);
    if size < 2 {
        return Err(EstimateError::Groups { groups: size });
    }
    if strata.iter().any(|groups| groups.len() != size) {
        return Err(EstimateError::UnevenStrata);
    }
    Ok(size)
}

fn stratum_rows(groups: &[&Sample], weights: Weights) -> Result<Vec<LogRankRow>, EstimateError> {
    let mut failures: Vec<(f64, usize, u64)> = Vec::new();
    for (group, sample) in groups.iter().enumerate() {
        let found = match moments(sample) {
            Err(EstimateError::NoLives) => Vec::new(),
            found => found?,
        };
        let failing = found.iter().filter(|moment| moment.failed > 0);
        failures.extend(failing.map(|moment| (moment.time, group, moment.failed)));
    }
    failures.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut watches: Vec<Watch> = groups.iter().map(|sample| Watch::new(sample)).collect();
    let mut weigher = Weigher::new(weights);
    Ok(failures
        .chunk_by(|a, b| a.0 >= b.0)
        .filter_map(|tied| {
            let time = tied.first()?.0;
            let mut observed = vec![0; groups.len()];
            for (_, group, failed) in tied {
                if let Some(cell) = observed.get_mut(*group) {
                    *cell += failed;
                }
            }
            let at_risk: Vec<u64> = watches.iter_mut().map(|watch| watch.at(time)).collect();
            let (n, d) = (total(&at_risk), total(&observed));
            Some(LogRankRow {
                time,
                weight: weigher.next(n, d),
                expected: at_risk.iter().map(|own| d * *own as f64 / n).collect(),
                at_risk,
                observed,
            })
        })
        .collect())
}

fn total(counts: &[u64]) -> f64 {
    counts.iter().sum::<u64>() as f64
}

/// Sums over all usages.
struct Totals {
    observed: Vec<Sum>,
    expected: Vec<Sum>,
    covariance: Vec<Vec<Sum>>,
}

impl Totals {
    fn new(size: usize) -> Self {
        Self {
            observed: vec![Sum::default(); size],
            expected: vec![Sum::default(); size],
            covariance: vec![vec![Sum::default(); size]; size],
        }
    }

    fn add(&mut self, row: &LogRankRow) {
        for (sum, observed) in self.observed.iter_mut().zip(&row.observed) {
            sum.add(row.weight * *observed as f64);
        }
        for (sum, expected) in self.expected.iter_mut().zip(&row.expected) {
            sum.add(row.weight * expected);
        }
        let lives = row.at_risk.iter().sum::<u64>();
        let (n, d) = (lives as f64, total(&row.observed));
        if lives <= 1 {
            return;
        }
        let factor = row.weight * row.weight * d * (n - d) / (n - 1.0);
        for (i, (cells, own)) in self.covariance.iter_mut().zip(&row.at_risk).enumerate() {
            let share = *own as f64 / n;
            for (j, (cell, other)) in cells.iter_mut().zip(&row.at_risk).enumerate() {
                // Whole numbers, so that a group that is nearly everybody keeps its small variance.
                let rest = if i == j {
                    (lives - own) as f64
                } else {
                    -(*other as f64)
                };
                cell.add(factor * share * rest / n);
            }
        }
    }

    fn groups(&self) -> Vec<LogRankGroup> {
        self.observed
            .iter()
            .zip(&self.expected)
            .map(|(observed, expected)| LogRankGroup {
                observed: observed.total(),
                expected: expected.total(),
            })
            .collect()
    }

    fn covariance(&self) -> Vec<Vec<f64>> {
        self.covariance
            .iter()
            .map(|cells| cells.iter().map(Sum::total).collect())
            .collect()
    }
}
