//! Analyse lives or recurring events that are handed in.

use super::analysis::{AnalysisAnswer, EventAnalysis, analyse};
use super::draft::{AnalysisDraft, Asked};
use crate::access::{Acting, ReadAdvice};
use crate::platform::http::body::Body;
use crate::platform::http::heavy_work::HeavyWork;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply::bytes_of;
use actix_web::HttpResponse;
use actix_web::web::Data;
use wearbook_analysis::ENGINE;
use wearbook_analysis::report::recurrence;

/// Analyses lives or recurring events.
#[utoipa::path(
    post, path = "/v1/analyses", operation_id = "analyse_lives", tag = "analyses",
    summary = "Analyse lives or recurring events",
    description = "Analyses what is in the body. Of `lives`: survival without a model and fitted families with limits; where failures \
                   have two or more causes, the share failed of each and a fit of each; where lives have groups, each group alone and a comparison; \
                   where they have covariates, accelerated life and proportional hazards. Of `systems`, units that are repaired and go on: the mean \
                   number of events, a power law, tests of a trend and of the fit. Nothing is stored and no record is read; the same body gives the same answer, so it may \
                   be sent again freely. At most 5 000 rows of lives and 50 groups, or 5 000 systems with 20 000 events in all; 503 while too \
                   much else is being computed.",
    request_body = AnalysisDraft,
    responses((status = 200, description = "The analysis", body = AnalysisAnswer)),
    security(("token" = ["read-advice"]))
)]
pub async fn post(
    _: Acting<ReadAdvice>,
    body: Body<AnalysisDraft>,
    _: Query<NoParameters>,
    work: Data<HeavyWork>,
) -> Result<HttpResponse, Problem> {
    let draft = body.value;
    let answer = work.run(move || answer(draft)).await??;
    Ok(HttpResponse::Ok()
        .content_type("application/json")
        .body(answer))
}

fn answer(draft: AnalysisDraft) -> Result<String, Problem> {
    let answer = match draft.read()? {
        Asked::Systems(histories, level) => AnalysisAnswer::Systems(Box::new(EventAnalysis {
            engine_version: ENGINE,
            recurrence: recurrence(&histories, level),
        })),
        Asked::Lives(lives, question) => {
            let analysis = analyse(&lives, &question).map_err(|fault| {
                let cause = question.cause.as_deref().unwrap_or_default();
                Problem::invalid("/cause", "known-cause", fault.to_string(), cause)
            })?;
            AnalysisAnswer::Lives(Box::new(analysis))
        }
    };
    bytes_of(&answer)
}
