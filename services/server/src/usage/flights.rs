//! Look flights up.

use super::store;
use super::view::FlightsView;
use crate::access::{Acting, ReadOwn};
use crate::platform::http::paging::{CursorKey, Page};
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::Deserialize;
use utoipa::IntoParams;
use wearbook_domain::ids::{AirframeId, FlightsId};

/// Whose usage.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AirframeFilter {
    /// Only of this airframe.
    pub airframe_id: Option<AirframeId>,
    /// Rows on a page: 50 unless said, at most 500 (more is cut).
    #[param(minimum = 1)]
    pub limit: Option<i64>,
    /// The `next` of the page before.
    #[param(max_length = 200)]
    pub cursor: Option<String>,
}

/// The caller's flights.
#[utoipa::path(
    get, path = "/v1/flights", operation_id = "list_flights", tag = "usage",
    summary = "List flights", description = "Flights of your airframes, in the order they were entered.",
    params(AirframeFilter),
    responses((status = 200, description = "A page of flights", body = Page<FlightsView>)),
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
    let binding = format!("flights {} {:?}", acting.account, filter.airframe_id);
    let window = key.window(filter.limit, filter.cursor.as_deref(), binding)?;
    let airframe = filter.airframe_id.map(AirframeId::uuid);
    let rows = store::flights_after(
        &mut *pool.get().await?,
        &acting.owner_uuids(),
        airframe,
        &window,
    )
    .await?;
    reply::list(
        &request,
        &key.page(&window, rows, |row| row.id, FlightsView::try_from)?,
    )
}

/// One record of flights.
#[utoipa::path(
    get, path = "/v1/flights/{id}", operation_id = "show_flights", tag = "usage",
    summary = "Show a record of flights", description = "One flight or counted batch of an airframe of yours.",
    params(("id" = FlightsId, Path, description = "Id of the record")),
    responses((status = 200, description = "The flights", body = FlightsView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<FlightsId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let found = store::flights(&mut *pool.get().await?, &acting.owner_uuids(), id.0.uuid()).await?;
    reply::record(
        &request,
        &FlightsView::try_from(found.ok_or_else(Problem::not_found)?)?,
    )
}
