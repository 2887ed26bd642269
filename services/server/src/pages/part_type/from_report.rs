//! The tables of a part type from an analysis.

use wearbook_analysis::report::{ModelReport, ParameterReport, Report};

use super::view::{ModelRow, ModelTable, ParameterFigure, RiskRow, RiskTable};
use crate::pages::Shown;
use crate::pages::charts::{family_name, model_survival};
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

impl RiskTable {
    /// What the chosen model says at `ages`, each looking ahead by `spans`, without limits.
    ///
    /// # Errors
    /// The reason, in words for a reader, why there are no chances to show.
    pub fn from_report(report: &Report, ages: &[f64], spans: &[f64]) -> Shown<Self> {
        let none = || "without a fitted distribution there are no chances to show.".to_owned();
        let family = report.chosen.as_ref().ok_or_else(none)?.family;
        let model = report.model(family).ok_or_else(none)?;
        let row = |age: f64| {
            let reached = model_survival(model, age)?;
            let next = spans.iter().map(|span| {
                let beyond = model_survival(model, age + span)?;
                (reached > 0.0).then(|| bare(1.0 - beyond / reached))
            });
            Some(RiskRow {
                age,
                failed_by: bare(1.0 - reached),
                next: next.collect::<Option<Vec<_>>>()?,
                beyond_data: age > report.sample.longest_usage,
            })
        };
        let rows: Vec<_> = ages.iter().filter_map(|age| row(*age)).collect();
        if rows.is_empty() {
            return Err(none());
        }
        Ok(Self {
            spans: spans.to_vec(),
            rows,
        })
    }
}

fn bare(value: f64) -> Estimate {
    Estimate {
        value,
        lower: None,
        upper: None,
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
