//! Look one's own tokens up.

use super::actor::{Acting, ReadOwn};
use super::store;
use super::view::TokenView;
use crate::platform::http::paging::{CursorKey, Page, PageParameters};
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use wearbook_domain::ids::TokenId;

/// The caller's tokens.
#[utoipa::path(
    get, path = "/v1/tokens", operation_id = "list_tokens", tag = "access",
    summary = "List own tokens", description = "The tokens of the caller's account, without their secrets.",
    params(PageParameters),
    responses((status = 200, description = "A page of tokens", body = Page<TokenView>)),
    security(("token" = ["read-own"]))
)]
pub async fn list(
    acting: Acting<ReadOwn>,
    parameters: Query<PageParameters>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let binding = format!("tokens {}", acting.account);
    let window = key.window(parameters.0.limit, parameters.0.cursor.as_deref(), binding)?;
    let rows = store::tokens_after(&mut *pool.get().await?, acting.account, &window).await?;
    reply::list(
        &request,
        &key.page(&window, rows, |row| row.id, TokenView::try_from)?,
    )
}

/// One of the caller's tokens.
#[utoipa::path(
    get, path = "/v1/tokens/{id}", operation_id = "show_token", tag = "access",
    summary = "Show a token", description = "One of the caller's own tokens, without its secret.",
    params(("id" = TokenId, Path, description = "Id of the token")),
    responses((status = 200, description = "The token", body = TokenView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<TokenId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let row = store::token(&mut *pool.get().await?, acting.account, id.0)
        .await?
        .ok_or_else(Problem::not_found)?;
    reply::record(&request, &TokenView::try_from(row)?)
}
