//! Look part types up. They come with the program, so no database is asked.

use super::view::PartTypeView;
use crate::platform::http::path::Key;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use actix_web::{HttpRequest, HttpResponse};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_domain::{PartTypeKey, catalogue};

/// All part types.
#[derive(Debug, Serialize, ToSchema)]
pub struct PartTypes {
    /// In the order of the catalogue.
    #[schema(max_items = 500)]
    pub items: Vec<PartTypeView>,
}

/// Every part type.
#[utoipa::path(
    get, path = "/v1/part-types", operation_id = "list_part_types", tag = "catalogue",
    summary = "List part types", description = "Every part type of the catalogue with its failure modes, checks and common practice. One page: the list comes with the program.",
    responses((status = 200, description = "All part types", body = PartTypes, headers(("ETag" = String, description = "Strong entity tag"))))
)]
pub async fn list(_: Query<NoParameters>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    reply::shared(
        &request,
        &PartTypes {
            items: catalogue().part_types.iter().map(Into::into).collect(),
        },
    )
}

/// One part type.
#[utoipa::path(
    get, path = "/v1/part-types/{key}", operation_id = "show_part_type", tag = "catalogue",
    summary = "Show a part type", description = "One part type with its failure modes, checks and common practice.",
    params(("key" = PartTypeKey, Path, description = "Key of the part type")),
    responses((status = 200, description = "The part type", body = PartTypeView, headers(("ETag" = String, description = "Strong entity tag"))))
)]
pub async fn get(
    key: Key<PartTypeKey>,
    _: Query<NoParameters>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let part = catalogue()
        .part_type(&key.0)
        .ok_or_else(Problem::not_found)?;
    reply::shared(&request, &PartTypeView::from(part))
}
