//! Look organisations up: an administrator sees all, others the ones they belong to.

use super::actor::{Acting, Actor, ReadOwn};
use super::store;
use super::view::OrganisationView;
use crate::platform::http::paging::{CursorKey, Page, PageParameters};
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use uuid::Uuid;
use wearbook_domain::ids::OrganisationId;
use wearbook_domain::vocabulary::Scope;

fn visible(actor: &Actor) -> Option<Vec<Uuid>> {
    (!actor.may(Scope::Administer)).then(|| actor.owner_uuids())
}

/// The organisations the caller may see.
#[utoipa::path(
    get, path = "/v1/organisations", operation_id = "list_organisations", tag = "access",
    summary = "List organisations", description = "The organisations that the caller belongs to; an administrator sees all.",
    params(PageParameters),
    responses((status = 200, description = "A page of organisations", body = Page<OrganisationView>)),
    security(("token" = ["read-own"]))
)]
pub async fn list(
    acting: Acting<ReadOwn>,
    parameters: Query<PageParameters>,
    pool: Data<Pool>,
    key: Data<CursorKey>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let binding = format!("organisations {}", acting.account);
    let window = key.window(parameters.0.limit, parameters.0.cursor.as_deref(), binding)?;
    let only = visible(&acting);
    let rows =
        store::organisations_after(&mut *pool.get().await?, &window, only.as_deref()).await?;
    reply::list(
        &request,
        &key.page(&window, rows, |row| row.id, OrganisationView::try_from)?,
    )
}

/// One organisation.
#[utoipa::path(
    get, path = "/v1/organisations/{id}", operation_id = "show_organisation", tag = "access",
    summary = "Show an organisation", description = "One organisation that the caller belongs to.",
    params(("id" = OrganisationId, Path, description = "Id of the organisation")),
    responses((status = 200, description = "The organisation", body = OrganisationView, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<OrganisationId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    if visible(&acting).is_some_and(|only| !only.contains(&id.0.uuid())) {
        return Err(Problem::not_found());
    }
    let row = store::organisation(&mut *pool.get().await?, id.0)
        .await?
        .ok_or_else(Problem::not_found)?;
    reply::record(&request, &OrganisationView::try_from(row)?)
}
