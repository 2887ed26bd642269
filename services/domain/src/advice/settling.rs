//! Failures that come with fitting: no renewal age helps against them, looks after each fitting do.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::by_mode::ModeVerdict;
use super::input::AdviceInput;
use super::judged::Judged;
use super::modes::Sorted;
use super::wording::plain;
use crate::keys::FailureModeKey;

/// Flights in which a part settles; failures so early are put down to fitting.
const SETTLING_FLIGHTS: f64 = 20.0;

/// What to do about failure modes that come early in a part's life.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SettlingLooks {
    /// The modes that come early.
    pub modes: Vec<FailureModeKey>,
    /// Their failures.
    pub failures: u64,
    /// Share of these that came within 20 flights from new; absent where the wear of one flight is not known.
    pub share_by_20_flights: Option<f64>,
    /// When to look.
    pub looks: String,
    /// Where that comes from.
    pub source: String,
    /// Why, in a sentence or two.
    pub why: String,
}

/// The end of settling on the scale; one unit per flight where the wear of one flight is not known, which is the
/// shorter side on every scale.
pub(super) fn settled_at(input: &AdviceInput<'_>) -> f64 {
    SETTLING_FLIGHTS * input.wear_per_flight().unwrap_or(1.0)
}

/// Share of the failures that came within the settling flights; failures found at a check count when found.
pub(super) fn share_within_settling(input: &AdviceInput<'_>) -> Option<f64> {
    let failures = input.sample.failures();
    input.wear_per_flight()?;
    (failures > 0).then(|| within_settling(input) as f64 / failures as f64)
}

fn within_settling(input: &AdviceInput<'_>) -> u64 {
    let end = settled_at(input);
    let early = |upper: f64| upper.is_finite() && upper <= end;
    input
        .sample
        .observations()
        .filter(|row| early(row.upper))
        .map(|row| row.count)
        .sum()
}

/// Looks after fitting, if any group of failures comes early.
pub(super) fn settling_looks(sorted: &Sorted<'_>, judged: &[Judged<'_>]) -> Option<SettlingLooks> {
    let early: Vec<&Judged<'_>> = judged
        .iter()
        .filter(|group| group.verdict == ModeVerdict::Early && group.failures() > 0)
        .collect();
    let first = early.first()?;
    let failures: u64 = early.iter().map(|group| group.failures()).sum();
    let within: u64 = early
        .iter()
        .map(|group| within_settling(&group.input))
        .sum();
    let share = first
        .input
        .wear_per_flight()
        .map(|_| within as f64 / failures as f64);
    let names: Vec<String> = early
        .iter()
        .filter_map(|group| group.name())
        .map(|name| format!("“{name}”"))
        .collect();
    let of = if names.is_empty() {
        String::new()
    } else {
        format!(" of {}", names.join(", "))
    };
    let when = match share {
        Some(_) => format!(
            "{within} of {}{of} came within the first 20 flights.",
            plain::count(failures, "failure")
        ),
        None => format!(
            "{}{of} came early in the life.",
            plain::count(failures, "failure")
        ),
    };
    let later = if share.is_some_and(|share| share < 0.5) {
        " Ages count from new, so one that follows a later rebuild does not show as early."
    } else {
        ""
    };
    let modes = match early
        .iter()
        .filter_map(|group| group.mode)
        .collect::<Vec<_>>()
    {
        named if named.is_empty() => sorted
            .counts
            .iter()
            .map(|count| count.mode.clone())
            .collect(),
        named => named.into_iter().cloned().collect(),
    };
    Some(SettlingLooks {
        modes,
        failures,
        share_by_20_flights: share,
        looks: "after flights 1, 3 to 5, and 10 of each fitting or rebuild".to_owned(),
        source: "common practice, no source".to_owned(),
        why: format!(
            "{when}{later} A renewal would start such failures anew; looks after each fitting or rebuild meet them."
        ),
    })
}
