//! The fleet as records: plain rows, each ready to be stored, with identifiers that follow from the seed.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};

use crate::history::AgeWhenFitted;
use crate::ids::{
    AccountId, AirframeId, ComponentId, DesignId, FailureReportId, FlightsId, InstallationId,
    OrganisationId, PositionId, ReadingId, RemovalId,
};
use crate::keys::{DesignKey, FailureModeKey, PartTypeKey};
use crate::units::{FlightMinutes, Rpm, Share, Usage};
use crate::vocabulary::{
    Discovery, FailureCause, FailureRole, OrganisationKind, RemovalReason, Severity,
};

pub use crate::vocabulary::{Drive, DurationBasis};

use super::truth::Truth;

/// An invented fleet, sorted by time within each list. Rows point only to rows of lists above their own.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DemoFleet {
    /// Says that all of it is invented; show it wherever the fleet is shown.
    pub notice: String,
    /// Clubs and the shop.
    pub organisations: Vec<DemoOrganisation>,
    /// Pilots, technicians and officers.
    pub accounts: Vec<DemoAccount>,
    /// Who belongs to which organisation.
    pub memberships: Vec<DemoMembership>,
    /// The four invented designs.
    pub designs: Vec<DemoDesign>,
    /// The places on each design where a component sits.
    pub positions: Vec<DemoPosition>,
    /// Every aircraft, those that replace a written-off one included.
    pub airframes: Vec<DemoAirframe>,
    /// What aircraft that had flown before brought along.
    pub readings: Vec<DemoReading>,
    /// Single flights and weekly batches.
    pub flights: Vec<DemoFlights>,
    /// Every item somebody recorded.
    pub components: Vec<DemoComponent>,
    /// Where each item sat, and how that ended.
    pub installations: Vec<DemoInstallation>,
    /// What failed or was found on the way to it.
    pub failures: Vec<DemoFailure>,
    /// What truly happened, in numbers; nobody in the invented world knows it.
    pub truth: Truth,
}

/// A club or the shop.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DemoOrganisation {
    /// Identifier.
    pub id: OrganisationId,
    /// Lower-case words, unique in the scenario.
    pub key: String,
    /// As shown on a page.
    pub name: String,
    /// Club or shop.
    pub kind: OrganisationKind,
    /// When it began to keep records.
    pub since: DateTime<Utc>,
}

/// A person; no address, no secret.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DemoAccount {
    /// Identifier.
    pub id: AccountId,
    /// For instance "Pilot 001".
    pub name: String,
    /// What the person does.
    pub role: DemoRole,
    /// When the person joined.
    pub since: DateTime<Utc>,
}

/// What an invented person does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DemoRole {
    /// Flies, and keeps records of it.
    Pilot,
    /// Works in the shop.
    Technician,
    /// Looks after a club's safety.
    SafetyOfficer,
    /// Reads pooled results.
    Analyst,
    /// Runs the installation.
    Administrator,
}

/// An account belongs to an organisation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DemoMembership {
    /// The person.
    pub account: AccountId,
    /// The club or shop.
    pub organisation: OrganisationId,
    /// In that organisation.
    pub role: DemoRole,
    /// From when on.
    pub since: DateTime<Utc>,
}

/// An aircraft design.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DemoDesign {
    /// Identifier.
    pub id: DesignId,
    /// Key, for instance "basalt".
    pub key: DesignKey,
    /// As shown on a page.
    pub name: String,
    /// Length of a main blade in millimetres.
    pub rotor_class_mm: u32,
    /// How the main rotor is driven.
    pub drive: Drive,
    /// First day of sale.
    pub first_sold: NaiveDate,
}

/// A place on a design.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DemoPosition {
    /// Identifier.
    pub id: PositionId,
    /// The design it belongs to.
    pub design: DesignId,
    /// Lower-case words, unique within the design, for instance "head-damper-1".
    pub key: String,
    /// For instance "head damper 1".
    pub name: String,
    /// What sits there.
    pub part_type: PartTypeKey,
}

/// One helicopter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DemoAirframe {
    /// Identifier.
    pub id: AirframeId,
    /// Whose it is.
    pub owner: AccountId,
    /// What it is.
    pub design: DesignId,
    /// For instance "Aircraft 001"; one that replaces a written-off one says "second".
    pub name: String,
    /// What the owner usually sets; stands in where a flight's head speed was not recorded.
    pub usual_head_speed_rpm: Rpm,
    /// When the records begin; nothing of this airframe is earlier.
    pub joined_at: DateTime<Utc>,
    /// When it was written off.
    pub written_off_at: Option<DateTime<Utc>>,
}

/// Usage of an airframe at a moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DemoReading {
    /// Identifier.
    pub id: ReadingId,
    /// Whose usage.
    pub airframe: AirframeId,
    /// When it was read: the moment of joining.
    pub read_at: DateTime<Utc>,
    /// All scales, or flights only where the history before was not kept.
    pub usage: Usage,
}

/// One flight, or a counted batch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DemoFlights {
    /// Identifier.
    pub id: FlightsId,
    /// Which helicopter flew.
    pub airframe: AirframeId,
    /// Take-off of the flight, or of the last one of a batch.
    pub flown_at: DateTime<Utc>,
    /// Number of flights, at least 1.
    pub count: u32,
    /// All flights of the record together.
    pub duration_minutes: FlightMinutes,
    /// Whether the minutes were kept.
    pub duration_basis: DurationBasis,
    /// Mean over the record, where recorded.
    pub head_speed_rpm: Option<Rpm>,
    /// Share of hard flying, 0 to 1.
    pub hard_share: Share,
}

/// One item.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DemoComponent {
    /// Identifier.
    pub id: ComponentId,
    /// Whose it is.
    pub owner: AccountId,
    /// What it is.
    pub part_type: PartTypeKey,
    /// As ordered; invented.
    pub part_number: Option<String>,
    /// As recorded; invented.
    pub serial: Option<String>,
    /// As recorded; invented.
    pub lot: Option<String>,
}

/// One stay of an item in a position.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DemoInstallation {
    /// Identifier.
    pub id: InstallationId,
    /// The item.
    pub component: ComponentId,
    /// The helicopter.
    pub airframe: AirframeId,
    /// The place.
    pub position: PositionId,
    /// When it went in, or when the records of the airframe begin.
    pub fitted_at: DateTime<Utc>,
    /// What was known of its age then; never carried on, since no item of this fleet moves.
    pub age_when_fitted: AgeWhenFitted,
    /// How the stay ended, if it did.
    pub removed: Option<DemoRemoval>,
}

/// The end of a stay.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DemoRemoval {
    /// Identifier.
    pub id: RemovalId,
    /// When it came out; after `fitted_at`.
    pub at: DateTime<Utc>,
    /// Why, as recorded.
    pub reason: RemovalReason,
    /// A short sentence, or nothing.
    pub note: String,
}

/// A failure report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DemoFailure {
    /// Identifier.
    pub id: FailureReportId,
    /// The item.
    pub component: ComponentId,
    /// The stay in which it happened.
    pub installation: InstallationId,
    /// Within the stay.
    pub occurred_at: DateTime<Utc>,
    /// How it came to light.
    pub discovery: Discovery,
    /// The last recorded look that found it sound, within the stay; only for what a check found.
    pub last_known_good_at: Option<DateTime<Utc>>,
    /// A mode the catalogue knows for the part type.
    pub mode: FailureModeKey,
    /// Whether it started the chain.
    pub role: FailureRole,
    /// As the reporter saw it.
    pub cause: FailureCause,
    /// How bad the effect on the flight was; for a defect found in time, how bad the catalogue says the mode is.
    pub severity: Severity,
    /// A sentence or two.
    pub detail: String,
}
