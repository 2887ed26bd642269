//! Problems as pages, and one page for each code.

use super::{html, shell};
use crate::pages::errors::{self, ErrorCodeView, ErrorView, FaultView, NextStep};
use crate::pages::layout::Shell;
use crate::platform::http::codes::{CODES, ProblemCode};
use crate::platform::http::path::Key;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::Serialize;
use utoipa::{OpenApi, ToSchema};

/// A problem for a person. No database is asked: it may be what failed.
pub fn problem_page(problem: &Problem, request_id: &str) -> Option<String> {
    let entry = problem.code.entry();
    let view = ErrorView {
        status: entry.status,
        code: entry.key.to_owned(),
        title: entry.title.to_owned(),
        detail: problem.detail.clone(),
        faults: problem
            .errors
            .iter()
            .map(|fault| FaultView {
                place: fault.pointer.clone(),
                message: fault.message.clone(),
            })
            .collect(),
        next_steps: vec![
            NextStep {
                words: entry.remedy.to_owned(),
                href: None,
            },
            NextStep {
                words: "See all part types".to_owned(),
                href: Some("/".to_owned()),
            },
        ],
        request_id: Some(request_id.to_owned()),
    };
    errors::render(
        &Shell {
            path: String::new(),
            demo: false,
        },
        &view,
    )
    .inspect_err(|error| tracing::error!(%error, "a problem page cannot be drawn"))
    .ok()
}

/// The page of a code.
pub async fn code(
    key: Key<String>,
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let entry = CODES
        .iter()
        .find(|entry| entry.key == key.0)
        .ok_or_else(Problem::not_found)?;
    let view = ErrorCodeView {
        code: entry.key.to_owned(),
        status: entry.status,
        title: entry.title.to_owned(),
        meaning: entry.meaning.to_owned(),
        remedies: vec![entry.remedy.to_owned()],
        example: None,
    };
    let shell = shell(&mut *pool.get().await?, &request).await?;
    html(errors::render_code(&shell, &view))
}

/// One documented way to fail.
#[derive(Debug, Serialize, ToSchema)]
pub struct ErrorCode {
    /// The code.
    pub code: ProblemCode,
    /// HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    pub status: u16,
    /// Short name.
    #[schema(max_length = 200)]
    pub title: &'static str,
    /// What has happened.
    #[schema(max_length = 500)]
    pub meaning: &'static str,
    /// What to do.
    #[schema(max_length = 500)]
    pub remedy: &'static str,
}

/// Every documented way to fail.
#[derive(Debug, Serialize, ToSchema)]
pub struct ErrorCodes {
    /// The closed list.
    #[schema(max_items = 100)]
    pub items: Vec<ErrorCode>,
}

/// Every code.
#[utoipa::path(
    get, path = "/v1/errors", operation_id = "list_error_codes", tag = "service",
    summary = "List error codes", description = "Every code that a problem document can carry. The page /errors/{code} explains each.",
    responses((status = 200, description = "All codes", body = ErrorCodes, headers(("ETag" = String, description = "Strong entity tag"))))
)]
pub async fn list(_: Query<NoParameters>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let items = CODES
        .iter()
        .map(|entry| ErrorCode {
            code: entry.code,
            status: entry.status,
            title: entry.title,
            meaning: entry.meaning,
            remedy: entry.remedy,
        })
        .collect();
    reply::shared(&request, &ErrorCodes { items })
}

/// Descriptions.
#[derive(OpenApi)]
#[openapi(paths(list))]
pub struct Description;
