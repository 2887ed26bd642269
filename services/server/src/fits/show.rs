//! Look fits up.

use super::store;
use super::view::{FitHeadView, FitView};
use crate::access::{Acting, ReadAdvice};
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
use wearbook_domain::ids::FitId;
use wearbook_domain::units::WearScale;

/// Which fits.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct FitFilter {
    /// Only of this part type.
    pub part_type: Option<PartTypeKey>,
    /// Only on this scale.
    pub scale: Option<WearScale>,
    /// Rows on a page: 50 unless said, at most 500 (more is cut).
    #[param(minimum = 1)]
    pub limit: Option<i64>,
    /// The `next` of the page before.
    #[param(max_length = 200)]
    pub cursor: Option<String>,
}

/// All fits.
#[utoipa::path(
    get, path = "/v1/fits", operation_id = "list_fits", tag = "fits",
    summary = "List fits", description = "Every fit that was made, oldest first, with the digest of its data.",
    params(FitFilter),
    responses((status = 200, description = "A page of fits", body = Page<FitHeadView>)),
    security(("token" = ["read-advice"]))
)]
pub async fn list(
    acting: Acting<ReadAdvice>,
    filter: Query<FitFilter>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let filter = filter.0;
    let binding = format!(
        "fits {} {:?} {:?}",
        acting.account, filter.part_type, filter.scale
    );
    let window = key.window(filter.limit, filter.cursor.as_deref(), binding)?;
    let part_type = filter.part_type.as_ref().map(PartTypeKey::as_str);
    let rows = store::heads_after(
        &mut *pool.get().await?,
        part_type,
        filter.scale.map(WearScale::code),
        &window,
    )
    .await?;
    reply::list(
        &request,
        &key.page(&window, rows, |head| head.0, FitHeadView::try_from)?,
    )
}

/// One fit.
#[utoipa::path(
    get, path = "/v1/fits/{id}", operation_id = "show_fit", tag = "fits",
    summary = "Show a fit", description = "Survival curve, models with limits, goodness and warnings of one fit.",
    params(("id" = FitId, Path, description = "Id of the fit")),
    responses((status = 200, description = "The fit", body = FitView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-advice"]))
)]
pub async fn get(
    _: Acting<ReadAdvice>,
    id: Id<FitId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let row = store::fit(&mut *pool.get().await?, id.0.uuid())
        .await?
        .ok_or_else(Problem::not_found)?;
    reply::record(&request, &FitView::try_from(row)?)
}
