//! Look aircraft designs up.

use super::store::{self, DesignRow, PositionRow};
use super::view::DesignView;
use crate::platform::http::paging::{CursorKey, Page, PageParameters};
use crate::platform::http::path::Key;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use wearbook_domain::DesignKey;

/// Every design.
#[utoipa::path(
    get, path = "/v1/aircraft-designs", operation_id = "list_aircraft_designs", tag = "catalogue",
    summary = "List aircraft designs", description = "Every design with its positions.",
    params(PageParameters),
    responses((status = 200, description = "A page of designs", body = Page<DesignView>))
)]
pub async fn list(
    parameters: Query<PageParameters>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let window = key.window(
        parameters.0.limit,
        parameters.0.cursor.as_deref(),
        "aircraft designs".into(),
    )?;
    let mut connection = pool.get().await?;
    let rows = store::designs_after(&mut connection, &window).await?;
    let ids: Vec<_> = rows.iter().map(|row| row.id).collect();
    let places = store::positions_of(&mut connection, &ids).await?;
    let of = |row: &DesignRow| -> Vec<PositionRow> {
        places
            .iter()
            .filter(|place| place.design_id == row.id)
            .cloned()
            .collect()
    };
    let page = key.page(
        &window,
        rows,
        |row| row.id,
        |row| {
            let positions = of(&row);
            DesignView::of(row, positions)
        },
    )?;
    reply::list(&request, &page)
}

/// One design.
#[utoipa::path(
    get, path = "/v1/aircraft-designs/{key}", operation_id = "show_aircraft_design", tag = "catalogue",
    summary = "Show an aircraft design", description = "One design with its positions.",
    params(("key" = DesignKey, Path, description = "Key of the design")),
    responses((status = 200, description = "The design", body = DesignView, headers(("ETag" = String, description = "Strong entity tag"))))
)]
pub async fn get(
    key: Key<DesignKey>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let (row, positions) = store::design(&mut *pool.get().await?, key.0.as_str())
        .await?
        .ok_or_else(Problem::not_found)?;
    reply::shared(&request, &DesignView::of(row, positions)?)
}
