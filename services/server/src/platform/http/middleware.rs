//! What surrounds every request: its id, its log line, problems in one form, panics caught, and headers for safety.

use super::codes::ProblemCode;
use super::problem::Problem;
use actix_web::body::{BoxBody, EitherBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, HttpRequest, HttpResponse};
use futures_util::FutureExt;
use std::panic::AssertUnwindSafe;
use std::time::Instant;
use uuid::Uuid;

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Everything a page may load comes from here; the API reference alone brings styles of its own.
const PAGE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
     base-uri 'none'; form-action 'self'; frame-ancestors 'none'";
const REFERENCE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
     connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/// The id under which the log knows a request.
#[derive(Debug, Clone)]
pub struct RequestId(pub String);

fn request_id(request: &ServiceRequest) -> String {
    request
        .headers()
        .get(&REQUEST_ID)
        .and_then(|value| value.to_str().ok())
        .filter(|text| {
            (1..=64).contains(&text.len())
                && text
                    .bytes()
                    .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_')
        })
        .map_or_else(|| Uuid::now_v7().simple().to_string(), str::to_owned)
}

/// Gives the request its id, catches panics, and turns every failure into a problem document.
///
/// # Errors
/// A panic and a failure outside the handlers leave as a [`Problem`] that knows its address and request id.
pub async fn surround<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<EitherBody<B, BoxBody>>, Error> {
    let started = Instant::now();
    let id = request_id(&request);
    request.extensions_mut().insert(RequestId(id.clone()));
    // Not a clone of the request: the router needs it for itself.
    let (method, path) = (request.method().clone(), request.path().to_owned());
    let mut response = match AssertUnwindSafe(next.call(request)).catch_unwind().await {
        Ok(Ok(response)) => problem_form(response, &id),
        Ok(Err(error)) => {
            let found = error.as_error::<Problem>().cloned();
            let problem = found.unwrap_or_else(|| {
                from_status(error.as_response_error().status_code(), &error.to_string())
            });
            return Err(problem.placed(&path, &id).into());
        }
        Err(_panic) => {
            return Err(Problem::internal(format!("panic in {method} {path}"))
                .placed(&path, &id)
                .into());
        }
    };
    add_headers(&mut response, &id);
    tracing::info!(
        request = %id,
        %method,
        path = response.request().match_pattern().unwrap_or_else(|| "unmatched".into()),
        status = response.status().as_u16(),
        milliseconds = started.elapsed().as_millis(),
        "answered"
    );
    Ok(response)
}

/// Handlers fail with a [`Problem`]; the framework fails in its own words. Both leave in one form.
fn problem_form<B: MessageBody + 'static>(
    response: ServiceResponse<B>,
    id: &str,
) -> ServiceResponse<EitherBody<B, BoxBody>> {
    let status = response.status();
    let already = response
        .headers()
        .get(header::CONTENT_TYPE)
        .is_some_and(|value| value.as_bytes().starts_with(b"text/html"));
    if !(status.is_client_error() || status.is_server_error()) || already {
        return response.map_into_left_body();
    }
    let mut problem = match response.response().error() {
        Some(error) => error
            .as_error::<Problem>()
            .cloned()
            .unwrap_or_else(|| from_status(status, &error.to_string())),
        None => from_status(status, ""),
    };
    if let Some(allow) = response
        .headers()
        .get(header::ALLOW)
        .and_then(|value| value.to_str().ok())
    {
        problem = problem.with_header(header::ALLOW, allow);
    }
    let request = response.request().clone();
    let answer = answer(&problem, &request, id);
    response.into_response(answer.map_into_right_body())
}

/// A person in a browser gets a page, an application gets JSON.
fn wants_page(request: &HttpRequest) -> bool {
    !request.path().starts_with("/v1")
        && request
            .headers()
            .get(header::ACCEPT)
            .and_then(|value| value.to_str().ok())
            .is_some_and(|accept| accept.contains("text/html"))
}

fn answer(problem: &Problem, request: &HttpRequest, id: &str) -> HttpResponse {
    if wants_page(request)
        && let Some(page) = request.app_data::<ProblemPage>()
        && let Some(html) = page.0(problem, id)
    {
        return HttpResponse::build(
            StatusCode::from_u16(problem.code.entry().status)
                .unwrap_or(StatusCode::INTERNAL_SERVER_ERROR),
        )
        .content_type("text/html; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .body(html);
    }
    problem.response(request.path(), id)
}

/// How a problem looks to a person: handed over as application data by the pages, so that this layer names no slice.
#[derive(Clone, Copy)]
pub struct ProblemPage(pub fn(&Problem, &str) -> Option<String>);

fn from_status(status: StatusCode, detail: &str) -> Problem {
    let code = match status.as_u16() {
        401 => ProblemCode::TokenMissing,
        403 => ProblemCode::ScopeMissing,
        404 => return Problem::not_found(),
        405 => ProblemCode::MethodNotAllowed,
        406 => ProblemCode::NotAcceptable,
        408 => ProblemCode::RequestTimeout,
        413 => ProblemCode::TooLarge,
        415 => ProblemCode::UnsupportedMediaType,
        422 => ProblemCode::InvalidRecord,
        429 => ProblemCode::TooManyRequests,
        503 => ProblemCode::Unavailable,
        400..=499 => ProblemCode::MalformedRequest,
        _ => return Problem::internal(detail),
    };
    Problem::new(
        code,
        if detail.is_empty() {
            code.entry().meaning
        } else {
            detail
        },
    )
}

fn add_headers<B>(response: &mut ServiceResponse<B>, id: &str) {
    let policy = if response.request().path().starts_with("/reference") {
        REFERENCE_POLICY
    } else {
        PAGE_POLICY
    };
    let headers = response.headers_mut();
    if let Ok(value) = HeaderValue::from_str(id) {
        headers.insert(REQUEST_ID, value);
    }
    for (name, value) in [
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CONTENT_SECURITY_POLICY, policy),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("permissions-policy"),
            "camera=(), geolocation=(), microphone=()",
        ),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
}
