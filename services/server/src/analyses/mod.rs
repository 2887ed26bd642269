//! Lives or recurring events that somebody hands in, analysed at once: nothing is stored, and no record is read.
//!
//! The command line and the API ask the same [`Question`] of the same [`Lives`] and get the same [`Analysis`].

mod analysis;
mod draft;
mod lives;
mod post;
mod question;
mod systems;
mod work;

pub use analysis::{Analysis, AnalysisAnswer, EventAnalysis, GroupReport, analyse};
pub use draft::{AnalysisDraft, Asked, LifeDraft};
pub use lives::{LifeFault, LifeRow, Lives};
pub use question::{Question, QuestionFault, method_of};
pub use systems::SystemDraft;

use actix_web::web::{self, ServiceConfig, post};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config.service(web::resource("/v1/analyses").route(post().to(post::post)));
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(paths(post::post), tags((name = "analyses", description = "Lives or recurring events that you hand in, analysed at once and not stored")))]
pub struct Description;
