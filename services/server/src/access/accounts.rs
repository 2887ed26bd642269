//! Look accounts up (administration).

use super::actor::{Acting, Administer};
use super::store;
use super::view::AccountView;
use crate::platform::http::paging::{CursorKey, Page, PageParameters};
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use wearbook_domain::ids::AccountId;

/// Every account.
#[utoipa::path(
    get, path = "/v1/accounts", operation_id = "list_accounts", tag = "access",
    summary = "List accounts", description = "Every account of this instance, in the order of their making.",
    params(PageParameters),
    responses((status = 200, description = "A page of accounts", body = Page<AccountView>)),
    security(("token" = ["administer"]))
)]
pub async fn list(
    acting: Acting<Administer>,
    parameters: Query<PageParameters>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let binding = format!("accounts {}", acting.account);
    let window = key.window(parameters.0.limit, parameters.0.cursor.as_deref(), binding)?;
    let rows = store::accounts_after(&mut *pool.get().await?, &window).await?;
    reply::list(
        &request,
        &key.page(
            &window,
            rows,
            |row| row.id,
            |row| Ok(AccountView::from(row)),
        )?,
    )
}

/// One account.
#[utoipa::path(
    get, path = "/v1/accounts/{id}", operation_id = "show_account", tag = "access",
    summary = "Show an account", description = "One account by its id.",
    params(("id" = AccountId, Path, description = "Id of the account")),
    responses((status = 200, description = "The account", body = AccountView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["administer"]))
)]
pub async fn get(
    _: Acting<Administer>,
    id: Id<AccountId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let row = store::account(&mut *pool.get().await?, id.0)
        .await?
        .ok_or_else(Problem::not_found)?;
    reply::record(&request, &AccountView::from(row))
}
