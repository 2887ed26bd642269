use chrono::{DateTime, TimeDelta, Utc};

use super::answer::{
    Advice, Evidence, InspectionAdvice, PracticeShown, ReplacementAdvice, WithheldNote,
};
use super::by_mode::by_mode;
use super::evidence::{columns, owners};
use super::grade::{self, grade};
use super::input::AdviceInput;
use super::inspection::inspect;
use super::judged::Judged;
use super::model::{Model, known_shape_range};
use super::modes::Sorted;
use super::outlook::risk_ahead;
use super::replacement::{Proposal, practice};
use super::series::{self, Rare};
use super::settlement::settle;
use super::settling::settling_looks;
use super::wording;
use crate::populations::Withheld;
use crate::vocabulary::EvidenceGrade;

/// Draws renewal age, span to the next look and expected life from the lives of a population.
///
/// Always answers: what the records cannot say is absent with its reason. Same input, same answer.
///
/// From three failures on (the policy's number) a Weibull is fitted by maximum likelihood and limits come from the
/// likelihood ratio; below, the least, middle and greatest plausible shape are each taken as known and the most
/// careful answer counts. Nothing is suggested beyond the longest usage on record.
///
/// Failure modes are not mixed: a few early failures among parts that wear would make one fit over both look like
/// chance. Each mode with enough failures for a fit is judged by itself, with the failures of the others
/// right-censored. The first renewal among the modes that wear counts, and the shortest span to the next look; modes
/// that come early get looks after fitting instead. Each mode is held to the target by itself. Rarer modes are
/// counted but do not decide. Where no mode has enough failures, all are taken together and the grade says so.
#[must_use]
pub fn advise(input: &AdviceInput<'_>) -> Advice {
    if let Some(reason) = input.withheld {
        return withheld(input, reason);
    }
    let sorted = Sorted::of(input);
    let judged: Vec<Judged<'_>> = sorted
        .groups
        .iter()
        .map(|group| Judged::new(input, group))
        .collect();
    let inspection = inspect(input, &judged);
    let Some(deciding) = deciding(&judged, &inspection) else {
        return practice_alone(input, "There is nothing to judge.");
    };
    let proposal = named(input, deciding, judged.len() > 1);
    let evidence = match &deciding.model {
        Model::Nothing { why } => grade::practice_only(why),
        _ => grade(&columns(input, &sorted, deciding, &proposal, &inspection)),
    };
    let beyond = proposal.is_capped() || inspection.capped;
    let shape_assumed = matches!(deciding.model, Model::Known { .. });
    let replacement = ReplacementAdvice {
        mode: deciding
            .mode
            .filter(|_| sorted.apart && proposal.age.is_some())
            .cloned(),
        ..settle(input, proposal, evidence.grade)
    };
    let inspection = until_renewal(input, inspection, &replacement);
    let rare = Rare::of(&sorted);
    let sample = input.sample;
    let mut advice = blank(input, replacement, inspection, evidence);
    let age = advice.inspection.age;
    advice.by_mode = by_mode(input, &sorted, &judged, age);
    advice.settling_looks = settling_looks(&sorted, &judged);
    advice.risk_ahead = risk_ahead(input, &judged, rare.as_ref(), age);
    advice.life = if sorted.apart {
        Some(series::life(input, &judged, rare.as_ref()))
    } else {
        deciding.model.life(&deciding.input)
    };
    advice.lives = Some(sample.lives());
    advice.failures = Some(sample.failures());
    advice.dead_on_arrival = Some(sample.dead_on_arrival());
    advice.contributors = u64::try_from(owners(input)).ok();
    advice.longest_usage = Some(sample.longest_usage());
    advice.total_usage = Some(sample.total_usage());
    advice.modes = input.modes.to_vec();
    advice.model = deciding.model.summary(&deciding.input, deciding.mode);
    advice.known_shape_range = known_shape_range(&deciding.input);
    advice.fit_id = input.fit_id;
    advice.data_digest = Some(sample.digest());
    advice.cautions = wording::cautions(input, &sorted, shape_assumed, beyond);
    advice.summary = wording::summary(&advice);
    advice
}

/// The group of failures whose answer counts: the first due for renewal, else the one that sets the next look, else
/// the one with most failures.
fn deciding<'j, 'g>(
    judged: &'j [Judged<'g>],
    inspection: &InspectionAdvice,
) -> Option<&'j Judged<'g>> {
    let due = judged
        .iter()
        .filter_map(|group| Some((group, group.proposal.age?)))
        .min_by(|(_, a), (_, b)| a.total_cmp(b));
    let looked_for = || {
        let mode = inspection.mode.as_ref()?;
        judged.iter().find(|group| group.mode == Some(mode))
    };
    due.map(|(group, _)| group)
        .or_else(looked_for)
        .or_else(|| judged.iter().max_by_key(|group| group.failures()))
}

/// What the deciding group proposes, with its mode named where there are several.
fn named(input: &AdviceInput<'_>, deciding: &Judged<'_>, several: bool) -> Proposal {
    let mut proposal = deciding.proposal.clone();
    let name = deciding
        .name()
        .filter(|_| several && input.target().per_interval.is_some());
    if let Some(name) = name {
        let found = if proposal.age.is_some() {
            "This mode asks for the first renewal."
        } else {
            "No failure mode is shown to wear out."
        };
        proposal.why = format!("“{name}”: {} {found}", proposal.why);
    }
    proposal
}

/// Common practice only: not even counts are shown, because counts point at people too.
fn withheld(input: &AdviceInput<'_>, reason: Withheld) -> Advice {
    let mut advice = practice_alone(input, "Figures of these records are not shown.");
    advice.withheld_reason = Some(WithheldNote {
        code: reason,
        why: reason.to_string(),
    });
    advice.summary = wording::summary(&advice);
    advice
}

fn practice_alone(input: &AdviceInput<'_>, because: &str) -> Advice {
    let replacement = settle(input, practice(input, because), EvidenceGrade::PracticeOnly);
    let evidence = grade::practice_only(because);
    let mut advice = blank(input, replacement, inspect(input, &[]), evidence);
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
        by_mode: Vec::new(),
        settling_looks: None,
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

/// For the part type in general a look after the renewal would be a look at another part. At a component's own age the
/// span stands as it is: its owner may have gone past the renewal, and then needs the figure most.
fn until_renewal(
    input: &AdviceInput<'_>,
    inspection: InspectionAdvice,
    replacement: &ReplacementAdvice,
) -> InspectionAdvice {
    match (inspection.span, replacement.value) {
        (Some(span), Some(renewal)) if input.age.is_none() && span > renewal => InspectionAdvice {
            span: Some(renewal),
            why: format!("{} The renewal comes first.", inspection.why),
            ..inspection
        },
        _ => inspection,
    }
}
