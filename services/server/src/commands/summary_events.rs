//! Recurring events in plain text.

use super::read_events::UnitHistory;
use super::summary_figures::{age, columns, counted};
use std::fmt::Write;

/// More units than this are counted, not listed.
const MOST_UNITS: usize = 40;

/// What was read, a line for each unit.
pub fn events_summary(units: &[UnitHistory]) -> String {
    let mut text = String::new();
    let total: usize = units.iter().map(|unit| unit.events.len()).sum();
    let _ = writeln!(
        text,
        "{} with {}.\n",
        counted(units.len() as u64, "unit", "units"),
        counted(total as u64, "event", "events")
    );
    let mut rows = vec![["unit", "events", "watched to"].map(str::to_owned).to_vec()];
    rows.extend(units.iter().take(MOST_UNITS).map(|unit| {
        let last = unit.events.last().copied();
        vec![
            unit.unit.clone(),
            unit.events.len().to_string(),
            match (unit.watched_to, last) {
                (Some(end), _) => age(end),
                (None, Some(last)) => format!("{} (its last event)", age(last)),
                (None, None) => "-".to_owned(),
            },
        ]
    }));
    text.push_str(&columns(&rows));
    if units.len() > MOST_UNITS {
        let _ = writeln!(text, "and {} more.", units.len() - MOST_UNITS);
    }
    text
}
