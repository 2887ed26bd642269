//! What is flown and what sits in it: airframes, components, installations, removals.

mod airframes;
mod change_airframe;
mod components;
mod create_airframe;
mod create_component;
mod install;
mod installations;
mod ownership;
mod removals;
mod remove;
mod store;
mod view;

pub use create_airframe::{AirframeDraft, create_airframe};
pub use create_component::{ComponentDraft, create_component};
pub use install::{InstallationDraft, install};
pub use ownership::{own_airframe, own_component, own_installation};
pub use remove::{RemovalDraft, remove};
pub use store::{
    AirframeRow, ComponentRow, InstallationRow, RemovalRow, insert_airframes, insert_components,
    insert_installations, insert_removals, known_airframes, known_components, known_installations,
    known_removals,
};
pub use view::{AirframeView, ComponentView, InstallationView, RemovalView};

use actix_web::web::{self, ServiceConfig, get, head, patch, post};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/v1/airframes")
                .route(get().to(airframes::list))
                .route(head().to(airframes::list))
                .route(post().to(create_airframe::post)),
        )
        .service(
            web::resource("/v1/airframes/{id}")
                .route(get().to(airframes::get))
                .route(head().to(airframes::get))
                .route(patch().to(change_airframe::patch)),
        )
        .service(
            web::resource("/v1/components")
                .route(get().to(components::list))
                .route(head().to(components::list))
                .route(post().to(create_component::post)),
        )
        .service(
            web::resource("/v1/components/{id}")
                .route(get().to(components::get))
                .route(head().to(components::get)),
        )
        .service(
            web::resource("/v1/installations")
                .route(get().to(installations::list))
                .route(head().to(installations::list))
                .route(post().to(install::post)),
        )
        .service(
            web::resource("/v1/installations/{id}")
                .route(get().to(installations::get))
                .route(head().to(installations::get)),
        )
        .service(
            web::resource("/v1/removals")
                .route(get().to(removals::list))
                .route(head().to(removals::list))
                .route(post().to(remove::post)),
        )
        .service(
            web::resource("/v1/removals/{id}")
                .route(get().to(removals::get))
                .route(head().to(removals::get)),
        );
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(
    paths(
        airframes::list,
        airframes::get,
        create_airframe::post,
        change_airframe::patch,
        components::list,
        components::get,
        create_component::post,
        installations::list,
        installations::get,
        install::post,
        removals::list,
        removals::get,
        remove::post
    ),
    tags((name = "fleet", description = "Airframes, components, installations and removals"))
)]
pub struct Description;
