//! What happened to one component, as recorded: the facts from which its life is derived.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::ids::{AirframeId, ComponentId, FailureReportId, InstallationId, RemovalId};
use crate::keys::{FailureModeKey, PartTypeKey};
use crate::units::Usage;
use crate::vocabulary::{Discovery, FailureRole, RemovalReason, Severity};

/// Everything recorded about one component, in any order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ComponentHistory {
    /// The physical item.
    pub component: ComponentId,
    /// What it is.
    pub part_type: PartTypeKey,
    /// Its stays in airframes.
    pub fittings: Vec<Fitting>,
    /// What was reported to have failed, or to be on the way to it.
    pub failures: Vec<FailureEvent>,
}

/// One stay of the component in a position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fitting {
    /// The record of the stay.
    pub installation: InstallationId,
    /// Where it sat.
    pub airframe: AirframeId,
    /// When it went in.
    pub fitted_at: DateTime<Utc>,
    /// What was known of its age at that moment.
    pub age_when_fitted: AgeWhenFitted,
    /// What the airframe had done by then.
    pub airframe_usage_when_fitted: Usage,
    /// How the stay ended; absent while it is still fitted.
    pub ended: Option<FittingEnd>,
    /// What the airframe has done by the latest reading; read only while the component is still fitted.
    pub airframe_usage_now: Usage,
}

/// What was known of a component's age when it went in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "basis", content = "usage")]
pub enum AgeWhenFitted {
    /// It was new.
    New,
    /// It was used, by this much.
    Known(Usage),
    /// It was used, and nobody knows how much.
    Unknown,
    /// It came from an earlier stay of this history and brings its age along.
    CarriedOn,
}

/// The event that ended a stay.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FittingEnd {
    /// The record of the removal.
    pub removal: RemovalId,
    /// When it came off.
    pub at: DateTime<Utc>,
    /// What the airframe had done by then.
    pub airframe_usage: Usage,
    /// Why.
    pub reason: RemovalReason,
}

/// A report that the component lost a function, or was found on the way to it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FailureEvent {
    /// The record.
    pub report: FailureReportId,
    /// The stay during which it happened.
    pub installation: InstallationId,
    /// When it happened or was found.
    pub at: DateTime<Utc>,
    /// What the airframe had done by then.
    pub airframe_usage: Usage,
    /// How it came to light.
    pub discovery: Discovery,
    /// What the airframe had done at the last look that found the component sound, if there was one in this stay.
    pub last_known_good: Option<Usage>,
    /// The manner of the failure.
    pub mode: FailureModeKey,
    /// Whether it started the chain of events.
    pub role: FailureRole,
    /// How bad its effect was.
    pub severity: Severity,
}
