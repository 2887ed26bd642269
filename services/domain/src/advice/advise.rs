use chrono::{DateTime, TimeDelta, Utc};

use super::answer::{
    Advice, Evidence, InspectionAdvice, LifeSummary, PracticeShown, ReplacementAdvice, WithheldNote,
};
use super::grade::{self, EvidenceColumns, grade};
use super::input::AdviceInput;
use super::inspection::inspect;
use super::model::{Model, known_shape_range};
use super::outlook::risk_ahead;
use super::replacement::{Proposal, practice, propose};
use super::settlement::settle;
use super::wording;
use crate::populations::Withheld;

/// Draws renewal age, span to the next look and expected life from the lives of a population.
///
/// Always answers: what the records cannot say is absent with its reason. Same input, same answer.
///
/// From three failures on (the policy's number) a Weibull is fitted by maximum likelihood and limits come from the
/// likelihood ratio; below, the least, middle and greatest plausible shape are each taken as known and the most
/// careful answer counts. Nothing is suggested beyond the longest usage on record.
#[must_use]
pub fn advise(input: &AdviceInput<'_>) -> Advice {
    if let Some(reason) = input.withheld {
        return withheld(input, reason);
    }
    let model = Model::choose(input);
    let curve = model.curve(input);
    let proposal = propose(input, &model, curve.as_ref());
    let inspection = inspect(input, curve.as_ref());
    let life = model.life(input);
    let evidence = match &model {
        Model::Nothing { why } => grade::practice_only(why),
        _ => grade(&columns(input, &proposal, life.as_ref(), &inspection)),
    };
    let beyond = proposal.is_capped() || inspection.capped;
    let replacement = settle(input, proposal, evidence.grade);
    let sample = input.sample;
    let mut advice = blank(input, replacement, inspection, evidence);
    advice.risk_ahead = risk_ahead(input, &model, curve.as_ref(), advice.inspection.age);
    advice.life = life;
    advice.lives = Some(sample.lives());
    advice.failures = Some(sample.failures());
    advice.dead_on_arrival = Some(sample.dead_on_arrival());
    advice.contributors = u64::try_from(owners(input)).ok();
    advice.longest_usage = Some(sample.longest_usage());
    advice.total_usage = Some(sample.total_usage());
    advice.modes = input.modes.to_vec();
    advice.model = model.summary(input);
    advice.known_shape_range = known_shape_range(input);
    advice.fit_id = input.fit_id;
    advice.data_digest = Some(sample.digest());
    advice.cautions = wording::cautions(input, &model, beyond);
    advice.summary = wording::summary(&advice);
    advice
}

/// Common practice only: not even counts are shown, because counts point at people too.
fn withheld(input: &AdviceInput<'_>, reason: Withheld) -> Advice {
    let because = "Figures of these records are not shown.";
    let replacement = settle(
        input,
        practice(input, because),
        crate::vocabulary::EvidenceGrade::PracticeOnly,
    );
    let evidence = grade::practice_only(because);
    let mut advice = blank(input, replacement, inspect(input, None), evidence);
    advice.withheld_reason = Some(WithheldNote {
        code: reason,
        why: reason.to_string(),
    });
    advice.cautions = wording::withheld_cautions();
    advice.summary = wording::summary(&advice);
    advice
}

/// The parts of an answer that do not depend on the lives.
fn blank(
    input: &AdviceInput<'_>,
    replacement: ReplacementAdvice,
    inspection: InspectionAdvice,
    evidence: Evidence,
) -> Advice {
    Advice {
        part_type: input.part_type.key.clone(),
        severity: input.part_type.criticality,
        scale: input.scale,
        unit: input.scale.unit().to_owned(),
        summary: String::new(),
        replacement,
        inspection,
        risk_ahead: Vec::new(),
        life: None,
        population: input.population.to_owned(),
        lives: None,
        failures: None,
        dead_on_arrival: None,
        contributors: None,
        longest_usage: None,
        total_usage: None,
        modes: Vec::new(),
        model: None,
        known_shape_range: Vec::new(),
        evidence,
        common_practice: common_practice(input),
        cautions: Vec::new(),
        fit_id: None,
        data_digest: None,
        data_as_of: input.data_as_of,
        valid_until: valid_until(input),
        policy_version: input.policy.version,
        withheld_reason: None,
    }
}

fn valid_until(input: &AdviceInput<'_>) -> DateTime<Utc> {
    let days = TimeDelta::days(i64::from(input.policy.valid_for_days));
    input
        .data_as_of
        .checked_add_signed(days)
        .unwrap_or(input.data_as_of)
}

fn common_practice(input: &AdviceInput<'_>) -> Vec<PracticeShown> {
    input
        .part_type
        .common_practice
        .iter()
        .map(|practice| PracticeShown {
            task: practice.task.clone(),
            interval: practice.interval,
            unit: practice.unit.clone(),
            trigger: practice.trigger.clone(),
            source: practice.source.clone(),
        })
        .collect()
}

fn owners(input: &AdviceInput<'_>) -> usize {
    input
        .lives_per_contributor
        .iter()
        .filter(|lives| **lives > 0)
        .count()
}

fn columns(
    input: &AdviceInput<'_>,
    proposal: &Proposal,
    life: Option<&LifeSummary>,
    inspection: &InspectionAdvice,
) -> EvidenceColumns {
    let total: u64 = input.lives_per_contributor.iter().sum();
    let largest = input
        .lives_per_contributor
        .iter()
        .max()
        .copied()
        .unwrap_or(0);
    let suggested = proposal
        .age
        .or(inspection.span.map(|span| inspection.age + span));
    let limit_ratio = life.and_then(|life| {
        let limits = life.ten_in_hundred_failed;
        limits
            .upper
            .zip(limits.lower)
            .filter(|(_, lower)| *lower > 0.0)
            .map(|(u, l)| u / l)
    });
    EvidenceColumns {
        failures: input.sample.failures(),
        lives_past: suggested.map(|age| lives_past(input, age)),
        limit_ratio,
        owners: owners(input),
        largest_share: if total > 0 {
            largest as f64 / total as f64
        } else {
            1.0
        },
        ages_known: input.ages_known.map(crate::units::Share::get),
        records_complete: input.records_complete.map(crate::units::Share::get),
        caps: caps(input, proposal),
    }
}

fn lives_past(input: &AdviceInput<'_>, age: f64) -> u64 {
    input
        .sample
        .observations()
        .iter()
        .filter(|row| row.lower >= age)
        .map(|row| row.count)
        .sum()
}

fn caps(input: &AdviceInput<'_>, proposal: &Proposal) -> Vec<String> {
    let several_modes = input.modes.iter().filter(|mode| mode.failures > 0).count() > 1;
    [
        (
            proposal.is_capped(),
            "The suggested age is the longest usage on record",
        ),
        (
            input.fit_rejected == Some(true),
            "A test rejected the model",
        ),
        (
            input.lot_or_notice_inside,
            "A bad lot or a notice lies inside the records and was not split out",
        ),
        (several_modes, "Several failure modes were not separated"),
    ]
    .into_iter()
    .filter(|(holds, _)| *holds)
    .map(|(_, why)| why.to_owned())
    .collect()
}
