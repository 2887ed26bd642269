//! From events to lives: loads the whole history of a component, derives, and replaces what was derived before.

mod derive;
mod history;
mod population;
mod show;
mod store;

pub use derive::{derive_all, derive_of_airframe, derive_one};
pub use population::{Population, population};
pub use show::{ComponentLives, lives_of};

use actix_web::web::{self, ServiceConfig, get, head};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config.service(
        web::resource("/v1/components/{id}/lives")
            .route(get().to(show::get))
            .route(head().to(show::get)),
    );
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(
    paths(show::get),
    tags((name = "lives", description = "Lives derived from events, each with the events it came from"))
)]
pub struct Description;
