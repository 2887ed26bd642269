//! Change an airframe's name, usual head speed or note (JSON merge patch, RFC 7396).

use super::store;
use super::view::AirframeView;
use crate::access::{Acting, WriteRecords};
use crate::events::Event;
use crate::platform::http::body::Body;
use crate::platform::http::etag;
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply::{self, bytes_of};
use crate::platform::http::text::{Line, Prose};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Deserializer};
use utoipa::ToSchema;
use wearbook_domain::ids::AirframeId;

/// Absent members stay as they are; null deletes.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AirframeChange {
    /// What you call it.
    #[schema(required = false, nullable = false)]
    pub name: Option<Line<120>>,
    /// Stands in where a flight has no head speed of its own.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<f64>, minimum = 100, maximum = 10000, required = false)]
    pub usual_head_speed_rpm: Option<Option<f64>>,
    /// Free text.
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<Prose<2000>>, required = false)]
    pub note: Option<Option<Prose<2000>>>,
}

/// Tells null (`Some(None)`) from absent (`None`).
fn given<'de, T: Deserialize<'de>, D: Deserializer<'de>>(
    reader: D,
) -> Result<Option<Option<T>>, D::Error> {
    Option::<T>::deserialize(reader).map(Some)
}

/// Changes an airframe.
#[utoipa::path(
    patch, path = "/v1/airframes/{id}", operation_id = "change_airframe", tag = "fleet",
    summary = "Change an airframe",
    description = "Changes name, usual head speed or note. Send the ETag you read as If-Match.",
    params(
        ("id" = AirframeId, Path, description = "Id of the airframe"),
        ("If-Match" = String, Header, description = "The ETag of the airframe as you read it")
    ),
    request_body(content = AirframeChange, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The changed airframe", body = AirframeView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["write-records"]))
)]
pub async fn patch(
    acting: Acting<WriteRecords>,
    id: Id<AirframeId>,
    _: Query<NoParameters>,
    body: Body<AirframeChange>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let owners = acting.owner_uuids();
    let view = pool
        .transaction(async |connection: &mut Connection| {
            let found = store::airframe(connection, &owners, id.0.uuid())
                .await?
                .ok_or_else(Problem::not_found)?;
            store::lock_airframe(connection, found.0.id).await?;
            let (mut row, design) = store::airframe(connection, &owners, id.0.uuid())
                .await?
                .ok_or_else(Problem::not_found)?;
            let present = bytes_of(&AirframeView::of((row.clone(), design.clone()), &acting)?)?;
            etag::require_match(&request, &etag::of(present.as_bytes()))?;
            let change = body.value;
            if let Some(name) = change.name {
                row.name = name.into();
            }
            if let Some(head_speed) = change.usual_head_speed_rpm {
                row.usual_head_speed_rpm = head_speed;
            }
            if let Some(note) = change.note {
                row.note = note.map(Into::into);
            }
            store::update_airframe(connection, &row).await?;
            Event::AirframeUsageChanged(id.0).record(connection).await?;
            AirframeView::of((row, design), &acting)
        })
        .await?;
    reply::changed(&view)
}
