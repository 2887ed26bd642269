//! Answers with their tags.

use super::etag;
use super::paging::Page;
use super::problem::Problem;
use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse};
use serde::Serialize;

/// The bytes of an answer.
///
/// # Errors
/// When the value cannot be written as JSON, which is our fault.
pub fn bytes_of(value: &impl Serialize) -> Result<String, Problem> {
    serde_json::to_string(value).map_err(Problem::internal)
}

/// One record: 200 with a strong ETag, or 304 when the client has it.
///
/// # Errors
/// When the value cannot be written.
pub fn record(request: &HttpRequest, value: &impl Serialize) -> Result<HttpResponse, Problem> {
    tagged(request, bytes_of(value)?, "private, no-cache")
}

/// A shared answer that is the same for everyone.
///
/// # Errors
/// When the value cannot be written.
pub fn shared(request: &HttpRequest, value: &impl Serialize) -> Result<HttpResponse, Problem> {
    tagged(request, bytes_of(value)?, "public, max-age=60")
}

fn tagged(
    request: &HttpRequest,
    body: String,
    cache: &'static str,
) -> Result<HttpResponse, Problem> {
    let tag = etag::of(body.as_bytes());
    let mut response = if etag::is_known_to(request, &tag) {
        HttpResponse::NotModified()
    } else {
        HttpResponse::Ok()
    };
    response
        .insert_header((header::ETAG, tag.as_str()))
        .insert_header((header::CACHE_CONTROL, cache));
    if etag::is_known_to(request, &tag) {
        return Ok(response.finish());
    }
    Ok(response.content_type("application/json").body(body))
}

/// A page of a list, with the next one in a `Link` header (RFC 8288).
///
/// # Errors
/// When the rows cannot be written.
pub fn list<T: Serialize>(request: &HttpRequest, page: &Page<T>) -> Result<HttpResponse, Problem> {
    let mut response = HttpResponse::Ok();
    response.insert_header((header::CACHE_CONTROL, "private, no-cache"));
    if let Some(cursor) = &page.next {
        let kept = form_urlencoded::parse(request.query_string().as_bytes())
            .filter(|(name, _)| name != "cursor");
        let query = form_urlencoded::Serializer::new(String::new())
            .extend_pairs(kept)
            .append_pair("cursor", cursor)
            .finish();
        response.insert_header((
            header::LINK,
            format!("<{}?{query}>; rel=\"next\"", request.path()),
        ));
    }
    Ok(response
        .content_type("application/json")
        .body(bytes_of(page)?))
}

/// A record after a change: 200 with its new ETag.
///
/// # Errors
/// When the value cannot be written.
pub fn changed(value: &impl Serialize) -> Result<HttpResponse, Problem> {
    let body = bytes_of(value)?;
    Ok(HttpResponse::Ok()
        .insert_header((header::ETAG, etag::of(body.as_bytes())))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"))
        .content_type("application/json")
        .body(body))
}
