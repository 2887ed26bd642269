//! Each mode fitted with the failures of all others as right-censored.

use super::comparison::compare;
use super::error::CompetingError;
use super::mode::{Mode, ModeOutcome};
use super::plan::{Plan, UnknownMode};
use super::system::SeriesSystem;
use crate::fitting::{fit, known_shape};
use crate::intervals::LimitsError;
use crate::observation::Observation;
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

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
