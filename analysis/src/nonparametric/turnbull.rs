//! Survival from intervals, with or without late entry (Turnbull 1976, JRSS B 38).
//!
//! The best curve falls in innermost intervals only. It is described by the cumulative hazard gained in each: then
//! the likelihood is concave with late entry as without. It is found by alternating steps of expectation and
//! maximisation on the hazards with iterative convex minorants (Wellner and Zhan 1997, JASA 92), and accepted only
//! at the gradient condition (Gentleman and Geyer 1994, Biometrika 81).

mod expectation;
mod minorant;
mod newton_step;
mod state;

use self::state::{ALL_FAILED, NO_HAZARD, State};
use super::EstimateError;
use super::innermost::{Support, support};
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

/// Relative slack of the gradient condition.
const SLACK: f64 = 1e-9;
const MOST_ROUNDS: u32 = 5_000;
/// Rounds before steps on all hazards together are tried.
const PATIENCE: u32 = 150;

/// Nonparametric maximum likelihood estimate from interval-censored lives.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnbullCurve {
    /// Intervals that carry probability, in order. Where inside an interval it lies cannot be told.
    pub support: Vec<SupportInterval>,
    /// Logarithm of the likelihood at the maximum.
    pub log_likelihood: f64,
    /// Largest excess of the gradient over its bound, relative to the lives at risk: 0 at the exact maximum.
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

/// Nonparametric curve under any mixture of censoring and late entry; with late entry it is conditional on survival
/// to the earliest entry.
///
/// # Errors
/// For an empty sample, or a search that does not finish.
pub fn turnbull(sample: &Sample) -> Result<TurnbullCurve, EstimateError> {
    if sample.lives() == 0 {
        return Err(EstimateError::NoLives);
    }
    let support = support(sample);
    let mut state = State::start(&support);
    for round in 0..MOST_ROUNDS {
        state.minorant_step(&support);
        state.expectation_step(&support);
        let excess = if round < PATIENCE {
            state.gradient_excess(&support)
        } else {
            state.newton_step(&support)
        };
        if excess <= SLACK {
            return Ok(curve(sample, &support, &state, excess));
        }
    }
    Err(EstimateError::NotConverged)
}

fn curve(sample: &Sample, support: &Support, state: &State, gradient_excess: f64) -> TurnbullCurve {
    let mut intervals = Vec::new();
    let mut survival = 1.0_f64;
    let mut stopped = None;
    for ((after, by), gained) in support.intervals.iter().zip(&state.gained) {
        if *gained <= NO_HAZARD || survival <= 0.0 {
            continue;
        }
        let all = *gained >= ALL_FAILED - 1.0;
        let left = if all { 0.0 } else { survival * (-gained).exp() };
        intervals.push(SupportInterval {
            after: *after,
            by: Some(*by),
            probability: survival - left,
            survival_after: left,
        });
        survival = left;
        if all {
            stopped = Some(*by);
        }
    }
    let longest = sample.columns().lower.last().copied().unwrap_or(0.0);
    if survival > 0.0 {
        intervals.push(SupportInterval {
            after: longest,
            by: None,
            probability: survival,
            survival_after: 0.0,
        });
    }
    TurnbullCurve {
        support: intervals,
        log_likelihood: state.log_likelihood(support),
        gradient_excess,
        warnings: cautions(sample, stopped),
    }
}

/// Where lives entered late the curve may stop early, or pass over usage that nobody was watched at.
fn cautions(sample: &Sample, stopped: Option<f64>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if sample.delayed_entry() == 0 {
        return warnings;
    }
    if let Some(stop) = stopped
        && sample
            .observations()
            .any(|life| life.lower > stop || (life.entry >= stop && life.upper.is_finite()))
    {
        warnings.push(Warning::new(
            WarningCode::CurveStopsEarly,
            format!(
                "By usage {stop} every life then at risk had failed, so the curve is 0 from there although later lives follow. Look at survival given survival to a later usage instead."
            ),
        ));
    }
    let mut spans: Vec<(f64, f64)> = sample
        .observations()
        .map(|life| {
            (
                life.entry,
                if life.upper.is_finite() {
                    life.upper
                } else {
                    life.lower
                },
            )
        })
        .collect();
    spans.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut reached = spans.first().map_or(0.0, |span| span.0);
    for (from, to) in spans {
        if from > reached {
            warnings.push(Warning::new(
                WarningCode::EarlyEmptyRiskSet,
                format!("From usage {reached} to {from} nobody was at risk; the curve says nothing about that stretch."),
            ));
            break;
        }
        reached = reached.max(to);
    }
    warnings
}
