//! Survival from intervals (Turnbull 1976, JRSS B 38).
//!
//! The best curve puts all probability into innermost intervals. It is found by alternating steps of expectation and
//! maximisation with iterative convex minorants (Wellner and Zhan 1997, JASA 92), and accepted only at the gradient
//! condition (Gentleman and Geyer 1994, Biometrika 81).

use super::EstimateError;
use super::innermost::{Support, support};
use super::isotonic::isotonic;
use crate::sample::Sample;
use crate::summation::Sum;
use crate::warning::Warning;

/// Relative slack of the gradient condition.
const SLACK: f64 = 1e-9;
/// Masses at or below this are on their way to zero.
const NO_MASS: f64 = 1e-11;
const MOST_ROUNDS: u32 = 20_000;

/// Nonparametric maximum likelihood estimate from interval-censored lives.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnbullCurve {
    /// Intervals that carry probability, in order. Where inside an interval it lies cannot be told.
    pub support: Vec<SupportInterval>,
    /// Logarithm of the likelihood at the maximum.
    pub log_likelihood: f64,
    /// Largest relative excess of the gradient over its bound: 0 at the exact maximum.
    pub gradient_excess: f64,
    /// Cautions about the curve.
    pub warnings: Vec<Warning>,
}

/// An innermost interval and the share of failures in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SupportInterval {
    /// Usage after which the share fails; equal to `by` for an exact usage.
    pub after: f64,
    /// Usage by which it has failed; none means never seen.
    pub by: Option<f64>,
    /// Share of all lives that fail within the interval.
    pub probability: f64,
    /// Survival after the interval.
    pub survival_after: f64,
}

impl TurnbullCurve {
    /// Smallest usage known to have survival at or below `1 - p`: the end of an interval; none if never reached.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let level = (1.0 - p) * (1.0 + 1e-12);
        self.support
            .iter()
            .find(|interval| interval.survival_after <= level)
            .and_then(|interval| interval.by)
    }
}

/// Nonparametric curve under any mixture of censoring.
///
/// # Errors
/// For an empty sample, a search that does not finish, or an entry after the first interval that carries
/// probability: the curve before such an entry then has no single best value here.
pub fn turnbull(sample: &Sample) -> Result<TurnbullCurve, EstimateError> {
    if sample.lives() == 0 {
        return Err(EstimateError::NoLives);
    }
    let support = support(sample);
    let first = support
        .intervals
        .first()
        .map_or(f64::INFINITY, |interval| interval.0);
    if sample.observations().any(|row| row.entry > first) {
        return Err(EstimateError::DelayedEntry {
            reason: "some lives entered after the first usage at which a failure may have happened",
        });
    }
    let mut masses = vec![1.0 / support.intervals.len() as f64; support.intervals.len()];
    for _ in 0..MOST_ROUNDS {
        masses = expectation_step(&support, &masses);
        masses = minorant_step(&support, &masses);
        let excess = gradient_excess(&support, &masses);
        if excess <= SLACK {
            return Ok(curve(&support, &masses, excess));
        }
    }
    Err(EstimateError::NotConverged)
}

/// Probability of each row: the masses of its run of intervals.
fn row_masses(support: &Support, masses: &[f64]) -> Vec<f64> {
    let sums = cumulative(masses);
    let at = |place: usize| sums.get(place).copied().unwrap_or(1.0);
    support
        .rows
        .iter()
        .map(|row| at(row.end) - at(row.start))
        .collect()
}

/// Sums before each place: one more than the masses.
fn cumulative(masses: &[f64]) -> Vec<f64> {
    let mut sum = Sum::default();
    let mut sums = vec![0.0];
    for mass in masses {
        sum.add(*mass);
        sums.push(sum.total());
    }
    sums
}

fn log_likelihood(support: &Support, masses: &[f64]) -> f64 {
    let rows = row_masses(support, masses);
    support
        .rows
        .iter()
        .zip(rows)
        .map(|(row, mass)| row.count * mass.ln())
        .collect::<Sum>()
        .total()
}

/// Derivative of the log-likelihood in each mass.
fn gradient(support: &Support, masses: &[f64]) -> Vec<f64> {
    let mut changes = vec![0.0; masses.len() + 1];
    for (row, mass) in support.rows.iter().zip(row_masses(support, masses)) {
        let pull = row.count / mass;
        if let Some(change) = changes.get_mut(row.start) {
            *change += pull;
        }
        if let Some(change) = changes.get_mut(row.end) {
            *change -= pull;
        }
    }
    let mut level = Sum::default();
    changes
        .iter()
        .take(masses.len())
        .map(|change| {
            level.add(*change);
            level.total()
        })
        .collect()
}

/// How far the gradient breaks its bound: at most the number of lives everywhere, equal to it where there is mass.
fn gradient_excess(support: &Support, masses: &[f64]) -> f64 {
    gradient(support, masses)
        .iter()
        .zip(masses)
        .map(|(slope, mass)| {
            let over = slope / support.lives - 1.0;
            if *mass > NO_MASS {
                over.abs()
            } else {
                over.max(0.0)
            }
        })
        .fold(0.0, f64::max)
}

fn expectation_step(support: &Support, masses: &[f64]) -> Vec<f64> {
    let pulled: Vec<f64> = gradient(support, masses)
        .iter()
        .zip(masses)
        .map(|(slope, mass)| slope * mass)
        .collect();
    let total = pulled.iter().copied().collect::<Sum>().total();
    pulled.iter().map(|mass| mass / total).collect()
}

/// One Newton step on the distribution function with a diagonal second derivative, projected on increasing
/// functions and shortened until the likelihood does not fall.
fn minorant_step(support: &Support, masses: &[f64]) -> Vec<f64> {
    let sums = cumulative(masses);
    let inner = masses.len().saturating_sub(1);
    let (mut slopes, mut weights) = (vec![0.0; masses.len() + 1], vec![0.0; masses.len() + 1]);
    for (row, mass) in support.rows.iter().zip(row_masses(support, masses)) {
        for (place, sign) in [(row.end, 1.0), (row.start, -1.0)] {
            if let (Some(slope), Some(weight)) = (slopes.get_mut(place), weights.get_mut(place)) {
                *slope += sign * row.count / mass;
                *weight += row.count / (mass * mass);
            }
        }
    }
    let inside =
        |values: &[f64]| -> Vec<f64> { values.iter().skip(1).take(inner).copied().collect() };
    let (now, slopes, weights) = (inside(&sums), inside(&slopes), inside(&weights));
    let wished: Vec<f64> = now
        .iter()
        .zip(&slopes)
        .zip(&weights)
        .map(|((f, slope), weight)| f + slope / weight)
        .collect();
    let target: Vec<f64> = isotonic(&wished, &weights)
        .iter()
        .map(|f| f.clamp(0.0, 1.0))
        .collect();
    let before = log_likelihood(support, masses);
    let mut share = 1.0;
    while share > 1e-6 {
        let mut last = 0.0;
        let mut tried: Vec<f64> = now
            .iter()
            .zip(&target)
            .map(|(from, to)| {
                // Written so that equal targets give exactly equal sums.
                let sum = if share < 1.0 {
                    from + share * (to - from)
                } else {
                    *to
                };
                let mass = (sum - last).max(0.0);
                last = sum;
                mass
            })
            .collect();
        tried.push((1.0 - last).max(0.0));
        let after = log_likelihood(support, &tried);
        if after.is_finite() && after >= before {
            return tried;
        }
        share *= 0.5;
    }
    masses.to_vec()
}

fn curve(support: &Support, masses: &[f64], gradient_excess: f64) -> TurnbullCurve {
    let sums = cumulative(masses);
    let intervals = support
        .intervals
        .iter()
        .zip(masses)
        .zip(sums.iter().skip(1))
        .filter(|((_, mass), _)| **mass > NO_MASS)
        .map(|(((after, by), mass), failed)| SupportInterval {
            after: *after,
            by: by.is_finite().then_some(*by),
            probability: *mass,
            survival_after: if by.is_finite() {
                (1.0 - failed).max(0.0)
            } else {
                0.0
            },
        })
        .collect();
    TurnbullCurve {
        support: intervals,
        log_likelihood: log_likelihood(support, masses),
        gradient_excess,
        warnings: Vec::new(),
    }
}
