//! Look readings up.

use super::flights::AirframeFilter;
use super::store;
use super::view::ReadingView;
use crate::access::{Acting, ReadOwn};
use crate::platform::http::paging::{CursorKey, Page};
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use wearbook_domain::ids::{AirframeId, ReadingId};

/// The caller's readings.
#[utoipa::path(
    get, path = "/v1/usage-readings", operation_id = "list_usage_readings", tag = "usage",
    summary = "List usage readings", description = "Readings of your airframes, in the order they were entered.",
    params(AirframeFilter),
    responses((status = 200, description = "A page of readings", body = Page<ReadingView>)),
    security(("token" = ["read-own"]))
)]
pub async fn list(
    acting: Acting<ReadOwn>,
    filter: Query<AirframeFilter>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let filter = filter.0;
    let binding = format!("usage readings {} {:?}", acting.account, filter.airframe_id);
    let window = key.window(filter.limit, filter.cursor.as_deref(), binding)?;
    let airframe = filter.airframe_id.map(AirframeId::uuid);
    let rows = store::readings_after(
        &mut *pool.get().await?,
        &acting.owner_uuids(),
        airframe,
        &window,
    )
    .await?;
    reply::list(
        &request,
        &key.page(&window, rows, |row| row.id, ReadingView::try_from)?,
    )
}

/// One reading.
#[utoipa::path(
    get, path = "/v1/usage-readings/{id}", operation_id = "show_usage_reading", tag = "usage",
    summary = "Show a usage reading", description = "One reading of an airframe of yours.",
    params(("id" = ReadingId, Path, description = "Id of the reading")),
    responses((status = 200, description = "The reading", body = ReadingView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<ReadingId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let found = store::reading(&mut *pool.get().await?, &acting.owner_uuids(), id.0.uuid()).await?;
    reply::record(
        &request,
        &ReadingView::try_from(found.ok_or_else(Problem::not_found)?)?,
    )
}
