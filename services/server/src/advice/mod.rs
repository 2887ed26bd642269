//! What to do: intervals for a part type, and for one component at its age.

mod component;
mod curve;
mod part_type;

pub use component::{ComponentAdvice, advise_component};
pub use part_type::{Advised, PartTypeAdvice, advise_part_type, resolve};

use actix_web::web::{self, ServiceConfig, get, head};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/v1/part-types/{key}/advice")
                .route(get().to(part_type::get))
                .route(head().to(part_type::get)),
        )
        .service(
            web::resource("/v1/part-types/{key}/survival-curve")
                .route(get().to(curve::get))
                .route(head().to(curve::get)),
        )
        .service(
            web::resource("/v1/components/{id}/advice")
                .route(get().to(component::get))
                .route(head().to(component::get)),
        );
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(
    paths(part_type::get, curve::get, component::get),
    tags((name = "advice", description = "Inspection and replacement intervals with their evidence"))
)]
pub struct Description;
