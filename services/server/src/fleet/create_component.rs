//! Enter a component.

use super::store::{self, ComponentRow};
use super::view::ComponentView;
use crate::access::{Acting, Actor, WriteRecords};
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::problem::Problem;
use crate::platform::http::text::{Line, Prose};
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::{ComponentId, OwnerId};
use wearbook_domain::{PartTypeKey, catalogue};

/// A new component.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ComponentDraft {
    /// Your own id for it, for records made offline; made here when absent.
    #[schema(required = false)]
    pub id: Option<ComponentId>,
    /// Who owns it: your account unless you name an organisation of yours.
    #[schema(required = false)]
    pub owner: Option<OwnerId>,
    /// What it is.
    pub part_type: PartTypeKey,
    /// The orderable item.
    #[schema(required = false)]
    pub part_number: Option<Line<80>>,
    /// The number on this one.
    #[schema(required = false)]
    pub serial: Option<Line<80>>,
    /// The production batch.
    #[schema(required = false)]
    pub lot: Option<Line<80>>,
    /// Free text.
    #[schema(required = false)]
    pub note: Option<Prose<2000>>,
}

/// Enters a component in the caller's transaction.
///
/// # Errors
/// `invalid-record` for an unknown part type or an owner the caller does not act for.
pub async fn create_component(
    connection: &mut Connection,
    actor: &Actor,
    draft: ComponentDraft,
    now: DateTime<Utc>,
) -> Result<ComponentView, Problem> {
    let owner = actor.owner_or_self(draft.owner)?;
    if catalogue().part_type(&draft.part_type).is_none() {
        return Err(Problem::invalid(
            "/part_type",
            "exists",
            "a part type of the catalogue",
            &draft.part_type,
        ));
    }
    let row = ComponentRow {
        id: draft.id.unwrap_or_else(|| ComponentId::new_at(now)).uuid(),
        owner_id: owner.uuid(),
        part_type_key: draft.part_type.into(),
        part_number: draft.part_number.map(Into::into),
        serial: draft.serial.map(Into::into),
        lot: draft.lot.map(Into::into),
        note: draft.note.map(Into::into),
        created_at: now,
    };
    store::insert_components(connection, std::slice::from_ref(&row)).await?;
    ComponentView::of(row, actor)
}

/// Enters a component.
#[utoipa::path(
    post, path = "/v1/components", operation_id = "create_component", tag = "fleet",
    summary = "Enter a component", description = "Enters one physical item, with or without a serial. Its life begins when it is fitted.",
    params(WriteParameters),
    request_body = ComponentDraft,
    responses((status = 201, description = "The new component", body = ComponentView)),
    security(("token" = ["write-records"]))
)]
pub async fn post(
    acting: Acting<WriteRecords>,
    body: Body<ComponentDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = create_component(connection, &acting, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/components/{}", view.id),
                view,
            })
        },
    )
    .await
}
