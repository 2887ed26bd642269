use chrono::NaiveDate;
use serde::Deserialize;

use crate::keys::{DesignKey, FailureModeKey, PartTypeKey};

use super::Outcome;

/// A look a few flights after a fit, where assembly faults show.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct SettlingCheck {
    pub done: f64,
    pub from_flights: u32,
    pub to_flights: u32,
    pub catches: f64,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct BadLot {
    pub part_type: PartTypeKey,
    pub lot: String,
    pub normal_lots: Vec<String>,
    pub designs: Vec<DesignKey>,
    pub sold_from: NaiveDate,
    pub sold_to: NaiveDate,
    pub share_of_fits_in_window: f64,
    pub life_factor: f64,
    pub shape_in_lot: f64,
    pub mode: FailureModeKey,
    pub lot_recorded_probability: f64,
}

/// A published instruction that makes careful assembly more common from a day on.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct Notice {
    pub part_type: PartTypeKey,
    pub issued: NaiveDate,
    /// Factor on the share of assembly failures of those who follow it.
    pub factor: f64,
    pub followed_share: f64,
    pub uptake_lag_days_mean: f64,
}

/// A new way to fail that begins on one design in mid-period; a competing life in flight minutes.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct EmergingMode {
    pub part_type: PartTypeKey,
    pub mode: FailureModeKey,
    pub designs: Vec<DesignKey>,
    pub starts: NaiveDate,
    pub affects_share_of_design_aircraft: f64,
    pub shape: f64,
    pub life: f64,
    pub defect_delay_mean: f64,
    pub outcome: Outcome,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct Wobble {
    pub designs: Vec<DesignKey>,
    pub below_rpm: f64,
    pub wobble_per_flight: f64,
    /// Share of wobbles in which the blades strike the boom.
    pub boom_strike: f64,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct Grease {
    pub part_type: PartTypeKey,
    pub compliance: f64,
    pub life_factor_if_never: f64,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct CrashRules {
    /// For this many flights after joining new or after a crash repair the pilot errs more often.
    pub first_flights: u32,
    pub first_flights_factor: f64,
    pub hidden_damage: HiddenDamage,
    pub write_off: f64,
    pub repair_days_median: f64,
    pub repair_days_log_sd: f64,
}

/// What a crash leaves behind in parts that look sound.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct HiddenDamage {
    pub part_types: Vec<PartTypeKey>,
    pub share_of_survivors: f64,
    pub life_factor_after: f64,
}

/// One part that takes another with it when it fails in flight.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct SecondaryDamage {
    pub from: PartTypeKey,
    pub to: PartTypeKey,
    pub mode: FailureModeKey,
    pub chance: f64,
}
