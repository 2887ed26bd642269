//! The tables of a part type from an analysis.

use wearbook_analysis::report::{ModelReport, ParameterReport, Report};

use super::view::{ModelRow, ModelTable, ParameterFigure, RiskRow, RiskTable};
use crate::pages::Shown;
use crate::pages::charts::family_name;
use crate::pages::figures::{Estimate, ScaleWords};

impl ModelTable {
    /// The fitted families, the smallest corrected Akaike criterion first.
    ///
    /// # Errors
    /// The reason, in words for a reader, why nothing could be fitted.
    pub fn from_report(report: &Report, scale: &ScaleWords) -> Shown<Self> {
        let chosen = report.chosen.as_ref().ok_or_else(|| {
            report.warnings.first().map_or_else(
                || "no distribution could be fitted to these lives.".to_owned(),
                |warning| warning.message.clone(),
            )
        })?;
        let best = report
            .models
            .iter()
            .filter_map(|model| model.aicc)
            .fold(f64::INFINITY, f64::min);
        let mut rows: Vec<_> = report
            .models
            .iter()
            .filter_map(|model| {
                Some(ModelRow {
                    family: capitalised(family_name(model.family)),
                    chosen: model.family == chosen.family,
                    parameters: parameters(model, scale)?,
                    log_likelihood: model.log_likelihood?,
                    aicc: model.aicc,
                    aicc_difference: model.aicc.map(|aicc| aicc - best),
                })
            })
            .collect();
        rows.sort_by(|a, b| {
            let key = |row: &ModelRow| row.aicc.unwrap_or(f64::INFINITY);
            key(a).total_cmp(&key(b))
        });
        Ok(Self {
            rows,
            why: chosen.why.clone(),
        })
    }
}

/// With fewer pieces under observation a share is luck.
const FEWEST_AT_RISK: u64 = 5;

impl RiskTable {
    /// What the survival curve says at `ages`, each looking ahead by `spans`. No model stands in between, so failure
    /// modes need not be told apart, and nothing is said beyond the oldest piece.
    ///
    /// # Errors
    /// The reason, in words for a reader, why there are no chances to show.
    pub fn from_report(report: &Report, ages: &[f64], spans: &[f64]) -> Shown<Self> {
        let points = &report.survival_curve.points;
        let end = report.sample.longest_usage;
        let at = |age: f64| {
            points
                .partition_point(|point| point.time <= age)
                .checked_sub(1)
                .and_then(|last| points.get(last))
        };
        let share = |age: f64| at(age).map_or(1.0, |point| point.survival);
        let row = |age: &f64| RiskRow {
            age: *age,
            failed_by: Estimate {
                value: 1.0 - share(*age),
                lower: at(*age)
                    .and_then(|point| point.upper)
                    .map(|upper| 1.0 - upper),
                upper: at(*age)
                    .and_then(|point| point.lower)
                    .map(|lower| 1.0 - lower),
            },
            next: spans
                .iter()
                .map(|span| {
                    if age + span > end || share(*age) <= 0.0 {
                        Err("beyond the records".to_owned())
                    } else if at(age + span)
                        .and_then(|point| point.at_risk)
                        .is_some_and(|left| left < FEWEST_AT_RISK)
                    {
                        Err(format!("fewer than {FEWEST_AT_RISK} pieces so old"))
                    } else {
                        Ok(1.0 - share(age + span) / share(*age))
                    }
                })
                .collect(),
        };
        let rows: Vec<_> = ages.iter().filter(|age| **age <= end).map(row).collect();
        if rows.is_empty() || points.is_empty() {
            return Err("there is no survival curve to read chances from.".to_owned());
        }
        Ok(Self {
            spans: spans.to_vec(),
            rows,
        })
    }
}

fn parameters(model: &ModelReport, scale: &ScaleWords) -> Option<Vec<ParameterFigure>> {
    let found = model.parameters.as_ref()?;
    let figure = |name: &str, parameter: &ParameterReport| ParameterFigure {
        name: match name {
            "mu" => "mean of ln age".to_owned(),
            "sigma" => "deviation of ln age".to_owned(),
            other => other.to_owned(),
        },
        figure: Estimate {
            value: parameter.value,
            lower: parameter.lower,
            upper: parameter.upper,
        },
        unit: if matches!(name, "mean" | "scale") {
            scale.unit
        } else {
            ""
        },
    };
    Some(
        model
            .parameter_order
            .iter()
            .filter_map(|name| Some(figure(name, found.get(name)?)))
            .collect(),
    )
}

fn capitalised(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
