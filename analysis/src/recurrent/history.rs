//! Validated histories of repairable systems, in one canonical order.

use std::cmp::Ordering;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::sample::{USAGE_RULE, is_out_of_reach, shown};

/// Totals beyond this are refused: counts are added as floating point numbers without loss only below it.
const MOST_EVENTS: u64 = 1 << 53;

/// Why watching stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = WatchingEnd))]
pub enum Truncation {
    /// At an age that did not depend on the events.
    Time,
    /// At an event, because it happened. That event is then no free observation of the trend.
    Failure,
}

/// One repairable system, or several identical ones, on one usage scale.
///
/// Values are checked when [`Histories`] are built, not here. Ages are 0 or lie between 1e-100 and 1e100, as usages of
/// a sample do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct System {
    /// Age at which watching began; 0 if watched from new.
    pub start: f64,
    /// Age at which watching ended.
    pub end: f64,
    /// Why it ended.
    pub truncation: Truncation,
    /// Ages at the events, in any order; equal ages are several events. Above `start`, at most `end`.
    pub events: Vec<f64>,
    /// How many identical systems this stands for.
    pub count: u64,
}

impl System {
    /// Watched from new to `end`, with events at the ages given.
    #[must_use]
    pub fn watched_to(end: f64, events: impl Into<Vec<f64>>) -> Self {
        Self {
            start: 0.0,
            end,
            truncation: Truncation::Time,
            events: events.into(),
            count: 1,
        }
    }

    /// Watched from new until the last of the events, and no longer because it happened.
    #[must_use]
    pub fn until_last_event(events: impl Into<Vec<f64>>) -> Self {
        let events = events.into();
        Self {
            start: 0.0,
            end: events.iter().copied().fold(0.0, f64::max),
            truncation: Truncation::Failure,
            events,
            count: 1,
        }
    }

    /// The same system, watched only from age `start` on.
    #[must_use]
    pub fn from_age(mut self, start: f64) -> Self {
        self.start = start;
        self
    }

    /// The same system, standing for `count` identical ones.
    #[must_use]
    pub fn times(mut self, count: u64) -> Self {
        self.count = count;
        self
    }
}

/// One value that breaks a rule of [`System`].
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HistoryFault {
    /// Position of the system as given, from 0.
    pub system: usize,
    /// Position of the event within the system as given, from 0, where one event is at fault.
    pub event: Option<usize>,
    /// Name of the field at fault.
    pub field: &'static str,
    /// The rule it breaks.
    pub rule: &'static str,
    /// The value as given, as text.
    pub value: String,
}

/// Every fault found in the systems given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub struct HistoryError {
    /// At least one fault, in the order of the systems.
    pub faults: Vec<HistoryFault>,
}

impl fmt::Display for HistoryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} faults in the histories", self.faults.len())?;
        let Some(first) = self.faults.first() else {
            return Ok(());
        };
        write!(f, "; first: system {}", first.system)?;
        if let Some(event) = first.event {
            write!(f, ", event {event}")?;
        }
        write!(f, ", {} {} but is {}", first.field, first.rule, first.value)
    }
}

/// Systems in canonical order, identical ones merged, the events of each in order of age.
///
/// Any order and any grouping of the same systems gives the same histories, and so bit-identical results.
#[derive(Clone, Debug, PartialEq)]
pub struct Histories {
    systems: Vec<System>,
    count: u64,
    events: u64,
}

impl Histories {
    /// Checks every system and event, then sorts and merges.
    ///
    /// # Errors
    /// All faults of all systems at once, so that a caller can show them together.
    pub fn new(systems: impl IntoIterator<Item = System>) -> Result<Self, HistoryError> {
        let mut faults = Vec::new();
        let mut sound = Vec::new();
        let (mut count, mut events) = (0_u64, 0_u64);
        for (place, system) in systems.into_iter().enumerate() {
            let before = faults.len();
            check(place, &system, &mut faults);
            let own = u64::try_from(system.events.len())
                .ok()
                .and_then(|own| own.checked_mul(system.count));
            let totals = own
                .and_then(|own| Some((count.checked_add(system.count)?, events.checked_add(own)?)));
            match totals {
                Some((all, happened)) if all <= MOST_EVENTS && happened <= MOST_EVENTS => {
                    (count, events) = (all, happened);
                }
                _ => faults.push(HistoryFault {
                    system: place,
                    event: None,
                    field: "count",
                    rule: "must keep the totals of systems and events at or below 2^53",
                    value: system.count.to_string(),
                }),
            }
            if faults.len() == before {
                sound.push(tidy(system));
            }
        }
        if !faults.is_empty() {
            return Err(HistoryError { faults });
        }
        sound.sort_by(canonical_order);
        let mut merged: Vec<System> = Vec::with_capacity(sound.len());
        for system in sound {
            match merged.last_mut() {
                Some(last) if canonical_order(last, &system) == Ordering::Equal => {
                    last.count += system.count;
                }
                _ => merged.push(system),
            }
        }
        Ok(Self {
            systems: merged,
            count,
            events,
        })
    }

    /// The systems in canonical order.
    #[must_use]
    pub fn systems(&self) -> &[System] {
        &self.systems
    }

    /// How many systems there are, each counted as often as it stands for.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.count
    }

    /// How many events there were in all systems.
    #[must_use]
    pub fn events(&self) -> u64 {
        self.events
    }

    /// Longest age watched; 0 without systems. A statement beyond it is an extrapolation.
    #[must_use]
    pub fn longest_age(&self) -> f64 {
        self.systems
            .iter()
            .map(|system| system.end)
            .fold(0.0, f64::max)
    }

    /// Every event with the number of systems it stands for, in order of age within each system.
    pub(crate) fn each_event(&self) -> impl Iterator<Item = (&System, f64, f64)> {
        self.systems.iter().flat_map(|system| {
            let count = system.count as f64;
            system.events.iter().map(move |age| (system, *age, count))
        })
    }

    /// The age to which every system was watched from new, or what stands in the way.
    pub(crate) fn common_end(&self) -> Result<f64, &'static str> {
        let Some(first) = self.systems.first() else {
            return Err("there are no systems");
        };
        if self.systems.iter().any(|system| system.start > 0.0) {
            return Err("some joined late");
        }
        // Ends are copied, never computed, so equal ones have equal bits.
        if self.systems.iter().any(|system| system.end != first.end) {
            return Err("their ends differ");
        }
        Ok(first.end)
    }
}

fn check(place: usize, system: &System, faults: &mut Vec<HistoryFault>) {
    let mut fault = |event: Option<usize>, field, rule, value: String| {
        faults.push(HistoryFault {
            system: place,
            event,
            field,
            rule,
            value,
        });
    };
    if system.count == 0 {
        fault(
            None,
            "count",
            "must be at least 1",
            system.count.to_string(),
        );
    }
    let start_is_sound = system.start.is_finite() && system.start >= 0.0;
    if !start_is_sound {
        fault(
            None,
            "start",
            "must be finite and at least 0",
            shown(system.start),
        );
    }
    for (field, usage) in [("start", system.start), ("end", system.end)] {
        if is_out_of_reach(usage) {
            fault(None, field, USAGE_RULE, shown(usage));
        }
    }
    let end_is_sound = system.end.is_finite() && system.end > 0.0;
    if !end_is_sound {
        fault(None, "end", "must be finite and above 0", shown(system.end));
    } else if start_is_sound && system.end <= system.start {
        fault(None, "end", "must lie above the start", shown(system.end));
    }
    for (event, age) in system.events.iter().enumerate() {
        if !age.is_finite() {
            fault(Some(event), "events", "must be finite", shown(*age));
        } else if is_out_of_reach(*age) {
            fault(Some(event), "events", USAGE_RULE, shown(*age));
        } else if start_is_sound && *age <= system.start {
            fault(
                Some(event),
                "events",
                "must lie above the start of watching",
                shown(*age),
            );
        } else if end_is_sound && *age > system.end {
            fault(
                Some(event),
                "events",
                "must not lie after the end of watching",
                shown(*age),
            );
        }
    }
    let none_at_the_end = end_is_sound && !system.events.contains(&system.end);
    if system.truncation == Truncation::Failure && (system.events.is_empty() || none_at_the_end) {
        fault(
            None,
            "truncation",
            "by failure needs an event at the end",
            shown(system.end),
        );
    }
}

/// Events in order of age; -0 turned into 0, so that equal systems have equal bits.
fn tidy(mut system: System) -> System {
    system.start += 0.0;
    system.events.sort_by(f64::total_cmp);
    system
}

fn canonical_order(a: &System, b: &System) -> Ordering {
    a.end
        .total_cmp(&b.end)
        .then(a.start.total_cmp(&b.start))
        .then(a.truncation.cmp(&b.truncation))
        .then(a.events.len().cmp(&b.events.len()))
        .then_with(|| {
            a.events
                .iter()
                .zip(&b.events)
                .map(|(one, other)| one.total_cmp(other))
                .find(|order| order.is_ne())
                .unwrap_or(Ordering::Equal)
        })
}
