use std::collections::BTreeMap;

use serde::Deserialize;

use crate::keys::{DesignKey, FailureModeKey, PartTypeKey};

/// How one part type wears, is looked at, renewed and broken.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct Part {
    pub part_type: PartTypeKey,
    /// Positions of this part type on one aircraft.
    pub per_aircraft: u32,
    pub scale: PartScale,
    pub absent_on_designs: Vec<DesignKey>,
    pub part_numbers: BTreeMap<DesignKey, String>,
    pub wear_out: LifeModel,
    pub early_after_rebuild: Option<EarlyMode>,
    /// How many units of wear one unit of usage costs, by flying style.
    pub style_exposure_factor: BTreeMap<String, f64>,
    pub design_life_factor: BTreeMap<DesignKey, f64>,
    /// Spread between items of one make: standard deviation of the natural logarithm of life.
    pub unit_frailty_log_sd: f64,
    pub failure_seen_as: SeenAs,
    /// Mean wear between a defect becoming visible and the failure; zero where nothing shows beforehand.
    pub defect_delay_mean: f64,
    pub if_not_found: Outcome,
    pub planned_renewal: Option<PlannedRenewal>,
    pub broken_in_crash: f64,
    pub check_group: CheckGroup,
    pub look: Look,
    pub feels_dust: bool,
    /// All of this part type come from one bag and are renewed together.
    pub renewed_together: bool,
    /// Failures and findings over the period from one light run; order of magnitude only.
    pub expected_failures_3y: u32,
}

/// The clock on which the part truly wears.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(in crate::demo) enum PartScale {
    Flights,
    FlightMinutes,
    RotorKrev,
    /// Packs take turns, so one pack is charged once in as many flights as the aircraft has packs.
    ChargeCycles,
}

/// A Weibull life on the part's own scale.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct LifeModel {
    pub mode: FailureModeKey,
    pub shape: f64,
    pub life: f64,
}

/// The share of fits that go wrong soon, and how.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct EarlyMode {
    pub share: f64,
    pub mode: FailureModeKey,
    pub shape: f64,
    pub life: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(in crate::demo) enum SeenAs {
    InFlightFailure,
    InspectionFinding,
}

/// What a failure does to the flight; the shares sum to one.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct Outcome {
    pub crash: f64,
    pub forced_landing: f64,
    pub carries_on: f64,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::demo) struct PlannedRenewal {
    pub at_flights: f64,
    pub followed: f64,
    pub scatter_log_sd: f64,
}

/// Parts that are looked at together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(in crate::demo) enum CheckGroup {
    Links,
    Head,
    Tail,
    Drive,
    Electrics,
}

/// How the part is judged at a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(in crate::demo) enum Look {
    Measured,
    Visual,
    Feel,
}
