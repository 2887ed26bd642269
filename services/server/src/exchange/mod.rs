//! Many records at once: all of them or none, in one transaction, over the same functions as single ones.

mod import;
mod order;

pub use import::{ImportDraft, ImportSummary, import};

use actix_web::web::{self, ServiceConfig, post};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/v1/imports").route(post().to(import::post)));
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(paths(import::post), tags((name = "exchange", description = "Many records at once")))]
pub struct Description;
