//! What can be talked about: part types with their failure modes, aircraft designs with their positions.
//!
//! Part types come with the program (they are facts of the trade, see the domain crate); designs are entered.

mod create_design;
mod designs;
mod import_designs;
mod part_types;
mod store;
mod synchronise;
mod view;

pub use create_design::{DesignDraft, PositionDraft, create_design};
pub use import_designs::{DesignImport, import_designs};
pub use store::{FoundPosition, find_position};
pub use synchronise::synchronise;
pub use view::{DesignView, PartTypeView, PositionView};

use actix_web::web::{self, ServiceConfig, get, head, post};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/v1/part-types")
                .route(get().to(part_types::list))
                .route(head().to(part_types::list)),
        )
        .service(
            web::resource("/v1/part-types/{key}")
                .route(get().to(part_types::get))
                .route(head().to(part_types::get)),
        )
        .service(
            web::resource("/v1/aircraft-designs")
                .route(get().to(designs::list))
                .route(head().to(designs::list))
                .route(post().to(create_design::post)),
        )
        .service(
            web::resource("/v1/aircraft-designs/{key}")
                .route(get().to(designs::get))
                .route(head().to(designs::get)),
        );
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(
    paths(part_types::list, part_types::get, designs::list, designs::get, create_design::post),
    tags((name = "catalogue", description = "Part types with failure modes, aircraft designs with positions"))
)]
pub struct Description;
