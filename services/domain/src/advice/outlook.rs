//! What may happen next: the chance of failure over the next flights, for a component that works now.

use super::answer::RiskAhead;
use super::input::AdviceInput;
use super::judged::Judged;
use super::series::{self, Rare};

/// The flights ahead for which the chance is shown.
const FLIGHTS_AHEAD: [f64; 4] = [1.0, 5.0, 10.0, 20.0];

/// The chance at the component's own age, or for a new part, by whatever mode; only as far as something on record
/// was used.
pub(super) fn risk_ahead(
    input: &AdviceInput<'_>,
    judged: &[Judged<'_>],
    rare: Option<&Rare>,
    age: f64,
) -> Vec<RiskAhead> {
    let Some(wear) = input.wear_per_flight() else {
        return Vec::new();
    };
    let level = input.target().level;
    FLIGHTS_AHEAD
        .iter()
        .filter(|flights| age + *flights * wear <= input.sample.longest_usage())
        .filter_map(|flights| {
            let span = flights * wear;
            Some(RiskAhead {
                flights: *flights,
                span,
                chance: series::chance_ahead(judged, rare, age, span),
                upper: series::risk_upper(judged, rare, age, span, level)?,
                level,
            })
        })
        .collect()
}
