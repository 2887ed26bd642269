//! Revoke a token: refused from the next request on.

use super::actor::{Acting, ReadOwn};
use super::store;
use super::view::TokenView;
use crate::platform::clock;
use crate::platform::http::etag;
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply::bytes_of;
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use wearbook_domain::ids::TokenId;

/// Revokes one of the caller's tokens.
#[utoipa::path(
    delete, path = "/v1/tokens/{id}", operation_id = "revoke_token", tag = "access",
    summary = "Revoke a token",
    description = "The token is refused from now on; it stays in the list with the moment it was revoked.",
    params(
        ("id" = TokenId, Path, description = "Id of the token"),
        ("If-Match" = String, Header, description = "The ETag of the token as you read it")
    ),
    responses((status = 204, description = "Revoked")),
    security(("token" = ["read-own"]))
)]
pub async fn delete(
    acting: Acting<ReadOwn>,
    id: Id<TokenId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    pool.transaction(async |connection: &mut Connection| {
        let row = store::token(connection, acting.account, id.0)
            .await?
            .ok_or_else(Problem::not_found)?;
        let present = bytes_of(&TokenView::try_from(row)?)?;
        etag::require_match(&request, &etag::of(present.as_bytes()))?;
        store::revoke(connection, id.0, clock::now()).await
    })
    .await?;
    Ok(HttpResponse::NoContent().finish())
}
