//! Report a failure.

use super::store::{self, FailureRow};
use super::view::FailureView;
use crate::access::{Acting, Actor, WriteRecords};
use crate::events::Event;
use crate::fleet::own_installation;
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::moment::{as_kept, not_in_future};
use crate::platform::http::problem::Problem;
use crate::platform::http::text::Prose;
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::{ComponentId, FailureReportId, InstallationId};
use wearbook_domain::vocabulary::{Discovery, FailureCause, FailureRole, Severity};
use wearbook_domain::{FailureModeKey, catalogue};

/// A new failure report.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FailureDraft {
    /// Your own id for it, for records made offline; made here when absent.
    #[schema(required = false)]
    pub id: Option<FailureReportId>,
    /// The installation in which it happened.
    pub installation_id: InstallationId,
    /// When it failed, or was found.
    pub occurred_at: DateTime<Utc>,
    /// When somebody last looked and found it sound.
    #[schema(required = false)]
    pub last_known_good_at: Option<DateTime<Utc>>,
    /// How it came to light.
    pub discovery: Discovery,
    /// The manner in which it failed: one of the part type's modes.
    pub mode: FailureModeKey,
    /// Whether it started the chain: `primary` unless said.
    #[schema(required = false)]
    pub role: Option<FailureRole>,
    /// Why it came about: `unknown` unless said.
    #[schema(required = false)]
    pub cause: Option<FailureCause>,
    /// How bad its effect was: the usual one of its mode unless said.
    #[schema(required = false)]
    pub severity: Option<Severity>,
    /// Free text.
    #[schema(required = false)]
    pub detail: Option<Prose<4000>>,
}

/// Reports a failure in the caller's transaction.
///
/// # Errors
/// `invalid-record` for a foreign installation or a mode the part type does not have, `outside-installation` for a wrong time.
pub async fn report_failure(
    connection: &mut Connection,
    actor: &Actor,
    draft: FailureDraft,
    now: DateTime<Utc>,
) -> Result<FailureView, Problem> {
    let occurred_at = not_in_future("/occurred_at", draft.occurred_at, now)?;
    let installation = own_installation(connection, actor, draft.installation_id).await?;
    let part_type = store::part_type_of(connection, installation.component_id).await?;
    let key = part_type.parse().map_err(Problem::internal)?;
    let mode = catalogue()
        .part_type(&key)
        .and_then(|part| part.failure_mode(&draft.mode))
        .ok_or_else(|| {
            Problem::invalid(
                "/mode",
                "exists",
                format!("a failure mode of the part type {part_type}"),
                &draft.mode,
            )
        })?;
    let row = FailureRow {
        id: draft
            .id
            .unwrap_or_else(|| FailureReportId::new_at(now))
            .uuid(),
        owner_id: installation.owner_id,
        installation_id: installation.id,
        component_id: installation.component_id,
        part_type_key: part_type,
        mode_key: draft.mode.to_string(),
        occurred_at,
        last_known_good_at: draft.last_known_good_at.map(as_kept),
        discovery: draft.discovery.code().to_owned(),
        role: draft.role.unwrap_or(FailureRole::Primary).code().to_owned(),
        cause: draft
            .cause
            .unwrap_or(FailureCause::Unknown)
            .code()
            .to_owned(),
        severity: draft.severity.unwrap_or(mode.severity).code().to_owned(),
        detail: draft.detail.map(Into::into),
        created_at: now,
    };
    store::insert_failures(connection, std::slice::from_ref(&row)).await?;
    Event::ComponentHistoryChanged(ComponentId::from_uuid(installation.component_id))
        .record(connection)
        .await?;
    row.try_into()
}

/// Reports a failure.
#[utoipa::path(
    post, path = "/v1/failure-reports", operation_id = "report_failure", tag = "failures",
    summary = "Report a failure", description = "A component lost a required function, was found having lost it, or shows a defect on the way there. Only a primary failure counts against its life.",
    params(WriteParameters),
    request_body = FailureDraft,
    responses((status = 201, description = "The report", body = FailureView)),
    security(("token" = ["write-records"]))
)]
pub async fn post(
    acting: Acting<WriteRecords>,
    body: Body<FailureDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = report_failure(connection, &acting, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/failure-reports/{}", view.id),
                view,
            })
        },
    )
    .await
}
