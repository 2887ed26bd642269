//! Runs every estimator on one sample.

use super::choose::choose;
use super::incidence::{incidence, several_causes};
use super::model::model;
use super::modes::modes;
use super::{
    CauseCount, CurveLimits, CurvePointReport, CurveReport, Estimate, Estimator, HazardPoint,
    Report, SampleSummary,
};
use crate::families::Family;
use crate::intervals::{Level, Method};
use crate::nonparametric::{self, EstimateError, Limits, kaplan_meier, nelson_aalen, turnbull};
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

/// What a report is to contain.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Confidence of the limits of parameters and quantiles.
    pub level: Level,
    /// How the limits of parameters and quantiles are made.
    pub method: Method,
    /// Limits of the survival curve.
    pub curve: Limits,
    /// Shares failed at which to give quantiles, each in (0, 1).
    pub shares: Vec<f64>,
    /// Families to fit, in the order of the report.
    pub families: Vec<Family>,
    /// Tell causes apart: the share failed of each, and a fit of each by this family. None leaves both out.
    pub by_cause: Option<Family>,
}

impl Default for Options {
    fn default() -> Self {
        Self::at(Level::TWO_SIDED_95)
    }
}

impl Options {
    /// The usual contents at one confidence level.
    #[must_use]
    pub fn at(level: Level) -> Self {
        Self {
            level,
            method: Method::default(),
            curve: Limits {
                kind: nonparametric::LimitKind::LogLog,
                level: level.level(),
            },
            shares: vec![0.01, 0.05, 0.1, 0.5],
            families: Family::ALL.to_vec(),
            by_cause: None,
        }
    }
}

/// Everything the engine says about one sample. Never fails: what cannot be computed is null with a warning.
#[must_use]
pub fn analyse(sample: &Sample, options: &Options) -> Report {
    let mut warnings = sample_warnings(sample);
    let survival_curve = curve(sample, options.curve, &mut warnings);
    let cumulative_hazard = nelson_aalen(sample)
        .unwrap_or_default()
        .iter()
        .map(|step| HazardPoint {
            time: step.time,
            value: step.value,
            std_error: step.std_error(),
        })
        .collect();
    let models: Vec<_> = options
        .families
        .iter()
        .map(|family| model(sample, *family, options))
        .collect();
    let apart = options
        .by_cause
        .filter(|_| several_causes(sample, &mut warnings));
    Report {
        sample: summary(sample),
        survival_curve,
        cumulative_hazard,
        chosen: choose(sample, &models),
        models,
        causes: sample
            .causes()
            .into_iter()
            .map(|(cause, failures)| CauseCount { cause, failures })
            .collect(),
        incidence: apart.and_then(|_| incidence(sample, options.curve, &mut warnings)),
        modes: apart.and_then(|family| modes(sample, family, options, &mut warnings)),
        warnings,
    }
}

fn summary(sample: &Sample) -> SampleSummary {
    SampleSummary {
        lives: sample.lives(),
        failures: sample.failures(),
        right_censored: sample.right_censored(),
        left_censored: sample.left_censored(),
        interval_censored: sample.interval_censored(),
        delayed_entry: sample.delayed_entry(),
        dead_on_arrival: sample.dead_on_arrival(),
        total_usage: sample.total_usage(),
        longest_usage: sample.longest_usage(),
        digest: sample.digest(),
    }
}

fn sample_warnings(sample: &Sample) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if sample.lives() == 0 {
        warnings.push(Warning::new(
            WarningCode::NoLives,
            "There are no lives to report on.",
        ));
    } else if sample.failures() == 0 {
        warnings.push(Warning::new(
            WarningCode::NoFailures,
            "No life was seen to fail. A lower limit of life exists only with an assumed shape.",
        ));
    }
    if sample.dead_on_arrival() > 0 {
        warnings.push(Warning::new(
            WarningCode::DeadOnArrival,
            format!(
                "Failures at usage 0: {} of {} lives. They say nothing about wear and are left out of every curve and model.",
                sample.dead_on_arrival(),
                sample.dead_on_arrival() + sample.lives()
            ),
        ));
    }
    if sample.causes().len() > 1 {
        warnings.push(Warning::new(
            WarningCode::MixedCauses,
            "Failures of different causes are fitted together here, which hides how each cause depends on age.",
        ));
    }
    warnings
}

fn curve(sample: &Sample, limits: Limits, warnings: &mut Vec<Warning>) -> CurveReport {
    let mut report = CurveReport {
        estimator: Estimator::KaplanMeier,
        limits: CurveLimits {
            kind: limits.kind,
            level: limits.level,
        },
        points: Vec::new(),
        median: Estimate::default(),
    };
    match kaplan_meier(sample, limits) {
        Ok(curve) => {
            let median = curve.median();
            report.median = Estimate {
                value: median.value,
                lower: median.lower,
                upper: median.upper,
            };
            warnings.extend(curve.warnings.iter().cloned());
            report.points = curve
                .points()
                .map(|point| CurvePointReport {
                    time: point.time,
                    at_risk: Some(point.at_risk),
                    failed: Some(point.failed),
                    censored: Some(point.censored),
                    survival: point.survival,
                    std_error: point.std_error,
                    lower: point.lower,
                    upper: point.upper,
                })
                .collect();
        }
        Err(EstimateError::InexactFailures { .. }) => intervals(sample, &mut report, warnings),
        Err(EstimateError::NoLives) => {}
        Err(error) => warnings.push(Warning::new(
            WarningCode::EstimatorFailed,
            error.to_string(),
        )),
    }
    report
}

fn intervals(sample: &Sample, report: &mut CurveReport, warnings: &mut Vec<Warning>) {
    report.estimator = Estimator::Turnbull;
    warnings.push(Warning::new(
        WarningCode::IntervalEstimator,
        "Some failures are not known exactly, so the survival curve is the interval estimate. It has no pointwise limits here, and no cumulative hazard is given.",
    ));
    match turnbull(sample) {
        Ok(curve) => {
            report.median.value = curve.quantile(0.5);
            warnings.extend(curve.warnings);
            report.points = curve
                .support
                .iter()
                .filter_map(|interval| {
                    Some(CurvePointReport {
                        time: interval.by?,
                        at_risk: None,
                        failed: None,
                        censored: None,
                        survival: interval.survival_after,
                        std_error: None,
                        lower: None,
                        upper: None,
                    })
                })
                .collect();
        }
        Err(error) => warnings.push(Warning::new(
            WarningCode::EstimatorFailed,
            error.to_string(),
        )),
    }
}
