//! What the records say of each failure mode.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::answer::{EstimateWithLimits, InspectionVerdict, ReplacementBasis};
use super::input::{AdviceInput, ModeCount};
use super::inspection::look_of;
use super::judged::{Judged, name_of};
use super::modes::Sorted;
use super::wording::plain;
use crate::keys::FailureModeKey;

/// What the shape of a mode says of wear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ModeVerdict {
    /// Older parts fail more: renewal by age can help.
    WearsOut,
    /// The records also fit parts that do not wear: look, do not renew by age.
    NoClearWear,
    /// Young parts fail more: look after each fitting.
    Early,
}

/// What the records say of one failure mode, the others taken as still sound when they ended.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModeAdvice {
    /// The mode.
    pub mode: FailureModeKey,
    /// The mode in words.
    pub name: String,
    /// Its failures that enter a model; the leading mode includes those of unstated manner.
    pub failures: u64,
    /// Whether it was judged by itself; all else is absent if not.
    pub judged: bool,
    /// The Weibull shape with two-sided limits; absent where it was not fitted.
    pub shape: Option<EstimateWithLimits>,
    /// What that says of wear.
    pub verdict: Option<ModeVerdict>,
    /// The renewal age this mode alone gives, before it is held against common practice; absent without wear.
    pub renewal_age: Option<f64>,
    /// What this mode alone asks of the next look, at the age of the inspection advice.
    pub look: Option<InspectionVerdict>,
    /// The span to that look; absent unless it is one.
    pub span: Option<f64>,
    /// The same in sentences.
    pub why: String,
}

/// One entry for each mode on record, most failures first.
pub(super) fn by_mode(
    input: &AdviceInput<'_>,
    sorted: &Sorted<'_>,
    judged: &[Judged<'_>],
    age: f64,
) -> Vec<ModeAdvice> {
    let only = !sorted.apart && sorted.counts.len() == 1;
    sorted
        .counts
        .iter()
        .map(|count| {
            judged
                .iter()
                .find(|group| only || group.mode == Some(&count.mode))
                .map_or_else(
                    || not_judged(input, sorted, count),
                    |group| by_itself(input, count, group, age),
                )
        })
        .collect()
}

fn by_itself(
    input: &AdviceInput<'_>,
    count: &ModeCount,
    group: &Judged<'_>,
    age: f64,
) -> ModeAdvice {
    let proposal = &group.proposal;
    let (look, span) = look_of(input, group.curve().as_ref(), age);
    let from_records = proposal.basis != ReplacementBasis::CommonPractice;
    ModeAdvice {
        mode: count.mode.clone(),
        name: name_of(input.part_type, &count.mode),
        failures: count.failures,
        judged: true,
        shape: group.model.shape(),
        verdict: Some(group.verdict),
        renewal_age: proposal.age.filter(|_| from_records),
        look: Some(look),
        span,
        why: if group.comes_with_fitting() {
            format!(
                "{} Its best shape lies below 1 and it comes with fitting: look after each fitting too.",
                proposal.why
            )
        } else {
            proposal.why.clone()
        },
    }
}

fn not_judged(input: &AdviceInput<'_>, sorted: &Sorted<'_>, count: &ModeCount) -> ModeAdvice {
    let least = input.policy.fewest_failures_for_a_fit;
    let seen = plain::count(count.failures, "failure");
    ModeAdvice {
        mode: count.mode.clone(),
        name: name_of(input.part_type, &count.mode),
        failures: count.failures,
        judged: false,
        shape: None,
        verdict: None,
        renewal_age: None,
        look: None,
        span: None,
        why: if sorted.apart {
            format!(
                "With {seen} it is counted, but does not decide; from {least} on it is judged by itself."
            )
        } else {
            format!("No mode has {least} failures, so all are taken together.")
        },
    }
}
