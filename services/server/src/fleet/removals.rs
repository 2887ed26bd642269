//! Look removals up.

use super::store;
use super::view::RemovalView;
use crate::access::{Acting, ReadOwn};
use crate::platform::http::paging::{CursorKey, Page, PageParameters};
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use wearbook_domain::ids::RemovalId;

/// The caller's removals.
#[utoipa::path(
    get, path = "/v1/removals", operation_id = "list_removals", tag = "fleet",
    summary = "List removals", description = "How installations on your airframes ended.",
    params(PageParameters),
    responses((status = 200, description = "A page of removals", body = Page<RemovalView>)),
    security(("token" = ["read-own"]))
)]
pub async fn list(
    acting: Acting<ReadOwn>,
    parameters: Query<PageParameters>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let binding = format!("removals {}", acting.account);
    let window = key.window(parameters.0.limit, parameters.0.cursor.as_deref(), binding)?;
    let rows =
        store::removals_after(&mut *pool.get().await?, &acting.owner_uuids(), &window).await?;
    reply::list(
        &request,
        &key.page(&window, rows, |row| row.id, RemovalView::try_from)?,
    )
}

/// One removal.
#[utoipa::path(
    get, path = "/v1/removals/{id}", operation_id = "show_removal", tag = "fleet",
    summary = "Show a removal", description = "How one installation ended.",
    params(("id" = RemovalId, Path, description = "Id of the removal")),
    responses((status = 200, description = "The removal", body = RemovalView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<RemovalId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let found = store::removal(&mut *pool.get().await?, &acting.owner_uuids(), id.0.uuid()).await?;
    reply::record(
        &request,
        &RemovalView::try_from(found.ok_or_else(Problem::not_found)?)?,
    )
}
