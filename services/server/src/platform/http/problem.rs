//! Faults as the client sees them (RFC 9457), and the only way from an inner error to a status.

use super::codes::ProblemCode;
use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use utoipa::ToSchema;

/// The longest piece of a rejected value that is echoed.
const ECHO: usize = 64;

/// The longest pointer or sentence about one fault.
const SENTENCE: usize = 500;

/// More faults than this are counted, not listed.
const MOST_FAULTS: usize = 1000;

fn cut(text: String, most: usize) -> String {
    if text.chars().count() > most {
        text.chars().take(most).chain("…".chars()).collect()
    } else {
        text
    }
}

/// One member of the body that breaks a rule.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FieldFault {
    /// Where it stands (JSON Pointer, RFC 6901).
    #[schema(max_length = 1000)]
    pub pointer: String,
    /// The rule that it breaks, by its name in JSON Schema or in this API.
    #[schema(max_length = 100)]
    pub rule: String,
    /// The rule in words.
    #[schema(max_length = 1000)]
    pub message: String,
    /// The rejected value, cut to 64 characters.
    #[schema(max_length = 100)]
    pub value: String,
}

impl FieldFault {
    /// Cuts `value` so that a large body is not sent back whole.
    #[must_use]
    pub fn new(
        pointer: impl Into<String>,
        rule: impl Into<String>,
        message: impl Into<String>,
        value: impl ToString,
    ) -> Self {
        Self {
            pointer: cut(pointer.into(), SENTENCE),
            rule: rule.into(),
            message: cut(message.into(), SENTENCE),
            value: cut(value.to_string(), ECHO),
        }
    }
}

/// A fault on its way to the client. The middleware adds what only it knows: the address and the request id.
#[derive(Debug, Clone)]
pub struct Problem {
    /// Which of the documented faults.
    pub code: ProblemCode,
    /// What happened this time, in a sentence.
    pub detail: String,
    /// Everything wrong with the body, at once.
    pub errors: Vec<FieldFault>,
    /// Headers that belong to this fault, such as `Allow` or `Retry-After`.
    pub headers: Vec<(header::HeaderName, String)>,
    /// Address and request id, where the fault leaves without passing the middleware's last step.
    place: Option<Box<(String, String)>>,
}

/// The document that is sent.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Problem)]
pub struct ProblemDocument<'a> {
    /// A page that explains the code.
    #[serde(rename = "type")]
    #[schema(max_length = 200, example = "/errors/invalid-record")]
    pub kind: String,
    /// Short name, the same for every problem of this code.
    #[schema(max_length = 200)]
    pub title: &'a str,
    /// The HTTP status, repeated.
    #[schema(minimum = 400, maximum = 599)]
    pub status: u16,
    /// What happened this time.
    #[schema(max_length = 2000)]
    pub detail: &'a str,
    /// The address that was asked.
    #[schema(max_length = 4000)]
    pub instance: &'a str,
    /// Stable code.
    pub code: ProblemCode,
    /// The id under which the log knows this request.
    #[schema(max_length = 100)]
    pub request_id: &'a str,
    /// Everything wrong with the body, at once; empty when the fault lies elsewhere.
    #[schema(max_items = 1000)]
    pub errors: &'a [FieldFault],
}

impl Problem {
    /// A fault with one sentence of detail.
    #[must_use]
    pub fn new(code: ProblemCode, detail: impl Into<String>) -> Self {
        Self {
            code,
            detail: detail.into(),
            errors: Vec::new(),
            headers: Vec::new(),
            place: None,
        }
    }

    /// The same answer for what is absent and for what the caller may not know of.
    #[must_use]
    pub fn not_found() -> Self {
        Self::new(
            ProblemCode::NotFound,
            "There is nothing here that you may see.",
        )
    }

    /// The database is away or too busy.
    #[must_use]
    pub fn unavailable() -> Self {
        Self::new(
            ProblemCode::Unavailable,
            "The database does not answer in time.",
        )
        .with_header(header::RETRY_AFTER, "2")
    }

    /// The cause goes to the log, never to the client.
    #[must_use]
    pub fn internal(cause: impl std::fmt::Display) -> Self {
        tracing::error!(%cause, "internal error");
        Self::new(
            ProblemCode::InternalError,
            "Something failed inside the service.",
        )
    }

    /// A body that breaks one rule which a schema cannot say.
    #[must_use]
    pub fn invalid(
        pointer: &str,
        rule: &str,
        message: impl Into<String>,
        value: impl ToString,
    ) -> Self {
        Self::invalid_all(vec![FieldFault::new(pointer, rule, message, value)])
    }

    /// A body that breaks several rules.
    #[must_use]
    pub fn invalid_all(mut errors: Vec<FieldFault>) -> Self {
        let detail = match errors.as_slice() {
            [only] => format!("{}: {}", only.pointer, only.message),
            several if several.len() > MOST_FAULTS => {
                format!(
                    "{} members break a rule; the first {MOST_FAULTS} are listed.",
                    several.len()
                )
            }
            several => format!("{} members break a rule.", several.len()),
        };
        errors.truncate(MOST_FAULTS);
        Self {
            errors,
            ..Self::new(ProblemCode::InvalidRecord, detail)
        }
    }

    /// Notes where it happened.
    #[must_use]
    pub fn placed(mut self, instance: &str, request_id: &str) -> Self {
        self.place = Some(Box::new((instance.to_owned(), request_id.to_owned())));
        self
    }

    /// Adds a header to the answer.
    #[must_use]
    pub fn with_header(mut self, name: header::HeaderName, value: impl Into<String>) -> Self {
        self.headers.push((name, value.into()));
        self
    }

    /// Moves every pointer below `prefix`, for a record inside a larger body.
    #[must_use]
    pub fn under(mut self, prefix: &str) -> Self {
        for fault in &mut self.errors {
            fault.pointer = format!("{prefix}{}", fault.pointer);
        }
        if self.errors.is_empty() {
            self.errors.push(FieldFault::new(
                prefix,
                self.code.entry().key,
                self.detail.clone(),
                "",
            ));
        }
        self
    }

    /// The document and headers, for the address and request at hand.
    #[must_use]
    pub fn response(&self, instance: &str, request_id: &str) -> HttpResponse {
        let entry = self.code.entry();
        let mut response = HttpResponse::build(self.status_code());
        for (name, value) in &self.headers {
            response.insert_header((name.clone(), value.as_str()));
        }
        response.insert_header((header::CACHE_CONTROL, "no-store"));
        response
            .content_type("application/problem+json")
            .json(ProblemDocument {
                kind: format!("/errors/{}", entry.key),
                title: entry.title,
                status: entry.status,
                detail: &self.detail,
                instance,
                code: self.code,
                request_id,
                errors: &self.errors,
            })
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "{}: {}", self.code.entry().key, self.detail)
    }
}

impl std::error::Error for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.code.entry().status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        let (instance, request_id) = self
            .place
            .as_ref()
            .map_or(("", ""), |place| (place.0.as_str(), place.1.as_str()));
        self.response(instance, request_id)
    }
}
