//! Who am I?

use super::actor::{Acting, ReadOwn};
use super::store;
use super::view::AccountView;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};

/// The account behind the token.
#[utoipa::path(
    get, path = "/v1/account", operation_id = "show_own_account", tag = "access",
    summary = "Show the account behind the token",
    description = "The account that the token acts for.",
    responses((status = 200, description = "The account", body = AccountView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let row = store::account(&mut *pool.get().await?, acting.account)
        .await?
        .ok_or_else(Problem::not_found)?;
    reply::record(&request, &AccountView::from(row))
}
