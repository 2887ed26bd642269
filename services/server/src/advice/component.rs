//! Advice for one component of the caller, at its own age: "what may the next flights do to this belt?"

use super::part_type::{advise_part_type, resolve};
use crate::access::{Acting, ReadOwn};
use crate::lives::lives_of;
use crate::platform::http::path::Id;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::Query;
use crate::platform::http::reply;
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use wearbook_domain::advice::Advice;
use wearbook_domain::ids::ComponentId;
use wearbook_domain::lives::Life;
use wearbook_domain::units::WearScale;

/// On which scale.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ScaleParameter {
    /// The usage scale: the part type's usual one unless said.
    pub scale: Option<WearScale>,
}

/// Advice at the age of one component.
#[derive(Debug, Serialize, ToSchema)]
pub struct ComponentAdvice {
    /// The component.
    pub component_id: ComponentId,
    /// Its age on the scale; null where its records give none.
    pub age: Option<f64>,
    /// The life its age comes from.
    pub life: Option<Life>,
    /// The advice; for a new component where the age is unknown.
    pub advice: Advice,
}

/// Advice for a component of the caller.
///
/// # Errors
/// `not-found` when it is not the caller's.
pub async fn advise_component(
    connection: &mut Connection,
    acting: &Acting<ReadOwn>,
    id: ComponentId,
    scale: Option<WearScale>,
) -> Result<ComponentAdvice, Problem> {
    let lives = lives_of(connection, acting, id).await?;
    let (part_type, scale) = resolve(&lives.part_type, scale)?;
    let life = lives.lives.into_iter().find(|life| life.scale == scale);
    let age = life.as_ref().map(|life| life.end.last_age());
    let advised = advise_part_type(connection, part_type, scale, age).await?;
    Ok(ComponentAdvice {
        component_id: id,
        age,
        life,
        advice: advised.advice,
    })
}

/// Advice for a component.
#[utoipa::path(
    get, path = "/v1/components/{id}/advice", operation_id = "advise_component", tag = "advice",
    summary = "What about this one?",
    description = "The part type's advice at this component's own age: how much further use stays within the target.",
    params(("id" = ComponentId, Path, description = "Id of the component"), ScaleParameter),
    responses((status = 200, description = "The advice", body = ComponentAdvice, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-own"]))
)]
pub async fn get(
    acting: Acting<ReadOwn>,
    id: Id<ComponentId>,
    parameters: Query<ScaleParameter>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let view = advise_component(&mut *pool.get().await?, &acting, id.0, parameters.0.scale).await?;
    reply::record(&request, &view)
}
