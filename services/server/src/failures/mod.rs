//! What went wrong: failure reports.

mod report;
mod reports;
mod store;
mod view;

pub use report::{FailureDraft, report_failure};
pub use store::{FailureRow, insert_failures, known_failures};
pub use view::FailureView;

use actix_web::web::{self, ServiceConfig, get, head, post};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/v1/failure-reports")
                .route(get().to(reports::list))
                .route(head().to(reports::list))
                .route(post().to(report::post)),
        )
        .service(
            web::resource("/v1/failure-reports/{id}")
                .route(get().to(reports::get))
                .route(head().to(reports::get)),
        );
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(
    paths(reports::list, reports::get, report::post),
    tags((name = "failures", description = "Failure reports"))
)]
pub struct Description;
