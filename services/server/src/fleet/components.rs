//! Look components up.

use super::store;
use super::view::ComponentView;
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
use wearbook_domain::PartTypeKey;
use wearbook_domain::ids::ComponentId;

/// Which components.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ComponentFilter {
    /// Only this part type.
    pub part_type: Option<PartTypeKey>,
    /// Rows on a page: 50 unless said, at most 500 (more is cut).
    #[param(minimum = 1)]
    pub limit: Option<i64>,
    /// The `next` of the page before.
    #[param(max_length = 200)]
    pub cursor: Option<String>,
}

/// The caller's components.
#[utoipa::path(
    get, path = "/v1/components", operation_id = "list_components", tag = "fleet",
    summary = "List components", description = "Your components and those of your organisations, on airframes and on the shelf.",
    params(ComponentFilter),
    responses((status = 200, description = "A page of components", body = Page<ComponentView>)),
    security(("token" = ["read-own"]))
)]
pub async fn list(
    acting: Acting<ReadOwn>,
    filter: Query<ComponentFilter>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let part_type = filter.0.part_type.as_ref().map(PartTypeKey::as_str);
    let binding = format!("components {} {}", acting.account, part_type.unwrap_or("*"));
    let window = key.window(filter.0.limit, filter.0.cursor.as_deref(), binding)?;
    let rows = store::components_after(
        &mut *pool.get().await?,
        &acting.owner_uuids(),
        part_type,
        &window,
    )
    .await?;
    reply::list(
        &request,
        &key.page(
            &window,
            rows,
            |row| row.id,
            |row| ComponentView::of(row, &acting),
        )?,
    )
}

/// One component.
#[utoipa::path(
    get, path = "/v1/components/{id}", operation_id = "show_component", tag = "fleet",
    summary = "Show a component", description = "One component of yours.",
    params(("id" = ComponentId, Path, description = "Id of the component")),
    responses((status = 200, description = "The component", body = ComponentView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<ComponentId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let found =
        store::component(&mut *pool.get().await?, &acting.owner_uuids(), id.0.uuid()).await?;
    reply::record(
        &request,
        &ComponentView::of(found.ok_or_else(Problem::not_found)?, &acting)?,
    )
}
