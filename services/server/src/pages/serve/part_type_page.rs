//! `/part-types/{key}`: the answer first, then what it rests on.

use super::about_page::meaning;
use super::overview_page::{decile_of, words};
use super::{html, shell};
use crate::advice::{Advised, advise_part_type, resolve};
use crate::pages::charts::{ProbabilityChart, SurvivalChart};
use crate::pages::figures::{Estimate, ScaleWords};
use crate::pages::part_type::{
    self, Answer, Basis, ModeRow, ModelTable, PartTypeView, PracticeRow, Provenance, RiskTable,
    ScaleLink,
};
use crate::platform::http::path::Key;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::Query;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::Deserialize;
use wearbook_analysis::report::{Estimator, Report};
use wearbook_domain::advice::{Advice, InspectionVerdict, ModeAdvice, ModeVerdict};
use wearbook_domain::catalogue::PartType;
use wearbook_domain::units::WearScale;
use wearbook_domain::{FailureModeKey, PartTypeKey, catalogue};

/// What the page is wanted for.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PageParameters {
    scale: Option<WearScale>,
}

/// The page.
pub async fn show(
    key: Key<PartTypeKey>,
    parameters: Query<PageParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let (part, scale) = resolve(&key.0, parameters.0.scale)?;
    let mut connection = pool.get().await?;
    let shell = shell(&mut connection, &request).await?;
    let advised = advise_part_type(&mut connection, part, scale, None).await?;
    html(part_type::render(&shell, &view_of(&advised, scale)))
}

fn view_of(advised: &Advised, scale: WearScale) -> PartTypeView {
    let (part, advice) = (advised.part_type, &advised.advice);
    let report = advised.fit.as_ref().map(|(_, report)| report);
    let none = || "no lives have been recorded yet.".to_owned();
    let survival = report.ok_or_else(none).and_then(|report| {
        let mut chart =
            SurvivalChart::from_report(report, "survival-curve", &part.name, words(scale))?;
        chart.renew_by = advice.replacement.value;
        chart.decile = decile_of(advice).ok();
        if modes_apart(advice) {
            // One model over several modes would contradict the suggestion beside it.
            chart.overlay = None;
        }
        Ok(chart)
    });
    let probability = report.ok_or_else(none).and_then(|report| {
        ProbabilityChart::from_report(report, "probability-plot", &part.name, words(scale))
    });
    PartTypeView {
        key: part.key.to_string(),
        name: part.name.clone(),
        system: catalogue()
            .system(&part.system)
            .map_or_else(String::new, |system| system.name.clone()),
        system_key: part.system.to_string(),
        severity: part.criticality.words().to_owned(),
        severity_number: part.criticality.number(),
        severity_meaning: meaning(part.criticality).to_owned(),
        scale: words(scale),
        scales: scale_links(part, scale),
        population: advice.population.clone(),
        basis: basis_of(advice, report),
        answer: answer_of(advice),
        cautions: advice
            .cautions
            .iter()
            .map(|caution| caution.text.clone())
            .collect(),
        survival,
        probability,
        models: report
            .ok_or_else(none)
            .and_then(|report| ModelTable::from_report(report, &words(scale)))
            .map(|table| {
                if modes_apart(advice) {
                    for_comparison(table)
                } else {
                    table
                }
            }),
        risks: report.ok_or_else(none).and_then(|report| {
            let (ages, spans) = ages_and_spans(report.sample.longest_usage, scale);
            RiskTable::from_report(report, &ages, &spans)
        }),
        modes: modes_of(part, advice, &words(scale)),
        settling: settling_of(advice),
        practice: practice_of(advice),
        provenance: provenance_of(advised, scale),
    }
}

/// Whether the suggestion judges failure modes by themselves.
fn modes_apart(advice: &Advice) -> bool {
    advice.by_mode.iter().filter(|mode| mode.judged).count() > 1
}

fn for_comparison(mut table: ModelTable) -> ModelTable {
    for row in &mut table.rows {
        row.chosen = false;
    }
    table.why = format!(
        "All failure modes taken together, for comparison only: the suggestion judges each mode by itself. {}",
        table.why
    );
    table
}

fn scale_links(part: &PartType, current: WearScale) -> Vec<ScaleLink> {
    WearScale::ALL
        .into_iter()
        .map(|scale| ScaleLink {
            scale: words(scale),
            href: format!("/part-types/{}?scale={}", part.key, scale.code()),
            current: scale == current,
        })
        .collect()
}

fn basis_of(advice: &Advice, report: Option<&Report>) -> Basis {
    Basis {
        failures: advice.failures.unwrap_or(0),
        lives: advice.lives.unwrap_or(0),
        owners: advice.contributors,
        data_date: report.map(|_| advice.data_as_of.date_naive()),
        longest: advice.longest_usage,
        level: report.map_or(0.9, |report| report.survival_curve.limits.level),
    }
}

fn answer_of(advice: &Advice) -> Answer {
    Answer {
        look_every: advice
            .inspection
            .span
            .ok_or_else(|| advice.inspection.why.clone()),
        renew_by: advice
            .replacement
            .value
            .ok_or_else(|| advice.replacement.why.clone()),
        decile: decile_of(advice),
        grade: advice.evidence.grade.words().to_owned(),
        grade_reasons: advice.evidence.reasons.clone(),
        assumptions: [&advice.inspection.why, &advice.replacement.why]
            .into_iter()
            .filter(|why| !why.is_empty())
            .cloned()
            .collect(),
        manual: None,
        valid_until: advice.fit_id.map(|_| advice.valid_until.date_naive()),
    }
}

fn modes_of(part: &PartType, advice: &Advice, scale: &ScaleWords) -> Vec<ModeRow> {
    let mut rows: Vec<ModeRow> = part
        .failure_modes
        .iter()
        .map(|mode| ModeRow {
            severity: mode.severity.words().to_owned(),
            effect: mode.usual_effect.clone(),
            detection: mode.detection.clone(),
            ..mode_row(&mode.name, &mode.key, advice, scale)
        })
        .collect();
    let named = |key: &FailureModeKey| part.failure_modes.iter().any(|mode| mode.key == *key);
    rows.extend(
        advice
            .modes
            .iter()
            .filter(|seen| !named(&seen.mode))
            .map(|seen| ModeRow {
                severity: part.criticality.words().to_owned(),
                effect: "not reported".to_owned(),
                detection: "not reported".to_owned(),
                ..mode_row("Manner not stated", &seen.mode, advice, scale)
            }),
    );
    rows.sort_by_key(|row| std::cmp::Reverse(row.failures));
    rows
}

fn mode_row(name: &str, key: &FailureModeKey, advice: &Advice, scale: &ScaleWords) -> ModeRow {
    let seen = advice
        .modes
        .iter()
        .find(|seen| seen.mode == *key)
        .map_or(0, |seen| seen.failures);
    let said = advice.by_mode.iter().find(|said| said.mode == *key);
    let none = || "none".to_owned();
    ModeRow {
        name: name.to_owned(),
        severity: String::new(),
        failures: seen,
        verdict: verdict_of(said, seen),
        renew_by: said
            .and_then(|said| said.renewal_age)
            .map_or_else(none, |age| scale.suggested(age)),
        look: match said.and_then(|said| said.look) {
            Some(InspectionVerdict::BeforeEveryFlight) => "before every flight".to_owned(),
            _ => said
                .and_then(|said| said.span)
                .map_or_else(none, |span| format!("every {}", scale.suggested(span))),
        },
        effect: String::new(),
        detection: String::new(),
    }
}

fn verdict_of(said: Option<&ModeAdvice>, seen: u64) -> String {
    let Some(said) = said else {
        let word = if seen == 0 {
            "never seen"
        } else {
            "counted to the mode seen most"
        };
        return word.to_owned();
    };
    let word = match said.verdict {
        Some(ModeVerdict::WearsOut) => "wears out",
        Some(ModeVerdict::NoClearWear) => "no clear wear",
        Some(ModeVerdict::Early) => "comes early",
        None => "too few to judge",
    };
    let shape = said.shape.and_then(|shape| {
        let shape = Estimate {
            value: shape.value?,
            lower: shape.lower,
            upper: shape.upper,
        };
        Some(format!(
            "; shape {}, {}",
            shape.value_text(),
            shape.limits_text()
        ))
    });
    format!("{word}{}", shape.unwrap_or_default())
}

/// Why to look after fitting, then when.
fn settling_of(advice: &Advice) -> Vec<String> {
    advice
        .settling_looks
        .iter()
        .flat_map(|settling| {
            [
                settling.why.clone(),
                format!("Look {} ({}).", settling.looks, settling.source),
            ]
        })
        .collect()
}

fn practice_of(advice: &Advice) -> Vec<PracticeRow> {
    advice
        .common_practice
        .iter()
        .map(|practice| PracticeRow {
            task: practice.task.clone(),
            interval: practice.interval.map(|[low, high]| (low, high)),
            unit: practice.unit.clone(),
            trigger: practice.trigger.clone(),
            source: practice.source.clone(),
        })
        .collect()
}

fn provenance_of(advised: &Advised, scale: WearScale) -> Provenance {
    let advice = &advised.advice;
    let mut methods = Vec::new();
    if let Some((_, report)) = &advised.fit {
        methods.push(match report.survival_curve.estimator {
            Estimator::KaplanMeier => "Survival without a model: product-limit estimate with log-log limits.".to_owned(),
            Estimator::Turnbull => "Survival without a model: interval estimate, since some failures were found at checks; no limits.".to_owned(),
        });
        methods.push("Models: maximum likelihood with right censoring, intervals and late entry; their limits by the signed root of the likelihood ratio, corrected for few failures. The advice takes the likelihood ratio itself.".to_owned());
    }
    methods.extend(advice.model.as_ref().map(|model| model.why_chosen.clone()));
    Provenance {
        fit_id: advice.fit_id.map(|id| id.to_string()),
        digest: advice.data_digest.clone(),
        computed_at: advised.fit.as_ref().map(|_| advice.data_as_of),
        policy: Some(format!(
            "targets of policy version {}",
            advice.policy_version
        )),
        methods,
        api_href: format!(
            "/v1/part-types/{}/advice?scale={}",
            advised.part_type.key,
            scale.code()
        ),
    }
}

/// Round ages across the records, and how far each looks ahead.
fn ages_and_spans(longest: f64, scale: WearScale) -> (Vec<f64>, Vec<f64>) {
    let spans = vec![match scale {
        WearScale::Flights => 50.0,
        WearScale::FlightMinutes => 300.0,
        WearScale::RotorKrev => 500.0,
    }];
    let step = [1.0, 2.0, 5.0]
        .into_iter()
        .flat_map(|digit| (0..8).map(move |power| digit * 10_f64.powi(power)))
        .filter(|step| longest / step <= 6.0)
        .fold(f64::INFINITY, f64::min);
    let ages = (0..=6)
        .map(|count| f64::from(count) * step)
        .filter(|age| *age <= longest)
        .collect();
    (ages, spans)
}
