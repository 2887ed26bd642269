//! From a population to a fit: immutable, with the digest of its data, and replayable bit for bit.

mod inputs;
mod refit;
mod replay;
mod show;
mod store;
mod view;

pub use inputs::{About, FitInputs};
pub use refit::{Refitted, refit};
pub use replay::{Replay, replay};
pub use store::{FitRow, newest, newest_of_all};
pub use view::FitView;

use actix_web::web::{self, ServiceConfig, get, head};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/v1/fits")
                .route(get().to(show::list))
                .route(head().to(show::list)),
        )
        .service(
            web::resource("/v1/fits/{id}")
                .route(get().to(show::get))
                .route(head().to(show::get)),
        );
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(paths(show::list, show::get), tags((name = "fits", description = "Survival models fitted to populations")))]
pub struct Description;
