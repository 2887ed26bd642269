//! Take a component off. The reason is mandatory: it decides how the life ended.

use super::ownership::own_installation;
use super::store::{self, RemovalRow};
use super::view::RemovalView;
use crate::access::{Acting, Actor, WriteRecords};
use crate::events::Event;
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::moment::not_in_future;
use crate::platform::http::problem::Problem;
use crate::platform::http::text::Prose;
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::{ComponentId, InstallationId, RemovalId};
use wearbook_domain::vocabulary::RemovalReason;

/// An installation ends.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RemovalDraft {
    /// Your own id for it, for records made offline; made here when absent.
    #[schema(required = false)]
    pub id: Option<RemovalId>,
    /// What ends.
    pub installation_id: InstallationId,
    /// When.
    pub removed_at: DateTime<Utc>,
    /// Why.
    pub reason: RemovalReason,
    /// Free text.
    #[schema(required = false)]
    pub note: Option<Prose<2000>>,
}

/// Ends an installation in the caller's transaction.
///
/// # Errors
/// `already-removed`, or `outside-installation` for a time before the fitting or before a failure that was reported.
pub async fn remove(
    connection: &mut Connection,
    actor: &Actor,
    draft: RemovalDraft,
    now: DateTime<Utc>,
) -> Result<RemovalView, Problem> {
    let removed_at = not_in_future("/removed_at", draft.removed_at, now)?;
    let installation = own_installation(connection, actor, draft.installation_id).await?;
    let row = RemovalRow {
        id: draft.id.unwrap_or_else(|| RemovalId::new_at(now)).uuid(),
        owner_id: installation.owner_id,
        installation_id: installation.id,
        removed_at,
        reason: draft.reason.code().to_owned(),
        note: draft.note.map(Into::into),
        created_at: now,
    };
    store::insert_removals(connection, std::slice::from_ref(&row)).await?;
    store::end_installation(connection, installation.id, removed_at).await?;
    Event::ComponentHistoryChanged(ComponentId::from_uuid(installation.component_id))
        .record(connection)
        .await?;
    row.try_into()
}

/// Ends an installation.
#[utoipa::path(
    post, path = "/v1/removals", operation_id = "remove_component", tag = "fleet",
    summary = "Take a component off", description = "Ends an installation. The reason is mandatory: it decides whether the life ended with a failure or only with the end of watching.",
    params(WriteParameters),
    request_body = RemovalDraft,
    responses((status = 201, description = "The removal", body = RemovalView)),
    security(("token" = ["write-records"]))
)]
pub async fn post(
    acting: Acting<WriteRecords>,
    body: Body<RemovalDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = remove(connection, &acting, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/removals/{}", view.id),
                view,
            })
        },
    )
    .await
}
