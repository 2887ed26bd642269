//! Product-limit estimate of survival with delayed entry (Kaplan and Meier 1958, JASA 53).

use super::risk::{Moment, RiskSets};
use super::survival_curve::{Mark, SurvivalCurve};
use super::{EstimateError, Limits};
use crate::sample::Sample;
use crate::summation::{BLOCK, Sum};
use crate::warning::{Warning, WarningCode};

/// Product-limit curve; failures come before censorings at ties.
///
/// # Errors
/// For an empty sample, a level outside (0, 1), or failures not known exactly (use [`super::turnbull`]).
pub fn kaplan_meier(sample: &Sample, limits: Limits) -> Result<SurvivalCurve, EstimateError> {
    if !(limits.level > 0.0 && limits.level < 1.0) {
        return Err(EstimateError::Level {
            value: limits.level,
        });
    }
    let sets = RiskSets::of(sample)?;
    let mut marks = Vec::new();
    let mut product = Product::default();
    let mut emptied = Emptied::default();
    let mut place = sets.start();
    let mut points = 0;
    for (moment, after) in sets.from(place) {
        if points % BLOCK == 0 {
            marks.push(Mark {
                time: moment.time,
                place,
                product,
            });
        }
        product.take(&moment);
        emptied.see(&moment);
        place = after;
        points += 1;
    }
    Ok(SurvivalCurve::new(
        limits,
        emptied.warnings(),
        sets,
        marks,
        points,
    ))
}

/// The product so far.
#[derive(Clone, Copy, Debug)]
pub(super) struct Product {
    pub(super) survival: f64,
    /// Greenwood's sum, the variance of survival over its square.
    pub(super) relative: Sum,
}

impl Default for Product {
    fn default() -> Self {
        Self {
            survival: 1.0,
            relative: Sum::default(),
        }
    }
}

impl Product {
    #[inline]
    pub(super) fn take(&mut self, moment: &Moment) {
        if moment.failed > 0 {
            let (n, d) = (moment.at_risk as f64, moment.failed as f64);
            // Whole numbers first: a last survivor among many keeps its digits.
            self.survival *= (n - d) / n;
            if moment.failed < moment.at_risk {
                self.relative.add(d / (n * (n - d)));
            }
        }
    }
}

/// The first usages after which nobody was at risk although later lives follow.
#[derive(Default)]
struct Emptied {
    /// The last moment seen, while it emptied the risk set.
    last: Option<Moment>,
    by_failures: Option<f64>,
    for_a_while: Option<f64>,
}

impl Emptied {
    #[inline]
    fn see(&mut self, moment: &Moment) {
        if let Some(last) = self.last.take() {
            self.for_a_while.get_or_insert(last.time);
            if last.failed == last.at_risk {
                self.by_failures.get_or_insert(last.time);
            }
        }
        if moment.failed + moment.censored == moment.at_risk {
            self.last = Some(*moment);
        }
    }

    fn warnings(&self) -> Vec<Warning> {
        let warning = match (self.by_failures, self.for_a_while) {
            (Some(time), _) => Warning::new(
                WarningCode::CurveStopsEarly,
                format!(
                    "At usage {time} every life then at risk failed, so the curve is 0 from there although later lives follow. Look at survival given survival to a later usage instead."
                ),
            ),
            (None, Some(time)) => Warning::new(
                WarningCode::EarlyEmptyRiskSet,
                format!(
                    "After usage {time} nobody was at risk for a while; the curve says nothing about that stretch."
                ),
            ),
            (None, None) => return Vec::new(),
        };
        vec![warning]
    }
}
