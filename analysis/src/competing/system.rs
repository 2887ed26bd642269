//! Modes fitted one by one and put together: survival is the product over the modes.

use super::comparison::SingleFitComparison;
use super::error::CompetingError;
use super::mode::{Mode, ModeCurve, ModeOutcome, Seen};
use crate::intervals::LimitsError;
use crate::quadrature::integral_through;
use crate::solve::root;
use crate::summation::Sum;
use crate::warning::Warning;

/// A share of failures that belongs to one mode.
#[derive(Clone, Debug, PartialEq)]
pub struct ModeShare {
    /// The mode.
    pub cause: Option<String>,
    /// Its share.
    pub share: f64,
}

/// Failure modes in series: a life ends with the first to strike.
#[derive(Clone, Debug, PartialEq)]
pub struct SeriesSystem {
    /// The modes, by name; unknown first.
    pub modes: Vec<Mode>,
    /// Compared with one fit for all modes; none where a mode has no model, or the single fit has none.
    pub comparison: Option<SingleFitComparison>,
    /// What to know before use.
    pub warnings: Vec<Warning>,
}

impl SeriesSystem {
    /// The same system without the modes that have no model. Its survival is too high by what they would take.
    #[must_use]
    pub fn without_missing(&self) -> Self {
        let mut kept = self.clone();
        kept.modes
            .retain(|mode| !matches!(mode.outcome, ModeOutcome::Failed(_)));
        kept
    }

    pub(super) fn curves(&self) -> Result<Vec<ModeCurve>, CompetingError> {
        let missing: Vec<String> = self
            .modes
            .iter()
            .filter(|mode| mode.curve().is_none())
            .map(Mode::name)
            .collect();
        if missing.is_empty() && !self.modes.is_empty() {
            Ok(self.modes.iter().filter_map(Mode::curve).collect())
        } else {
            Err(CompetingError::Incomplete { modes: missing })
        }
    }

    /// Hazard accumulated up to `usage >= 0` by all modes, at most the largest finite number.
    ///
    /// # Errors
    /// For a mode without a model, or a usage that is negative or not finite.
    pub fn cumulative_hazard(&self, usage: f64) -> Result<f64, CompetingError> {
        let curves = self.curves()?;
        let usage = checked(usage)?;
        Ok(if usage > 0.0 {
            total(&curves, usage.ln()).min(f64::MAX)
        } else {
            0.0
        })
    }

    /// Share of lives that survive `usage >= 0`: the product over the modes.
    ///
    /// # Errors
    /// As [`Self::cumulative_hazard`].
    pub fn survival(&self, usage: f64) -> Result<f64, CompetingError> {
        Ok((-self.cumulative_hazard(usage)?).exp())
    }

    /// Usage by which a share `p` has failed by any mode.
    ///
    /// # Errors
    /// For a mode without a model, `p` outside (0, 1), or a usage beyond the range of numbers.
    pub fn quantile(&self, p: f64) -> Result<f64, CompetingError> {
        let usage = ln_quantile(&self.curves()?, p)?.exp();
        if usage.is_finite() && usage > 0.0 {
            Ok(usage)
        } else {
            Err(LimitsError::OutOfRange.into())
        }
    }

    /// Share of lives that have failed by one mode up to `usage >= 0`, the other modes at work: the integral of its
    /// hazard times the survival of all.
    ///
    /// # Errors
    /// As [`Self::cumulative_hazard`], for an unknown mode, and for an integral that does not settle.
    pub fn incidence(&self, cause: Option<&str>, usage: f64) -> Result<f64, CompetingError> {
        let curves = self.curves()?;
        let usage = checked(usage)?;
        let mine = self
            .modes
            .iter()
            .zip(&curves)
            .find(|(mode, _)| mode.cause.as_deref() == cause)
            .map(|(_, curve)| curve)
            .ok_or_else(|| CompetingError::Mode {
                cause: cause.map(ToOwned::to_owned),
            })?;
        if usage == 0.0 {
            return Ok(0.0);
        }
        let share = incidence(&curves, mine, 0.0, usage).ok_or(CompetingError::NotSettled)?;
        Ok(share.clamp(0.0, 1.0))
    }

    /// Of the lives that fail just at `usage > 0`, the share by each mode: its hazard over the sum of all.
    ///
    /// # Errors
    /// For a mode without a model, or a usage that is not above 0 and finite.
    pub fn failing_at(&self, usage: f64) -> Result<Vec<ModeShare>, CompetingError> {
        let curves = self.curves()?;
        let ln_usage = checked(usage)?.ln();
        if !ln_usage.is_finite() {
            return Err(LimitsError::Usage {
                rule: "above 0",
                value: usage,
            }
            .into());
        }
        let rates: Vec<f64> = curves.iter().map(|curve| curve.ln_rate(ln_usage)).collect();
        let most = rates.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = rates.iter().map(|rate| (rate - most).exp()).sum();
        if !(sum.is_finite() && sum > 0.0) {
            return Err(LimitsError::OutOfRange.into());
        }
        Ok(self
            .modes
            .iter()
            .zip(rates)
            .map(|(mode, rate)| ModeShare {
                cause: mode.cause.clone(),
                share: (rate - most).exp() / sum,
            })
            .collect())
    }

    /// The mode most likely to strike first at `usage > 0`; of equals, the first by name.
    ///
    /// # Errors
    /// As [`Self::failing_at`].
    pub fn leading_at(&self, usage: f64) -> Result<ModeShare, CompetingError> {
        let mut best: Option<ModeShare> = None;
        for share in self.failing_at(usage)? {
            if best.as_ref().is_none_or(|best| share.share > best.share) {
                best = Some(share);
            }
        }
        best.ok_or(CompetingError::NoModes)
    }
}

pub(super) fn checked(usage: f64) -> Result<f64, LimitsError> {
    if usage.is_finite() && usage >= 0.0 {
        Ok(usage)
    } else {
        Err(LimitsError::Usage {
            rule: "at least 0",
            value: usage,
        })
    }
}

pub(super) fn total(curves: &[ModeCurve], ln_usage: f64) -> f64 {
    curves
        .iter()
        .map(|curve| curve.cumulative(ln_usage))
        .collect::<Sum>()
        .total()
}

fn ln_quantile(curves: &[ModeCurve], p: f64) -> Result<f64, LimitsError> {
    if !(p > 0.0 && p < 1.0) {
        return Err(LimitsError::Share { value: p });
    }
    let hazard = -(-p).ln_1p();
    let first = |hazard: f64| {
        curves
            .iter()
            .map(|curve| curve.ln_usage_at(hazard))
            .fold(f64::INFINITY, f64::min)
    };
    // Alone each mode would take longer; with a part of the hazard each, none has yet made the whole.
    let high = first(hazard);
    let low = first(hazard / curves.len() as f64);
    let gap = |ln_usage: f64| total(curves, ln_usage).ln() - hazard.ln();
    // The ends may meet, or miss the root by rounding.
    let slack = 1e-9 * (1.0 + high.abs());
    root(gap, low - slack, high + slack).ok_or(LimitsError::OutOfRange)
}

/// Accuracy of the integrals.
const RELATIVE: f64 = 1e-11;
/// Hazard beyond which so few survive that nothing is left to count.
const SPENT: f64 = 60.0;

/// Chance of failing by `mine` between two usages for a life new at `from`; all modes count from `from`. None if the
/// integral does not settle.
pub(super) fn incidence(curves: &[ModeCurve], mine: &ModeCurve, from: f64, to: f64) -> Option<f64> {
    // Over its own standard variable a very steep curve keeps its digits, and a very flat one its range.
    let curves: Vec<Seen> = curves.iter().map(|curve| curve.seen_from(mine)).collect();
    let (first, end) = (mine.standard(from.ln()), mine.standard(to.ln()));
    let mine = mine.seen_from(mine);
    let all = |x: f64| {
        let parts = curves.iter().map(|curve| curve.cumulative(x));
        parts.collect::<Sum>().total()
    };
    let spent = curves
        .iter()
        .map(|curve| curve.reaches(SPENT + curve.cumulative(first)))
        .fold(f64::INFINITY, f64::min);
    let high = end.min(spent);
    if high == f64::NEG_INFINITY {
        return Some(0.0);
    }
    // Below this its own hazard is nothing beside what it is at the end.
    let least = mine.reaches(1e-18 * mine.cumulative(high).clamp(1e-280, 1.0));
    let (low, start) = if from > 0.0 {
        (first, all(first))
    } else {
        (least, 0.0)
    };
    // A steep curve takes over within a stretch that equal panels of a wide range would not see.
    let mut points = vec![low, high];
    for curve in &curves {
        for hazard in [1e-9, 1e-4, 1e-2, 0.3, 2.0, 10.0] {
            points.push(curve.reaches(hazard + curve.cumulative(first)));
        }
    }
    points.retain(|point| *point >= low && *point <= high);
    points.sort_by(f64::total_cmp);
    integral_through(
        |x| (mine.ln_rate(x) - (all(x) - start)).exp(),
        &points,
        RELATIVE,
    )
}
