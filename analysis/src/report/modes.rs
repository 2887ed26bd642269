//! Causes of failure fitted apart and put together in series.

use serde::{Deserialize, Serialize};

use super::analyse::Options;
use super::model::model;
use super::{LimitsKind, ModelReport, QuantileReport};
use crate::competing::{Better, Plan, SeriesSystem, UnknownMode, series_system};
use crate::families::Family;
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

/// Causes fitted apart, each with the failures of the others as lives not seen to fail.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisModes))]
pub struct ModesReport {
    /// Family of every fit.
    pub family: Family,
    /// One entry per cause, in order of name; failures without a cause come first, as a cause of their own.
    pub modes: Vec<ModeReport>,
    /// Usages by which stated shares have failed of any cause; empty where a cause has no model.
    pub quantiles: Vec<QuantileReport>,
    /// Held against one fit for all causes; null where a model is missing.
    pub comparison: Option<ModesComparison>,
    /// Cautions about the causes together.
    pub warnings: Vec<Warning>,
}

/// One cause alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisMode))]
pub struct ModeReport {
    /// The cause; null for failures without one.
    pub cause: Option<String>,
    /// Failures of it.
    pub failures: u64,
    /// Its fit: life if no other cause were at work.
    pub model: ModelReport,
}

/// Causes fitted apart against one fit for all, on usages and causes together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisModesComparison))]
pub struct ModesComparison {
    /// Log-likelihood of the causes fitted apart.
    pub apart_log_likelihood: f64,
    /// Log-likelihood of one fit, with shares of the causes that do not depend on usage.
    pub single_log_likelihood: f64,
    /// Akaike's criterion of the causes fitted apart.
    pub apart_aic: f64,
    /// Akaike's criterion of one fit.
    pub single_aic: f64,
    /// Which is better by at least 2.
    pub better: BetterModel,
    /// The same in a sentence.
    pub statement: String,
}

/// Which description the data favour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisBetterModel))]
pub enum BetterModel {
    /// Causes fitted apart.
    Apart,
    /// One fit for all.
    Single,
    /// The criteria lie within 2 of each other.
    Undecided,
}

/// None where the causes cannot be put together at all, with a caution.
pub(super) fn modes(
    sample: &Sample,
    family: Family,
    options: &Options,
    warnings: &mut Vec<Warning>,
) -> Option<ModesReport> {
    let plan = Plan {
        unknown: UnknownMode::OwnMode,
        ..Plan::new(family)
    };
    let system = match series_system(sample, &plan) {
        Ok(system) => system,
        Err(error) => {
            warnings.push(Warning::new(
                WarningCode::EstimatorFailed,
                format!("The causes are not fitted apart: {error}."),
            ));
            return None;
        }
    };
    let mut cautions = system.warnings.clone();
    let quantiles = together(&system, options, &mut cautions);
    Some(ModesReport {
        family,
        modes: sample
            .by_cause()
            .into_iter()
            .map(|(cause, part)| ModeReport {
                failures: part.failures(),
                model: model(&part, family, options),
                cause,
            })
            .collect(),
        quantiles,
        comparison: system.comparison.map(|found| ModesComparison {
            apart_log_likelihood: found.series_log_likelihood,
            single_log_likelihood: found.single_log_likelihood,
            apart_aic: found.series_aic,
            single_aic: found.single_aic,
            better: match found.better {
                Better::Series => BetterModel::Apart,
                Better::Single => BetterModel::Single,
                Better::Undecided => BetterModel::Undecided,
            },
            statement: found.statement,
        }),
        warnings: cautions,
    })
}

/// The life that ends with the first cause to strike; the first thing that stands in the way is said once.
fn together(
    system: &SeriesSystem,
    options: &Options,
    warnings: &mut Vec<Warning>,
) -> Vec<QuantileReport> {
    let mut quantiles = Vec::new();
    for p in &options.shares {
        let found = system
            .quantile_limits(*p, options.level)
            .map(|limits| (limits.value, limits.lower, limits.upper));
        let without_limits = || system.quantile(*p).map(|value| (value, None, None));
        match found.or_else(|error| {
            warn_once(warnings, &format!("All causes together: {error}."));
            without_limits()
        }) {
            Ok((value, lower, upper)) => quantiles.push(QuantileReport {
                p: *p,
                value: Some(value),
                lower,
                upper,
                kind: LimitsKind::Delta,
                level: options.level.level(),
            }),
            Err(error) => warn_once(warnings, &format!("All causes together: {error}.")),
        }
    }
    quantiles
}

fn warn_once(warnings: &mut Vec<Warning>, message: &str) {
    if !warnings.iter().any(|warning| warning.message == message) {
        warnings.push(Warning::new(WarningCode::LimitFailed, message));
    }
}
