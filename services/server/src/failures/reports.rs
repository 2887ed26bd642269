//! Look failure reports up.

use super::store;
use super::view::FailureView;
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
use wearbook_domain::ids::{ComponentId, FailureReportId};

/// Which reports.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ReportFilter {
    /// Only of this component.
    pub component_id: Option<ComponentId>,
    /// Rows on a page: 50 unless said, at most 500 (more is cut).
    #[param(minimum = 1)]
    pub limit: Option<i64>,
    /// The `next` of the page before.
    #[param(max_length = 200)]
    pub cursor: Option<String>,
}

/// The caller's reports.
#[utoipa::path(
    get, path = "/v1/failure-reports", operation_id = "list_failure_reports", tag = "failures",
    summary = "List failure reports", description = "Reports about components of yours.",
    params(ReportFilter),
    responses((status = 200, description = "A page of reports", body = Page<FailureView>)),
    security(("token" = ["read-own"]))
)]
pub async fn list(
    acting: Acting<ReadOwn>,
    filter: Query<ReportFilter>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let filter = filter.0;
    let binding = format!(
        "failure reports {} {:?}",
        acting.account, filter.component_id
    );
    let window = key.window(filter.limit, filter.cursor.as_deref(), binding)?;
    let component = filter.component_id.map(ComponentId::uuid);
    let rows = store::reports_after(
        &mut *pool.get().await?,
        &acting.owner_uuids(),
        component,
        &window,
    )
    .await?;
    reply::list(
        &request,
        &key.page(&window, rows, |row| row.id, FailureView::try_from)?,
    )
}

/// One report.
#[utoipa::path(
    get, path = "/v1/failure-reports/{id}", operation_id = "show_failure_report", tag = "failures",
    summary = "Show a failure report", description = "One report about a component of yours.",
    params(("id" = FailureReportId, Path, description = "Id of the report")),
    responses((status = 200, description = "The report", body = FailureView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<FailureReportId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let found = store::report(&mut *pool.get().await?, &acting.owner_uuids(), id.0.uuid()).await?;
    reply::record(
        &request,
        &FailureView::try_from(found.ok_or_else(Problem::not_found)?)?,
    )
}
