//! Make an organisation.

use super::actor::{Acting, Administer};
use super::store::{self, OrganisationRow};
use super::view::OrganisationView;
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::problem::{FieldFault, Problem};
use crate::platform::http::text::Line;
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::{AccountId, OrganisationId};
use wearbook_domain::vocabulary::OrganisationKind;

/// A new organisation.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OrganisationDraft {
    /// What it is.
    pub kind: OrganisationKind,
    /// Its name.
    #[schema(example = "Club North Field (invented)")]
    pub name: Line<120>,
    /// The accounts that belong to it from the start.
    #[serde(default)]
    #[schema(max_items = 500, required = false)]
    pub members: Vec<AccountId>,
}

/// Makes an organisation in the caller's transaction.
///
/// # Errors
/// `invalid-record` naming every member that is not an account.
pub async fn create_organisation(
    connection: &mut Connection,
    draft: OrganisationDraft,
    now: DateTime<Utc>,
) -> Result<OrganisationView, Problem> {
    let mut members = draft.members;
    members.sort_unstable();
    members.dedup();
    let unknown = store::unknown_accounts(connection, &members).await?;
    if !unknown.is_empty() {
        let faults = unknown
            .iter()
            .map(|id| FieldFault::new("/members", "exists", "an account that exists", id));
        return Err(Problem::invalid_all(faults.collect()));
    }
    let row = OrganisationRow {
        id: OrganisationId::new_at(now).uuid(),
        kind: draft.kind.code().to_owned(),
        name: draft.name.into(),
        created_at: now,
    };
    store::insert_organisation(connection, &row, &members).await?;
    row.try_into()
}

/// Makes an organisation.
#[utoipa::path(
    post, path = "/v1/organisations", operation_id = "create_organisation", tag = "access",
    summary = "Make an organisation", description = "Makes a club, a repair shop or a distributor with its first members.",
    params(WriteParameters),
    request_body = OrganisationDraft,
    responses((status = 201, description = "The new organisation", body = OrganisationView)),
    security(("token" = ["administer"]))
)]
pub async fn post(
    acting: Acting<Administer>,
    body: Body<OrganisationDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = create_organisation(connection, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/organisations/{}", view.id),
                view,
            })
        },
    )
    .await
}
