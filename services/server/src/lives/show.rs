//! Show the lives of a component, each with the events it came from.

use super::store;
use crate::access::{Acting, Actor, ReadOwn};
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_domain::PartTypeKey;
use wearbook_domain::ids::ComponentId;
use wearbook_domain::lives::{Exclusion, Life};

/// What the events of a component give.
#[derive(Debug, Serialize, ToSchema)]
pub struct ComponentLives {
    /// The component.
    pub component_id: ComponentId,
    /// What it is.
    pub part_type: PartTypeKey,
    /// At most one life on each scale.
    #[schema(max_items = 3)]
    pub lives: Vec<Life>,
    /// Scales on which its events give no life, with the reason.
    #[schema(max_items = 3)]
    pub exclusions: Vec<Exclusion>,
}

/// The lives of one of the caller's components.
///
/// # Errors
/// `not-found` when it is not the caller's.
pub async fn lives_of(
    connection: &mut Connection,
    actor: &Actor,
    id: ComponentId,
) -> Result<ComponentLives, Problem> {
    let component = store::owned_component(connection, &actor.owner_uuids(), id.uuid())
        .await?
        .ok_or_else(Problem::not_found)?;
    let (lives, exclusions) = store::lives_of_component(connection, component.id).await?;
    let read = |error| Problem::internal(error);
    Ok(ComponentLives {
        component_id: id,
        part_type: component.part_type_key.parse().map_err(Problem::internal)?,
        lives: lives
            .into_iter()
            .map(serde_json::from_value)
            .collect::<Result<_, _>>()
            .map_err(read)?,
        exclusions: exclusions
            .into_iter()
            .map(serde_json::from_value)
            .collect::<Result<_, _>>()
            .map_err(read)?,
    })
}

/// The lives of a component.
#[utoipa::path(
    get, path = "/v1/components/{id}/lives", operation_id = "show_component_lives", tag = "lives",
    summary = "Show the lives of a component",
    description = "What its events give on each usage scale: where watching began, how it ended, and the records it came from. Derived in the background after a change.",
    params(("id" = ComponentId, Path, description = "Id of the component")),
    responses((status = 200, description = "Its lives", body = ComponentLives, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<ComponentId>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let view = lives_of(&mut *pool.get().await?, &acting, id.0).await?;
    reply::record(&request, &view)
}
