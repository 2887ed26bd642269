//! Look installations up.

use super::store;
use super::view::InstallationView;
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
use wearbook_domain::ids::{AirframeId, ComponentId, InstallationId};

/// Which installations.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct InstallationFilter {
    /// Only of this component.
    pub component_id: Option<ComponentId>,
    /// Only on this airframe.
    pub airframe_id: Option<AirframeId>,
    /// Rows on a page: 50 unless said, at most 500 (more is cut).
    #[param(minimum = 1)]
    pub limit: Option<i64>,
    /// The `next` of the page before.
    #[param(max_length = 200)]
    pub cursor: Option<String>,
}

/// The caller's installations.
#[utoipa::path(
    get, path = "/v1/installations", operation_id = "list_installations", tag = "fleet",
    summary = "List installations", description = "What sits or sat where, on your airframes.",
    params(InstallationFilter),
    responses((status = 200, description = "A page of installations", body = Page<InstallationView>)),
    security(("token" = ["read-own"]))
)]
pub async fn list(
    acting: Acting<ReadOwn>,
    filter: Query<InstallationFilter>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let filter = filter.0;
    let binding = format!(
        "installations {} {:?} {:?}",
        acting.account, filter.component_id, filter.airframe_id
    );
    let window = key.window(filter.limit, filter.cursor.as_deref(), binding)?;
    let rows = store::installations_after(
        &mut *pool.get().await?,
        &acting.owner_uuids(),
        filter.component_id.map(ComponentId::uuid),
        filter.airframe_id.map(AirframeId::uuid),
        &window,
    )
    .await?;
    reply::list(
        &request,
        &key.page(&window, rows, |row| row.id, InstallationView::try_from)?,
    )
}

/// One installation.
#[utoipa::path(
    get, path = "/v1/installations/{id}", operation_id = "show_installation", tag = "fleet",
    summary = "Show an installation", description = "One installation on an airframe of yours.",
    params(("id" = InstallationId, Path, description = "Id of the installation")),
    responses((status = 200, description = "The installation", body = InstallationView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<InstallationId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let found =
        store::installation(&mut *pool.get().await?, &acting.owner_uuids(), id.0.uuid()).await?;
    reply::record(
        &request,
        &InstallationView::try_from(found.ok_or_else(Problem::not_found)?)?,
    )
}
