//! Correlation of the points of a probability plot, with a critical value by simulation.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::GoodnessError;
use crate::families::Family;
use crate::ranks::{Positions, RankError, RankedFailures, adjusted_ranks, correlation, line_of};
use crate::sample::Sample;

/// The most failures ranked one by one.
const MOST: u64 = 100_000;
/// The most failures simulated in all samples together.
const MOST_SIMULATED: u64 = 100_000_000;
/// Fewest different usages at failure: two points always lie on a line.
const FEWEST: usize = 3;

/// Correlation of a probability plot beside those of simulated samples of the same family.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlotCorrelation {
    /// The family of the plot.
    pub family: Family,
    /// How ranks became shares.
    pub positions: Positions,
    /// Correlation of the points.
    pub correlation: f64,
    /// Share of simulated samples below the critical value.
    pub significance: f64,
    /// A smaller correlation speaks against the family at that significance.
    pub critical: f64,
    /// Chance of a correlation at most as large if the family is right, estimated from the simulation.
    pub p_value: f64,
    /// Samples simulated.
    pub replicates: u32,
    /// Seed of the simulation.
    pub seed: u64,
}

impl PlotCorrelation {
    /// Square of the correlation.
    #[must_use]
    pub fn r_squared(&self) -> f64 {
        self.correlation * self.correlation
    }
}

/// Correlation between the logarithm of usage and the standard quantiles of the plotting positions (Filliben 1975,
/// Technometrics 17).
///
/// # Errors
/// For samples without ranks, a family that no paper makes straight, fewer than three different usages at failure, or too many failures.
pub fn plot_correlation(
    sample: &Sample,
    family: Family,
    positions: Positions,
) -> Result<f64, GoodnessError> {
    // A free form would be fitted to the very points that should tell it.
    line_of(family)?;
    let ranked = ranked(sample, MOST)?;
    let marks = marks(&ranked, sample.lives(), family, positions);
    let usages = ranked
        .iter()
        .flat_map(|group| std::iter::repeat_n(group.time.ln(), places(group)));
    correlation_with(usages, &marks)
}

/// The same with a critical value by seeded simulation: `replicates` samples of the family with the sample's own
/// pattern of ranks. The lives that left between two failures are taken to leave at the earlier one, which makes the
/// distribution free of the parameters (progressive censoring; Balakrishnan and Aggarwala 2000, section 3.3). The
/// exponential is held to a free line here, as the Weibull is.
///
/// # Errors
/// As [`plot_correlation`]; for a significance outside (0, 1), or replicates too few, or too many for the failures.
pub fn plot_correlation_test(
    sample: &Sample,
    family: Family,
    positions: Positions,
    significance: f64,
    replicates: u32,
    seed: u64,
) -> Result<PlotCorrelation, GoodnessError> {
    if !(significance > 0.0 && significance < 1.0) {
        return Err(GoodnessError::Significance {
            value: significance,
        });
    }
    if !(99..=100_000).contains(&replicates) {
        return Err(GoodnessError::Replicates { replicates });
    }
    let most = MOST.min(MOST_SIMULATED / u64::from(replicates));
    let ranked = ranked(sample, most)?;
    let found = plot_correlation(sample, family, positions)?;
    let marks = marks(&ranked, sample.lives(), family, positions);
    let at_risk = at_risk(&ranked);
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut simulated = Vec::new();
    for _ in 0..replicates {
        let mut hazard = 0.0;
        // The next failure among n lives comes after an exponential stretch of hazard with mean 1/n.
        let lives = at_risk.iter().map(|n| {
            let u: f64 = random.random();
            hazard -= (u + HALF_STEP).ln() / n;
            family.standard_quantile(hazard)
        });
        simulated.push(correlation_with(lives.collect::<Vec<_>>(), &marks)?);
    }
    simulated.sort_unstable_by(f64::total_cmp);
    let below = simulated.partition_point(|value| *value <= found);
    let critical = quantile(&simulated, significance).ok_or(GoodnessError::OutOfRange)?;
    Ok(PlotCorrelation {
        family,
        positions,
        correlation: found,
        significance,
        critical,
        p_value: (below as f64 + 1.0) / (f64::from(replicates) + 1.0),
        replicates,
        seed,
    })
}

/// Keeps a uniform number off 0.
const HALF_STEP: f64 = 1.0 / (1_u64 << 54) as f64;

fn ranked(sample: &Sample, most: u64) -> Result<Vec<RankedFailures>, GoodnessError> {
    let ranked = adjusted_ranks(sample)?;
    let failures = sample.failures();
    if failures > most {
        return Err(RankError::TooManyFailures { failures, most }.into());
    }
    if ranked.len() < FEWEST {
        return Err(GoodnessError::TooFewFailures {
            found: ranked.len(),
            needed: FEWEST,
        });
    }
    Ok(ranked)
}

fn places(group: &RankedFailures) -> usize {
    usize::try_from(group.count).unwrap_or(usize::MAX)
}

/// Standard quantiles of the plotting positions.
fn marks(ranked: &[RankedFailures], lives: u64, family: Family, positions: Positions) -> Vec<f64> {
    ranked
        .iter()
        .flat_map(RankedFailures::ranks)
        .map(|rank| family.standard_quantile(positions.hazard_at(rank, lives)))
        .collect()
}

/// Lives at risk at each failure.
fn at_risk(ranked: &[RankedFailures]) -> Vec<f64> {
    ranked
        .iter()
        .flat_map(|group| (0..group.count).map(|place| group.at_risk.saturating_sub(place) as f64))
        .collect()
}

fn correlation_with(
    usages: impl IntoIterator<Item = f64>,
    marks: &[f64],
) -> Result<f64, GoodnessError> {
    let points: Vec<(f64, f64)> = usages.into_iter().zip(marks.iter().copied()).collect();
    correlation(&points).ok_or(GoodnessError::OutOfRange)
}

/// Value at a share of sorted values, between neighbours.
fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let place = share * sorted.len().saturating_sub(1) as f64;
    let mut near = sorted.iter().enumerate().filter(|(at, _)| {
        let at = *at as f64;
        at > place - 1.0 && at < place + 1.0
    });
    let (low_at, low) = near.next()?;
    let high = near.next().map_or(*low, |(_, high)| *high);
    Some(low + (place - low_at as f64).max(0.0) * (high - low))
}
