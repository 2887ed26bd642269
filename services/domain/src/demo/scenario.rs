//! The scenario file as types: who flies what, how parts wear, and how badly people keep records.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use chrono::NaiveDate;
use serde::Deserialize;

use crate::keys::{DesignKey, PartTypeKey};

mod events;
mod habits;
mod part;

pub(super) use events::{BadLot, CrashRules, EmergingMode, Notice, SecondaryDamage};
pub(super) use habits::{Inspection, Reporting, ReportingClass};
pub(super) use part::{CheckGroup, LifeModel, Outcome, Part, PartScale, SeenAs};

const EMBEDDED: &str = include_str!("../../data/demo.json");

/// Everything the generator is told. Change a number and generate again to see what a fit makes of it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// Version of the file's shape.
    pub version: u32,
    /// Says that every person, club, shop, design and number is invented; show it wherever the demo is shown.
    pub notice_to_reader: String,
    /// The same seed gives the same fleet, to the last identifier.
    pub seed: u64,
    /// Flights of all aircraft together over the period, from one light run without crashes.
    pub expected_total_flights_3y: u32,
    pub(super) region: Region,
    pub(super) period: Period,
    pub(super) clubs: Vec<Club>,
    pub(super) shop: Shop,
    pub(super) staff: Vec<Staff>,
    pub(super) styles: BTreeMap<String, Style>,
    pub(super) designs: Vec<Design>,
    pub(super) usage: UsagePattern,
    pub(super) parts: Vec<Part>,
    pub(super) pilots: Vec<PilotPlan>,
    pub(super) aircraft: Vec<AircraftPlan>,
    pub(super) settling_check: events::SettlingCheck,
    pub(super) bad_lot: BadLot,
    pub(super) notice: Notice,
    pub(super) emerging_mode: EmergingMode,
    pub(super) damper_low_speed_wobble: events::Wobble,
    pub(super) grease: events::Grease,
    pub(super) crash: CrashRules,
    pub(super) secondary_damage: Vec<SecondaryDamage>,
    pub(super) reporting: Reporting,
    pub(super) inspection: Inspection,
}

impl Scenario {
    /// The scenario that is built in.
    #[must_use]
    pub fn embedded() -> &'static Self {
        static SCENARIO: LazyLock<Scenario> = LazyLock::new(|| {
            serde_json::from_str(EMBEDDED).expect("the embedded scenario parses, a test reads it")
        });
        &SCENARIO
    }

    /// Last day on which anything is flown.
    #[must_use]
    pub fn last_day(&self) -> NaiveDate {
        self.period.end
    }

    /// Failures and findings over the period by part type, from one light run without crashes; orders of magnitude.
    pub fn expected_events(&self) -> impl Iterator<Item = (&PartTypeKey, u32)> {
        self.parts
            .iter()
            .map(|part| (&part.part_type, part.expected_failures_3y))
    }

    /// Reports that would arrive after this day are not part of the fleet.
    #[must_use]
    pub fn data_cut(&self) -> NaiveDate {
        self.period.data_cut
    }
}

/// Weather and clock of the place.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Region {
    /// Twelve factors on the weekly flights, January first.
    pub month_activity: Vec<f64>,
    pub utc_offset_hours: u32,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Period {
    pub start: NaiveDate,
    pub end: NaiveDate,
    pub data_cut: NaiveDate,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Club {
    pub key: String,
    pub name: String,
    /// Divides the life of parts that feel dust.
    pub dust_factor_bearings: f64,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Shop {
    pub key: String,
    pub name: String,
    pub technicians: Vec<String>,
    /// Factor on the share of assembly failures when the shop does the work.
    pub early_failure_multiplier: f64,
    /// Share of the shop's jobs that reach the records.
    pub records_complete: f64,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Staff {
    pub name: String,
    pub works_for: Option<String>,
    pub role: super::records::DemoRole,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Style {
    pub minutes_mean: f64,
    pub minutes_sd: f64,
    pub shortest_minutes: f64,
    pub hard_share_mean: f64,
    pub hard_share_sd: f64,
    /// Share of the check intervals at which somebody really looks.
    pub check_rate: f64,
    pub pilot_error_per_flight: f64,
    /// Share of power-off landings that do not end in a crash.
    pub power_off_landing_ok: f64,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Design {
    pub key: DesignKey,
    pub name: String,
    pub rotor_class_mm: u32,
    pub drive: super::records::Drive,
    pub first_sold: NaiveDate,
}

/// Flights in a week follow a negative binomial law, so that weeks cluster as they do in life.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct UsagePattern {
    pub dispersion: f64,
    pub weekend_share: f64,
    /// Share of weeks without a flight for no reason of weather, the yearly holiday included.
    pub zero_week_share: f64,
    pub holiday_gap_weeks: (u32, u32),
    /// Share of the flights lost to a broken aircraft that are flown later.
    pub missed_flights_made_up: f64,
    pub made_up_flights_a_day: u32,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PilotPlan {
    pub name: String,
    pub club: String,
    pub style: String,
    /// With the pilot's first aircraft, in a month of activity 1.
    pub flights_per_week: f64,
    pub reporting: ReportingClass,
    pub uses_shop_for_rebuild: bool,
    pub joins: NaiveDate,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AircraftPlan {
    pub name: String,
    pub owner: String,
    pub design: DesignKey,
    pub head_speed_rpm: f64,
    /// This aircraft's flights as a share of the owner's weekly flights; shares need not sum to one.
    pub flight_share: f64,
    pub flights_before_joining: u32,
    pub history_before_joining_known: bool,
}
