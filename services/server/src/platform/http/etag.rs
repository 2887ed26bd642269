//! Strong entity tags: a digest of the bytes that are sent, so that a tag changes exactly when they do.

use super::codes::ProblemCode;
use super::problem::Problem;
use actix_web::HttpRequest;
use actix_web::http::header;
use sha2::{Digest, Sha256};

/// The tag of a representation, with its quotes.
#[must_use]
pub fn of(body: &[u8]) -> String {
    let digest = Sha256::digest(body);
    let mut tag = String::with_capacity(34);
    tag.push('"');
    for byte in digest.iter().take(16) {
        tag.push_str(&format!("{byte:02x}"));
    }
    tag.push('"');
    tag
}

fn lists(value: &str, tag: &str) -> bool {
    value.trim() == "*"
        || value
            .split(',')
            .any(|one| one.trim().trim_start_matches("W/") == tag)
}

/// Whether the client already has these bytes (`If-None-Match`).
#[must_use]
pub fn is_known_to(request: &HttpRequest, tag: &str) -> bool {
    request
        .headers()
        .get(header::IF_NONE_MATCH)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|value| lists(value, tag))
}

/// Refuses a change of a record that the caller has not read in its present form.
///
/// # Errors
/// 428 without `If-Match`, 412 with another tag.
pub fn require_match(request: &HttpRequest, tag: &str) -> Result<(), Problem> {
    match request
        .headers()
        .get(header::IF_MATCH)
        .map(|value| value.to_str().unwrap_or(""))
    {
        None => Err(Problem::new(
            ProblemCode::PreconditionRequired,
            "Send If-Match with the ETag of the record.",
        )),
        // A weak tag never matches here (RFC 9110, 13.1.1).
        Some(value) if value.trim() == "*" || value.split(',').any(|one| one.trim() == tag) => {
            Ok(())
        }
        Some(_) => Err(Problem::new(
            ProblemCode::EtagMismatch,
            format!("The record's ETag is now {tag}."),
        )
        .with_header(header::ETAG, tag)),
    }
}
