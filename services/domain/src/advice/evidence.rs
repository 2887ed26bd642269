//! Fills the columns that evidence is graded by.

use super::answer::InspectionAdvice;
use super::grade::EvidenceColumns;
use super::input::AdviceInput;
use super::judged::Judged;
use super::modes::Sorted;
use super::replacement::Proposal;

/// What the grade is read from: failures and limits are those of the group that decides, the rest is of the whole
/// population.
pub(super) fn columns(
    input: &AdviceInput<'_>,
    sorted: &Sorted<'_>,
    deciding: &Judged<'_>,
    proposal: &Proposal,
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
    let limit_ratio = deciding.model.life(&deciding.input).and_then(|life| {
        let limits = life.ten_in_hundred_failed;
        limits
            .upper
            .zip(limits.lower)
            .filter(|(_, lower)| *lower > 0.0)
            .map(|(u, l)| u / l)
    });
    EvidenceColumns {
        failures: deciding.failures(),
        of_mode: deciding.name().filter(|_| sorted.apart),
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
        caps: caps(input, sorted, proposal),
    }
}

/// Owners who gave lives.
pub(super) fn owners(input: &AdviceInput<'_>) -> usize {
    input
        .lives_per_contributor
        .iter()
        .filter(|lives| **lives > 0)
        .count()
}

fn lives_past(input: &AdviceInput<'_>, age: f64) -> u64 {
    input
        .sample
        .observations()
        .filter(|row| row.lower >= age)
        .map(|row| row.count)
        .sum()
}

fn caps(input: &AdviceInput<'_>, sorted: &Sorted<'_>, proposal: &Proposal) -> Vec<String> {
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
        (
            sorted.mixed(input),
            "Several failure modes were not separated",
        ),
    ]
    .into_iter()
    .filter(|(holds, _)| *holds)
    .map(|(_, why)| why.to_owned())
    .collect()
}
