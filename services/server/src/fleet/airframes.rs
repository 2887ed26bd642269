//! Look airframes up.

use super::store;
use super::view::AirframeView;
use crate::access::{Acting, ReadOwn};
use crate::platform::http::paging::{CursorKey, Page, PageParameters};
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use wearbook_domain::ids::AirframeId;

/// The caller's airframes.
#[utoipa::path(
    get, path = "/v1/airframes", operation_id = "list_airframes", tag = "fleet",
    summary = "List airframes", description = "Your airframes and those of your organisations.",
    params(PageParameters),
    responses((status = 200, description = "A page of airframes", body = Page<AirframeView>)),
    security(("token" = ["read-own"]))
)]
pub async fn list(
    acting: Acting<ReadOwn>,
    parameters: Query<PageParameters>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let binding = format!("airframes {}", acting.account);
    let window = key.window(parameters.0.limit, parameters.0.cursor.as_deref(), binding)?;
    let rows =
        store::airframes_after(&mut *pool.get().await?, &acting.owner_uuids(), &window).await?;
    reply::list(
        &request,
        &key.page(
            &window,
            rows,
            |(row, _)| row.id,
            |found| AirframeView::of(found, &acting),
        )?,
    )
}

/// One airframe.
#[utoipa::path(
    get, path = "/v1/airframes/{id}", operation_id = "show_airframe", tag = "fleet",
    summary = "Show an airframe", description = "One airframe of yours.",
    params(("id" = AirframeId, Path, description = "Id of the airframe")),
    responses((status = 200, description = "The airframe", body = AirframeView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<AirframeId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let found =
        store::airframe(&mut *pool.get().await?, &acting.owner_uuids(), id.0.uuid()).await?;
    reply::record(
        &request,
        &AirframeView::of(found.ok_or_else(Problem::not_found)?, &acting)?,
    )
}
