//! Systems as they are handed in: units that are repaired and go on, each with the ages at its events.

use crate::platform::http::problem::FieldFault;
use crate::platform::http::text::Line;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use utoipa::ToSchema;
use wearbook_analysis::recurrent::{Histories, HistoryFault, System, Truncation};

/// Each event is a step of the answer.
const MOST_EVENTS: usize = 20_000;

/// One unit, or several with the same history.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SystemDraft {
    /// The unit's name, each once. It is not part of the answer.
    #[schema(required = false)]
    pub unit: Option<Line<100>>,
    /// Ages at its events, in any order; equal ages are several events. Above `watched_from`, at most `watched_to`.
    #[serde(default)]
    #[schema(max_items = 5000, required = false)]
    pub events: Vec<EventAge>,
    /// Age at which watching began: 0 unless said.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 1e12, required = false, example = 0)]
    pub watched_from: f64,
    /// Age at which watching ended: the last event unless said.
    #[schema(minimum = 0, maximum = 1e12, required = false, example = 400)]
    pub watched_to: Option<f64>,
    /// Why watching ended: time where `watched_to` is said, failure where it is not, unless said.
    #[schema(required = false)]
    pub truncation: Option<Truncation>,
    /// How many identical units this one stands for: 1 unless said.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 1000000000, required = false, example = 1)]
    pub count: u64,
}

/// Age at an event.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[schema(as = AgeAtEvent, minimum = 0, maximum = 1e12)]
pub struct EventAge(f64);

fn one() -> u64 {
    1
}

/// The checked systems.
///
/// # Errors
/// Every broken rule with its place.
pub(super) fn read_systems(systems: Vec<SystemDraft>) -> Result<Histories, Vec<FieldFault>> {
    let mut faults = repeated_units(&systems);
    let events: usize = systems.iter().map(|system| system.events.len()).sum();
    if events > MOST_EVENTS {
        let rule = format!("at most {MOST_EVENTS} events in all");
        faults.push(FieldFault::new("/systems", "work", rule, events));
    }
    for (place, system) in systems.iter().enumerate() {
        faults.extend(end_not_said(place, system));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    Histories::new(systems.into_iter().map(SystemDraft::system))
        .map_err(|error| error.faults.into_iter().map(placed).collect())
}

impl SystemDraft {
    fn system(self) -> System {
        let events: Vec<f64> = self.events.iter().map(|age| age.0).collect();
        let usual = match self.watched_to {
            Some(end) => System::watched_to(end, events),
            None => System::until_last_event(events),
        };
        System {
            truncation: self.truncation.unwrap_or(usual.truncation),
            ..usual.from_age(self.watched_from).times(self.count)
        }
    }
}

/// An end that cannot be told from the events must be said.
fn end_not_said(place: usize, system: &SystemDraft) -> Option<FieldFault> {
    let rule = match (system.watched_to, system.truncation) {
        (Some(_), _) => return None,
        (None, Some(Truncation::Time)) => {
            "the age at which watching ended, where truncation is time"
        }
        (None, _) if system.events.is_empty() => {
            "the age at which watching ended, where there are no events"
        }
        (None, _) => return None,
    };
    let pointer = format!("/systems/{place}/watched_to");
    Some(FieldFault::new(pointer, "watched-to", rule, ""))
}

fn repeated_units(systems: &[SystemDraft]) -> Vec<FieldFault> {
    let mut seen = BTreeSet::new();
    let named = systems.iter().enumerate();
    named
        .filter_map(|(place, system)| Some((place, system.unit.as_deref()?)))
        .filter(|(_, unit)| !seen.insert(*unit))
        .map(|(place, unit)| {
            let pointer = format!("/systems/{place}/unit");
            FieldFault::new(pointer, "unique", "each once", unit)
        })
        .collect()
}

/// A fault of the engine in the words of the body.
fn placed(fault: HistoryFault) -> FieldFault {
    let member = match fault.field {
        "start" => "watched_from",
        "end" => "watched_to",
        other => other,
    };
    let mut pointer = format!("/systems/{}/{member}", fault.system);
    if let Some(event) = fault.event {
        pointer.push_str(&format!("/{event}"));
    }
    FieldFault::new(pointer, member, fault.rule, fault.value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    fn read(systems: Value) -> Result<Histories, Vec<String>> {
        let systems: Vec<SystemDraft> = serde_json::from_value(systems).unwrap();
        read_systems(systems)
            .map_err(|faults| faults.into_iter().map(|fault| fault.pointer).collect())
    }

    #[test]
    fn an_end_that_is_not_said_is_the_last_event() {
        let found = read(json!([{"events": [5, 9, 2]}, {"watched_to": 12, "count": 3}])).unwrap();
        let ends: Vec<_> = found
            .systems()
            .iter()
            .map(|system| (system.end, system.truncation, system.count))
            .collect();
        assert_eq!(
            ends,
            [(9.0, Truncation::Failure, 1), (12.0, Truncation::Time, 3)]
        );
    }

    #[test]
    fn watching_to_an_event_may_be_said_to_have_ended_there() {
        let found = read(json!([{"events": [5], "watched_to": 5, "truncation": "failure"}]));
        assert_eq!(found.unwrap().systems()[0].truncation, Truncation::Failure);
        let found = read(json!([{"events": [5], "watched_to": 6, "truncation": "failure"}]));
        assert_eq!(found.unwrap_err(), ["/systems/0/truncation"]);
    }

    #[test]
    fn faults_are_named_by_the_members_of_the_body() {
        let found = read(json!([{"events": [3, 8, 20], "watched_from": 5, "watched_to": 10}]));
        assert_eq!(
            found.unwrap_err(),
            ["/systems/0/events/0", "/systems/0/events/2"]
        );
        let found = read(json!([{"events": [], "watched_from": 5, "watched_to": 4}]));
        assert_eq!(found.unwrap_err(), ["/systems/0/watched_to"]);
        let found = read(json!([
            {"unit": "a", "watched_to": 4}, {"unit": "a"}, {"events": [1], "truncation": "time"}
        ]));
        assert_eq!(
            found.unwrap_err(),
            [
                "/systems/1/unit",
                "/systems/1/watched_to",
                "/systems/2/watched_to"
            ]
        );
    }
}
