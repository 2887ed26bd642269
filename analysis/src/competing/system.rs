//! Modes fitted one by one and put together: survival is the product over the modes.

use std::collections::BTreeMap;

use super::comparison::{SingleFitComparison, compare};
use super::error::CompetingError;
use super::mode::{Mode, ModeCurve, ModeOutcome, Seen};
use super::quadrature::integral;
use crate::families::Family;
use crate::fitting::{fit, known_shape};
use crate::intervals::{Level, Limits, LimitsError};
use crate::observation::Observation;
use crate::sample::Sample;
use crate::solve::root;
use crate::summation::Sum;
use crate::warning::{Warning, WarningCode};

/// How failures that name no mode enter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum UnknownMode {
    /// Not at all: they are refused.
    #[default]
    Refuse,
    /// As a mode of their own.
    OwnMode,
    /// With the mode of most failures; of equals, the first by name.
    Leading,
}

/// How to fit the modes.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Family of every mode not named below, and of the single fit compared with.
    pub family: Family,
    /// Family by mode.
    pub families: BTreeMap<String, Family>,
    /// Weibull shape by mode, used where a free fit does not exist. A mode without failures in the sample enters
    /// only if it stands here, at the lower limit of its scale.
    pub known_shapes: BTreeMap<String, f64>,
    /// One-sided confidence of that lower limit, in (0, 1).
    pub bound_level: f64,
    /// How failures that name no mode enter.
    pub unknown: UnknownMode,
}

impl Plan {
    /// Every mode of one family, nothing declared, bounds at 90 %, unknown modes refused.
    #[must_use]
    pub fn new(family: Family) -> Self {
        Self {
            family,
            families: BTreeMap::new(),
            known_shapes: BTreeMap::new(),
            bound_level: 0.9,
            unknown: UnknownMode::Refuse,
        }
    }
}

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

/// Fits each mode with the failures of all others as right-censored, and puts them together.
///
/// A mode that cannot be fitted stays in the result with its error and takes no other down.
///
/// # Errors
/// For a family with more than location and shape, an empty sample, no failure with a mode, a bound level outside (0, 1), or unknown modes that the plan refuses.
pub fn series_system(sample: &Sample, plan: &Plan) -> Result<SeriesSystem, CompetingError> {
    if sample.lives() == 0 {
        return Err(CompetingError::NoLives);
    }
    if !(plan.bound_level > 0.0 && plan.bound_level < 1.0) {
        return Err(LimitsError::Share {
            value: plan.bound_level,
        }
        .into());
    }
    let families = plan.families.values().chain([&plan.family]);
    if let Some(family) = families
        .copied()
        .find(|family| !family.is_log_location_scale())
    {
        return Err(CompetingError::Family { family });
    }
    let sample = with_modes(sample, plan.unknown)?;
    let mut modes: Vec<Mode> = sample
        .by_cause()
        .into_iter()
        .map(|(cause, part)| Mode {
            failures: part.failures(),
            outcome: outcome(cause.as_deref(), &part, plan),
            cause,
        })
        .collect();
    for (cause, shape) in &plan.known_shapes {
        if modes.iter().any(|mode| mode.cause.as_ref() == Some(cause)) {
            continue;
        }
        modes.push(Mode {
            cause: Some(cause.clone()),
            failures: 0,
            outcome: unseen(&sample, *shape, plan.bound_level),
        });
    }
    if modes.is_empty() {
        return Err(CompetingError::NoModes);
    }
    modes.sort_by(|a, b| a.cause.cmp(&b.cause));
    let mut system = SeriesSystem {
        modes,
        comparison: None,
        warnings: Vec::new(),
    };
    if let Ok(curves) = system.curves() {
        system.comparison = compare(&sample, plan.family, &system.modes, &curves);
    }
    system.warnings = cautions(&system, &sample);
    Ok(system)
}

/// Gives failures without a mode the place that the plan wants.
fn with_modes(sample: &Sample, unknown: UnknownMode) -> Result<Sample, CompetingError> {
    let causes = sample.causes();
    let nameless = causes
        .iter()
        .find(|(cause, _)| cause.is_none())
        .map_or(0, |(_, lives)| *lives);
    if nameless == 0 || unknown == UnknownMode::OwnMode {
        return Ok(sample.clone());
    }
    if unknown == UnknownMode::Refuse {
        return Err(CompetingError::UnknownModes { lives: nameless });
    }
    let most = causes
        .iter()
        .filter(|(cause, _)| cause.is_some())
        .map(|(_, lives)| *lives)
        .max();
    let leading = causes
        .into_iter()
        .find(|(cause, lives)| cause.is_some() && Some(*lives) == most)
        .and_then(|(cause, _)| cause)
        .ok_or(CompetingError::NoModes)?;
    let mut rows = Vec::new();
    for row in sample.observations() {
        let named = row.cause.map(ToString::to_string);
        rows.push(Observation {
            entry: row.entry,
            lower: row.lower,
            upper: row.upper,
            count: row.count,
            cause: if row.upper.is_finite() {
                named.or_else(|| Some(leading.clone()))
            } else {
                named
            },
        });
    }
    // The rows come from a valid sample, and a cause breaks no rule.
    Sample::new(rows).map_err(|_| CompetingError::NoLives)
}

fn outcome(cause: Option<&str>, part: &Sample, plan: &Plan) -> ModeOutcome {
    let family = cause
        .and_then(|cause| plan.families.get(cause))
        .copied()
        .unwrap_or(plan.family);
    let error = match fit(part, family) {
        Ok(fitted) => return ModeOutcome::Fitted(fitted),
        Err(error) => error,
    };
    let shape = cause.and_then(|cause| plan.known_shapes.get(cause));
    match shape.map(|shape| known_shape(part, *shape)) {
        Some(Ok(fit)) if fit.scale.is_some() => ModeOutcome::KnownShape {
            fit,
            instead_of: error,
        },
        Some(Err(refused)) => ModeOutcome::Failed(refused),
        _ => ModeOutcome::Failed(error),
    }
}

/// A mode that nobody failed by: every life is right-censored.
fn unseen(sample: &Sample, shape: f64, level: f64) -> ModeOutcome {
    let mut rows = Vec::new();
    for row in sample.observations() {
        rows.push(Observation {
            entry: row.entry,
            lower: row.lower,
            upper: f64::INFINITY,
            count: row.count,
            cause: None,
        });
    }
    let fitted = Sample::new(rows)
        .map_err(|_| crate::fitting::FitError::NoLives)
        .and_then(|survivors| known_shape(&survivors, shape));
    match fitted {
        Ok(fit) => match fit.scale_lower(level) {
            Some(scale) if scale.is_finite() && scale > 0.0 => ModeOutcome::Bound { fit, scale },
            _ => ModeOutcome::Failed(crate::fitting::FitError::NoFailures),
        },
        Err(error) => ModeOutcome::Failed(error),
    }
}

fn cautions(system: &SeriesSystem, sample: &Sample) -> Vec<Warning> {
    let mut cautions = Vec::new();
    for mode in &system.modes {
        match &mode.outcome {
            ModeOutcome::Fitted(_) => {}
            ModeOutcome::Failed(error) => cautions.push(Warning::new(
                error.warning().code,
                format!("{}: {error}", mode.name()),
            )),
            ModeOutcome::KnownShape { instead_of, .. } => cautions.push(Warning::new(
                instead_of.warning().code,
                format!("{}: {instead_of}; its declared shape is used.", mode.name()),
            )),
            ModeOutcome::Bound { .. } => cautions.push(Warning::new(
                WarningCode::NoFailures,
                format!(
                    "{}: nobody failed by it; its scale stands at the lower limit, so the combined life is cautious.",
                    mode.name()
                ),
            )),
        }
    }
    let inexact = sample.left_censored() + sample.interval_censored();
    if inexact > 0 && system.modes.len() > 1 {
        cautions.push(Warning::new(
            WarningCode::IntervalEstimator,
            format!(
                "{inexact} failures are known only between two usages; for the other modes these lives count as unfailed up to the first of the two only."
            ),
        ));
    }
    cautions
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
    /// As [`Self::cumulative_hazard`], and for an unknown mode.
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
        Ok(incidence(&curves, mine, 0.0, usage).clamp(0.0, 1.0))
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

    /// Limits of the survival at `usage > 0` by the delta method on the logarithm of the hazard accumulated, so inside
    /// 0 to 1. Modes are independent; a mode at its bound adds no variance.
    ///
    /// # Errors
    /// As [`Self::failing_at`], and for a mode without covariance.
    pub fn survival_limits(&self, usage: f64, level: Level) -> Result<Limits, CompetingError> {
        let curves = self.curves()?;
        let value = self.survival(usage)?;
        let ln_usage = checked(usage)?.ln();
        if !ln_usage.is_finite() {
            return Err(LimitsError::Usage {
                rule: "above 0",
                value: usage,
            }
            .into());
        }
        let factor = (level.distance() * ln_hazard_error(&curves, ln_usage)?).exp();
        let hazard = total(&curves, ln_usage).min(f64::MAX);
        Ok(Limits {
            value,
            lower: level.wants_lower().then(|| (-hazard * factor).exp()),
            upper: level.wants_upper().then(|| (-hazard / factor).exp()),
            warnings: Vec::new(),
        })
    }

    /// Limits of the usage by which a share `p` has failed by any mode, by the delta method on the log scale.
    ///
    /// # Errors
    /// As [`Self::quantile`], and for a mode without covariance.
    pub fn quantile_limits(&self, p: f64, level: Level) -> Result<Limits, CompetingError> {
        let curves = self.curves()?;
        let value = self.quantile(p)?;
        let ln_usage = value.ln();
        let rate: f64 = curves
            .iter()
            .map(|curve| curve.ln_rate(ln_usage).exp())
            .sum();
        let steepness = rate / total(&curves, ln_usage);
        let error = ln_hazard_error(&curves, ln_usage)? / steepness;
        let factor = (level.distance() * error).exp();
        let (lower, upper) = (value / factor, value * factor);
        if !(lower > 0.0 && upper.is_finite()) {
            return Err(LimitsError::OutOfRange.into());
        }
        Ok(Limits {
            value,
            lower: level.wants_lower().then_some(lower),
            upper: level.wants_upper().then_some(upper),
            warnings: Vec::new(),
        })
    }
}

fn checked(usage: f64) -> Result<f64, LimitsError> {
    if usage.is_finite() && usage >= 0.0 {
        Ok(usage)
    } else {
        Err(LimitsError::Usage {
            rule: "at least 0",
            value: usage,
        })
    }
}

fn total(curves: &[ModeCurve], ln_usage: f64) -> f64 {
    curves
        .iter()
        .map(|curve| curve.cumulative(ln_usage))
        .collect::<Sum>()
        .total()
}

fn ln_hazard_error(curves: &[ModeCurve], ln_usage: f64) -> Result<f64, LimitsError> {
    let variance: f64 = curves
        .iter()
        .map(|curve| curve.variance(ln_usage))
        .sum::<Option<f64>>()
        .ok_or(LimitsError::NoCovariance)?;
    let error = variance.sqrt() / total(curves, ln_usage);
    if error.is_finite() {
        Ok(error)
    } else {
        Err(LimitsError::OutOfRange)
    }
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

/// Hazard beyond which so few survive that nothing is left to count.
const SPENT: f64 = 60.0;

/// Chance of failing by `mine` between two usages for a life new at `from`; all modes count from `from`.
pub(super) fn incidence(curves: &[ModeCurve], mine: &ModeCurve, from: f64, to: f64) -> f64 {
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
        return 0.0;
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
    integral(|x| (mine.ln_rate(x) - (all(x) - start)).exp(), points)
}
