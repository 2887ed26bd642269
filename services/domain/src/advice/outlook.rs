//! What may happen next: the chance of failure over the next flights, for a component that works now.

use super::answer::RiskAhead;
use super::curve::Curve;
use super::input::AdviceInput;
use super::model::Model;

/// The flights ahead for which the chance is shown.
const FLIGHTS_AHEAD: [f64; 4] = [1.0, 5.0, 10.0, 20.0];

/// The chance at the component's own age, or for a new part; only as far as something on record was used.
pub(super) fn risk_ahead(
    input: &AdviceInput<'_>,
    model: &Model,
    curve: Option<&Curve<'_>>,
    age: f64,
) -> Vec<RiskAhead> {
    let (Some(curve), Some(wear)) = (curve, input.wear_per_flight()) else {
        return Vec::new();
    };
    FLIGHTS_AHEAD
        .iter()
        .filter(|flights| age + *flights * wear <= input.sample.longest_usage())
        .filter_map(|flights| {
            let span = flights * wear;
            Some(RiskAhead {
                flights: *flights,
                span,
                chance: model.chance_ahead(age, span),
                upper: curve.risk_upper(age, span)?,
                level: input.target().level,
            })
        })
        .collect()
}
