//! Failure reports as the API shows them.

use super::store::FailureRow;
use crate::platform::http::problem::Problem;
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_domain::ids::{ComponentId, FailureReportId, InstallationId};
use wearbook_domain::vocabulary::{Discovery, FailureCause, FailureRole, Severity};
use wearbook_domain::{FailureModeKey, PartTypeKey};

/// A component lost a required function, or a defect was found on the way there.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = FailureReport)]
pub struct FailureView {
    /// Id.
    pub id: FailureReportId,
    /// The installation in which it happened.
    pub installation_id: InstallationId,
    /// What failed.
    pub component_id: ComponentId,
    /// What it is.
    pub part_type: PartTypeKey,
    /// The manner in which it failed.
    pub mode: FailureModeKey,
    /// When it failed, or was found.
    pub occurred_at: DateTime<Utc>,
    /// When somebody last looked and found it sound.
    pub last_known_good_at: Option<DateTime<Utc>>,
    /// How it came to light.
    pub discovery: Discovery,
    /// Whether it started the chain.
    pub role: FailureRole,
    /// Why it came about.
    pub cause: FailureCause,
    /// How bad its effect was.
    pub severity: Severity,
    /// Free text.
    #[schema(max_length = 4000)]
    pub detail: Option<String>,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

impl TryFrom<FailureRow> for FailureView {
    type Error = Problem;

    fn try_from(row: FailureRow) -> Result<Self, Problem> {
        Ok(Self {
            id: FailureReportId::from_uuid(row.id),
            installation_id: InstallationId::from_uuid(row.installation_id),
            component_id: ComponentId::from_uuid(row.component_id),
            part_type: row.part_type_key.parse().map_err(Problem::internal)?,
            mode: row.mode_key.parse().map_err(Problem::internal)?,
            occurred_at: row.occurred_at,
            last_known_good_at: row.last_known_good_at,
            discovery: row.discovery.parse().map_err(Problem::internal)?,
            role: row.role.parse().map_err(Problem::internal)?,
            cause: row.cause.parse().map_err(Problem::internal)?,
            severity: row.severity.parse().map_err(Problem::internal)?,
            detail: row.detail,
            created_at: row.created_at,
        })
    }
}
