//! Log-rank comparison of groups (Mantel 1966; Peto and Peto 1972).

use super::EstimateError;
use super::risk::{Moment, moments};
use crate::sample::Sample;
use crate::special::gamma::chi_square_upper;

/// Result of a log-rank test.
#[derive(Clone, Debug, PartialEq)]
pub struct LogRank {
    /// Observed and expected failures, in the order of the groups given.
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
    /// Failures seen.
    pub observed: f64,
    /// Failures expected if the groups were alike.
    pub expected: f64,
}

/// One usage at which something failed.
#[derive(Clone, Debug, PartialEq)]
pub struct LogRankRow {
    /// Usage.
    pub time: f64,
    /// Lives at risk in each group.
    pub at_risk: Vec<u64>,
    /// Failures in each group.
    pub observed: Vec<u64>,
    /// Failures expected in each group.
    pub expected: Vec<f64>,
}

/// Compares the survival of two or more groups.
///
/// # Errors
/// For fewer than two groups, empty groups, failures not known exactly, or nothing to compare.
pub fn log_rank(groups: &[&Sample]) -> Result<LogRank, EstimateError> {
    log_rank_stratified(&[groups.to_vec()])
}

/// Compares groups within strata; every stratum lists the same groups in the same order, empty ones included.
///
/// # Errors
/// As [`log_rank`].
pub fn log_rank_stratified(strata: &[Vec<&Sample>]) -> Result<LogRank, EstimateError> {
    let size = strata.iter().map(Vec::len).max().unwrap_or(0);
    if size < 2 || strata.iter().any(|groups| groups.len() != size) {
        return Err(EstimateError::Groups { groups: size });
    }
    let mut rows = Vec::new();
    let mut totals = vec![LogRankGroup::default(); size];
    let mut covariance = vec![vec![0.0; size]; size];
    for groups in strata {
        for row in stratum_rows(groups)? {
            add(&row, &mut totals, &mut covariance);
            rows.push(row);
        }
    }
    let gaps: Vec<f64> = totals
        .iter()
        .map(|group| group.observed - group.expected)
        .collect();
    let (chi_square, freedom) = quadratic(&covariance, &gaps);
    if freedom == 0 {
        return Err(EstimateError::NothingToCompare);
    }
    Ok(LogRank {
        groups: totals,
        covariance,
        chi_square,
        freedom,
        p_value: chi_square_upper(chi_square, f64::from(freedom)),
        rows,
    })
}

fn stratum_rows(groups: &[&Sample]) -> Result<Vec<LogRankRow>, EstimateError> {
    let mut all: Vec<Vec<Moment>> = Vec::new();
    for group in groups {
        all.push(match moments(group) {
            Err(EstimateError::NoLives) => Vec::new(),
            found => found?,
        });
    }
    let mut times: Vec<f64> = all
        .iter()
        .flatten()
        .filter(|moment| moment.failed > 0)
        .map(|moment| moment.time)
        .collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    Ok(times
        .into_iter()
        .map(|time| {
            let at_risk: Vec<u64> = groups.iter().map(|group| at_risk(group, time)).collect();
            let observed: Vec<u64> = all.iter().map(|found| failed_at(found, time)).collect();
            let (n, d) = (
                at_risk.iter().sum::<u64>() as f64,
                observed.iter().sum::<u64>() as f64,
            );
            let expected = at_risk.iter().map(|own| d * *own as f64 / n).collect();
            LogRankRow {
                time,
                at_risk,
                observed,
                expected,
            }
        })
        .collect())
}

fn at_risk(sample: &Sample, time: f64) -> u64 {
    sample
        .observations()
        .filter(|row| row.entry < time && time <= row.lower)
        .map(|row| row.count)
        .sum()
}

fn failed_at(moments: &[Moment], time: f64) -> u64 {
    let place = moments.partition_point(|moment| moment.time < time);
    match moments.get(place) {
        Some(moment) if moment.time <= time => moment.failed,
        _ => 0,
    }
}

fn add(row: &LogRankRow, totals: &mut [LogRankGroup], covariance: &mut [Vec<f64>]) {
    let n = row.at_risk.iter().sum::<u64>() as f64;
    let d = row.observed.iter().sum::<u64>() as f64;
    for ((total, observed), expected) in totals.iter_mut().zip(&row.observed).zip(&row.expected) {
        total.observed += *observed as f64;
        total.expected += expected;
    }
    if n <= 1.0 {
        return;
    }
    let factor = d * (n - d) / (n - 1.0);
    for (i, (cells, own)) in covariance.iter_mut().zip(&row.at_risk).enumerate() {
        let share = *own as f64 / n;
        for (j, (cell, other)) in cells.iter_mut().zip(&row.at_risk).enumerate() {
            let same = if i == j { 1.0 } else { 0.0 };
            *cell += factor * share * (same - *other as f64 / n);
        }
    }
}

/// `g' V^- g` and the rank of `V`, by elimination that leaves out directions without variance.
fn quadratic(covariance: &[Vec<f64>], gaps: &[f64]) -> (f64, u32) {
    let mut work: Vec<Vec<f64>> = covariance
        .iter()
        .zip(gaps)
        .map(|(row, gap)| row.iter().copied().chain([*gap]).collect())
        .collect();
    let largest = covariance
        .iter()
        .enumerate()
        .filter_map(|(i, row)| row.get(i))
        .fold(0.0_f64, |a, b| a.max(*b));
    let (mut total, mut rank) = (0.0, 0);
    let mut done = vec![false; gaps.len()];
    loop {
        let pivot = work
            .iter()
            .enumerate()
            .filter(|(i, _)| done.get(*i) == Some(&false))
            .filter_map(|(i, row)| Some((i, *row.get(i)?)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let Some((place, size)) = pivot else { break };
        if size <= 1e-11 * largest || size <= 0.0 {
            break;
        }
        let Some(line) = work.get(place).cloned() else {
            break;
        };
        if let Some(mark) = done.get_mut(place) {
            *mark = true;
        }
        let gap = line.last().copied().unwrap_or(0.0);
        total += gap * gap / size;
        rank += 1;
        for (row, _) in work.iter_mut().zip(&done).filter(|(_, done)| !**done) {
            let factor = row.get(place).copied().unwrap_or(0.0) / size;
            for (cell, part) in row.iter_mut().zip(&line) {
                *cell -= factor * part;
            }
        }
    }
    (total, rank)
}
