//! Every way to fail, in one table: code, status, title, meaning and what to do. Served at `/v1/errors` and `/errors/{code}`.

use serde::Serialize;
use utoipa::ToSchema;

/// A stable, documented way to fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the table below says what each code means")]
pub enum ProblemCode {
    MalformedRequest,
    UnknownParameter,
    InvalidParameter,
    CursorInvalid,
    TokenMissing,
    TokenInvalid,
    ScopeMissing,
    NotFound,
    MethodNotAllowed,
    NotAcceptable,
    RequestTimeout,
    RequestInFlight,
    Overlap,
    UsageRunsBackwards,
    OutsideInstallation,
    AlreadyRemoved,
    AlreadyExists,
    EtagMismatch,
    TooLarge,
    UnsupportedMediaType,
    InvalidRecord,
    IdempotencyKeyReused,
    PreconditionRequired,
    TooManyRequests,
    InternalError,
    Unavailable,
}

/// What a code means, for a person.
#[derive(Debug, Clone, Copy)]
pub struct CodeEntry {
    /// The code.
    pub code: ProblemCode,
    /// Its word in the API.
    pub key: &'static str,
    /// The HTTP status it is sent with.
    pub status: u16,
    /// A short name, the same every time.
    pub title: &'static str,
    /// What has happened.
    pub meaning: &'static str,
    /// What the caller can do.
    pub remedy: &'static str,
}

const fn entry(
    code: ProblemCode,
    key: &'static str,
    status: u16,
    title: &'static str,
    meaning: &'static str,
    remedy: &'static str,
) -> CodeEntry {
    CodeEntry {
        code,
        key,
        status,
        title,
        meaning,
        remedy,
    }
}

/// The closed list of codes.
#[rustfmt::skip]
pub const CODES: &[CodeEntry] = &[
    entry(ProblemCode::MalformedRequest, "malformed-request", 400, "Request cannot be read",
        "The body is not JSON, or repeats a member, or the request breaks HTTP.", "Correct the syntax that the detail names and send it again."),
    entry(ProblemCode::UnknownParameter, "unknown-parameter", 400, "Unknown query parameter",
        "The query names a parameter that this address does not have.", "Take the parameters from the API description; they are never ignored in silence."),
    entry(ProblemCode::InvalidParameter, "invalid-parameter", 400, "Query parameter not valid",
        "A query parameter or header has a value outside its rule.", "Correct the value that the detail names."),
    entry(ProblemCode::CursorInvalid, "cursor-invalid", 400, "List cursor not valid",
        "The cursor was changed, belongs to another list or filter, or to another account.", "Start the list again without a cursor."),
    entry(ProblemCode::TokenMissing, "token-missing", 401, "Token missing",
        "This address needs an API token.", "Send the header Authorization: Bearer with your token."),
    entry(ProblemCode::TokenInvalid, "token-invalid", 401, "Token not valid",
        "The token is mistyped, revoked or past its date.", "Ask for a new token."),
    entry(ProblemCode::ScopeMissing, "scope-missing", 403, "Scope missing",
        "The token is valid, but was not made for this kind of request.", "Use a token with the scope that the detail names."),
    entry(ProblemCode::NotFound, "not-found", 404, "Not found",
        "There is nothing at this address, or nothing that you may know of.", "Check the address and the id."),
    entry(ProblemCode::MethodNotAllowed, "method-not-allowed", 405, "Method not allowed",
        "The address exists, but not for this method.", "Use one of the methods in the Allow header."),
    entry(ProblemCode::NotAcceptable, "not-acceptable", 406, "No acceptable form",
        "The Accept header asks for a form that this address does not offer.", "Accept one of the forms that the API description names."),
    entry(ProblemCode::RequestTimeout, "request-timeout", 408, "Request took too long",
        "The request did not arrive in time.", "Send it again on a better line."),
    entry(ProblemCode::RequestInFlight, "request-in-flight", 409, "The same request is still running",
        "Another request with this idempotency key has not finished.", "Wait as long as Retry-After says and send it again."),
    entry(ProblemCode::Overlap, "overlap", 409, "Overlapping installation",
        "The component, or the position, is taken during this time.", "Remove what sits there first, or correct the times."),
    entry(ProblemCode::UsageRunsBackwards, "usage-runs-backwards", 409, "Usage runs backwards",
        "A reading is lower than what was read or logged before it.", "Correct the reading, or the flights that lie before it."),
    entry(ProblemCode::OutsideInstallation, "outside-installation", 422, "Outside its installation",
        "The moment lies before the component was fitted or after it was removed.", "Correct the time, or name the installation it belongs to."),
    entry(ProblemCode::AlreadyRemoved, "already-removed", 409, "Already removed",
        "This installation has ended before.", "Look the removal up; a component is removed once from one installation."),
    entry(ProblemCode::AlreadyExists, "already-exists", 409, "Already exists",
        "Another record has this key or this moment.", "Use the record that exists, or choose another key."),
    entry(ProblemCode::EtagMismatch, "etag-mismatch", 412, "Changed in the meantime",
        "The record is not the one you read.", "Read it again, look at what changed, and repeat with the new ETag."),
    entry(ProblemCode::TooLarge, "too-large", 413, "Too large",
        "The body is over the limit of this address.", "Send less at a time."),
    entry(ProblemCode::UnsupportedMediaType, "unsupported-media-type", 415, "Media type not supported",
        "The body is in a form that this address does not read.", "Send application/json, or application/merge-patch+json for PATCH."),
    entry(ProblemCode::InvalidRecord, "invalid-record", 422, "Record not valid",
        "The body can be read, but breaks rules; every one of them is listed.", "Correct the members that errors names."),
    entry(ProblemCode::IdempotencyKeyReused, "idempotency-key-reused", 422, "Idempotency key used before",
        "This key was used with another body or address.", "Make a new key for a new request."),
    entry(ProblemCode::PreconditionRequired, "precondition-required", 428, "If-Match missing",
        "Changes need the ETag of the record you read, so that no one else's change is lost.", "Send If-Match with the ETag."),
    entry(ProblemCode::TooManyRequests, "too-many-requests", 429, "Too many requests",
        "More requests arrived than the limit allows.", "Wait as long as Retry-After says."),
    entry(ProblemCode::InternalError, "internal-error", 500, "Our fault",
        "The service failed in a way it should not. The log has the cause under the request id.", "Tell the people who run this instance the request id."),
    entry(ProblemCode::Unavailable, "unavailable", 503, "Not available now",
        "The database does not answer in time, or too much is being computed.", "Wait as long as Retry-After says and send it again."),
];

impl ProblemCode {
    /// The row of the table.
    #[must_use]
    pub fn entry(self) -> &'static CodeEntry {
        CODES
            .iter()
            .find(|row| row.code == self)
            .expect("every code stands in the table: a test walks through them")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_has_its_own_row_whose_key_is_its_word_in_json() {
        for row in CODES {
            assert_eq!(serde_json::to_value(row.code).unwrap(), row.key);
            assert_eq!(row.code.entry().key, row.key);
        }
        let keys: std::collections::BTreeSet<_> = CODES.iter().map(|row| row.key).collect();
        assert_eq!(keys.len(), CODES.len());
        assert_eq!(
            CODES.last().map(|row| row.code),
            Some(ProblemCode::Unavailable)
        );
        assert_eq!(
            ProblemCode::Unavailable as usize + 1,
            CODES.len(),
            "a code without a row"
        );
    }
}
