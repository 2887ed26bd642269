//! Enter an airframe.

use super::store::{self, AirframeRow};
use super::view::AirframeView;
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
use wearbook_domain::DesignKey;
use wearbook_domain::ids::{AirframeId, OwnerId};

/// A new airframe.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AirframeDraft {
    /// Your own id for it, for records made offline; made here when absent.
    #[schema(required = false)]
    pub id: Option<AirframeId>,
    /// Who owns it: your account unless you name an organisation of yours.
    #[schema(required = false)]
    pub owner: Option<OwnerId>,
    /// Its design.
    pub design: DesignKey,
    /// What you call it.
    pub name: Line<120>,
    /// Stands in where a flight has no head speed of its own.
    #[schema(minimum = 100, maximum = 10000, required = false, example = 1900)]
    pub usual_head_speed_rpm: Option<f64>,
    /// Free text.
    #[schema(required = false)]
    pub note: Option<Prose<2000>>,
}

/// Enters an airframe in the caller's transaction.
///
/// # Errors
/// `invalid-record` for an unknown design or an owner the caller does not act for.
pub async fn create_airframe(
    connection: &mut Connection,
    actor: &Actor,
    draft: AirframeDraft,
    now: DateTime<Utc>,
) -> Result<AirframeView, Problem> {
    let owner = actor.owner_or_self(draft.owner)?;
    let design = store::design_id(connection, draft.design.as_str())
        .await?
        .ok_or_else(|| {
            Problem::invalid(
                "/design",
                "exists",
                "the key of an aircraft design",
                &draft.design,
            )
        })?;
    let row = AirframeRow {
        id: draft.id.unwrap_or_else(|| AirframeId::new_at(now)).uuid(),
        owner_id: owner.uuid(),
        design_id: design,
        name: draft.name.into(),
        usual_head_speed_rpm: draft.usual_head_speed_rpm,
        note: draft.note.map(Into::into),
        created_at: now,
    };
    store::insert_airframes(connection, std::slice::from_ref(&row)).await?;
    AirframeView::of((row, draft.design.into()), actor)
}

/// Enters an airframe.
#[utoipa::path(
    post, path = "/v1/airframes", operation_id = "create_airframe", tag = "fleet",
    summary = "Enter an airframe",
    description = "Enters one physical helicopter. One that comes with history gets a usage reading next.",
    params(WriteParameters),
    request_body = AirframeDraft,
    responses((status = 201, description = "The new airframe", body = AirframeView)),
    security(("token" = ["write-records"]))
)]
pub async fn post(
    acting: Acting<WriteRecords>,
    body: Body<AirframeDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = create_airframe(connection, &acting, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/airframes/{}", view.id),
                view,
            })
        },
    )
    .await
}
