use std::collections::BTreeMap;

use serde::Deserialize;

use super::part::{CheckGroup, Look};

/// How well a pilot keeps the flight log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(in crate::demo) enum ReportingClass {
    /// A record for every flight, hardly any missing.
    Full,
    /// One rounded number a week.
    Batch,
    /// A record for every flight, with gaps of weeks.
    Patchy,
}

/// The layer between what happened and what the records say.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct Reporting {
    pub delay_days_median: f64,
    pub delay_days_log_sd: f64,
    pub never_reported: NeverReported,
    pub classes: BTreeMap<ReportingClass, ClassHabits>,
    /// Share of reported removals, failures in flight apart, whose reason nobody gives.
    pub removal_cause_unknown: f64,
    pub cause_recorded: f64,
    pub serial_recorded: f64,
    pub fit_date_unknown_at_join: f64,
    pub head_speed_recorded: f64,
    pub minutes_recorded: f64,
    pub attention_after_notice: Attention,
}

/// Shares of events of which no record is ever made; the records then run on as if nothing had been done.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct NeverReported {
    pub in_flight_failure: f64,
    pub inspection_finding: f64,
    pub planned_renewal: f64,
    pub crash_damage: f64,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct ClassHabits {
    pub flights_missing: f64,
    /// Share of failure reports found at a check that say when the part was last seen sound.
    pub looks_recorded: f64,
    pub rounded_to: Option<u32>,
    pub gap_weeks: Option<(u32, u32)>,
}

/// For some weeks after a notice more findings on the noticed part are reported, though nothing got worse.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct Attention {
    pub factor: f64,
    pub weeks: u32,
}

/// How often and how well parts are looked at.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct Inspection {
    pub detects_visible_defect: BTreeMap<Look, f64>,
    /// Share of checks that condemn one sound part.
    pub false_alarm_per_check: f64,
    /// Chance after each flight that a part which failed unnoticed is seen to have failed.
    pub noticed_after_flight: f64,
    pub interval_flights: BTreeMap<CheckGroup, u32>,
}
