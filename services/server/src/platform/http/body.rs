//! JSON bodies. The API description itself is the rule: a body is checked against the schema that is served, all faults at once.

use super::admission::admitted;
use super::codes::ProblemCode;
use super::problem::{FieldFault, Problem};
use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::{Bytes, Data};
use actix_web::{FromRequest, HttpRequest};
use futures_util::StreamExt;
use futures_util::future::LocalBoxFuture;
use jsonschema::Validator;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use utoipa::ToSchema;

/// The largest JSON body in bytes, unless a route says otherwise.
pub const USUAL_LIMIT: usize = 1024 * 1024;

/// Compiled schemas of the request bodies, taken from the API description.
pub struct Schemas {
    document: serde_json::Value,
    compiled: Mutex<HashMap<String, Arc<Validator>>>,
}

impl Schemas {
    /// Takes the API description that is also served.
    #[must_use]
    pub fn new(document: serde_json::Value) -> Self {
        Self {
            document,
            compiled: Mutex::new(HashMap::new()),
        }
    }

    fn validator(&self, name: &str) -> Result<Arc<Validator>, Problem> {
        let mut compiled = self.compiled.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(found) = compiled.get(name) {
            return Ok(Arc::clone(found));
        }
        let schema = serde_json::json!({
            "$ref": format!("#/components/schemas/{name}"),
            "components": self.document.get("components").unwrap_or(&serde_json::Value::Null),
        });
        let validator = jsonschema::draft202012::options()
            .should_validate_formats(true)
            .build(&schema)
            .map_err(|error| Problem::internal(format!("schema {name}: {error}")))?;
        let validator = Arc::new(validator);
        compiled.insert(name.to_owned(), Arc::clone(&validator));
        Ok(validator)
    }

    /// Reads `bytes` as a `T`.
    ///
    /// # Errors
    /// 400 when it is not JSON, 422 with every broken rule otherwise.
    pub fn read<T: DeserializeOwned + ToSchema>(&self, bytes: &[u8]) -> Result<T, Problem> {
        let malformed = |error: &dyn std::fmt::Display| {
            Problem::new(ProblemCode::MalformedRequest, error.to_string())
        };
        let value: serde_json::Value =
            serde_json::from_slice(bytes).map_err(|error| malformed(&error))?;
        let validator = self.validator(&T::name())?;
        let faults: Vec<FieldFault> = validator
            .iter_errors(&value)
            .flat_map(|error| faults_of(&error))
            .collect();
        if !faults.is_empty() {
            return Err(Problem::invalid_all(faults));
        }
        // Read again from the text, because a `Value` has already forgotten repeated members.
        let reader = &mut serde_json::Deserializer::from_slice(bytes);
        serde_path_to_error::deserialize(reader).map_err(|error| {
            let pointer = pointer_of(error.path());
            let message = error.into_inner().to_string();
            if message.starts_with("duplicate field") {
                malformed(&message)
            } else {
                Problem::invalid(
                    &pointer,
                    "value",
                    message,
                    value.pointer(&pointer).unwrap_or(&serde_json::Value::Null),
                )
            }
        })
    }
}

/// Several unknown members are one error of the validator, but several faults of the body.
fn faults_of(error: &jsonschema::ValidationError<'_>) -> Vec<FieldFault> {
    use jsonschema::error::ValidationErrorKind as Kind;
    let place = error.instance_path.to_string();
    let below = |name: &str| format!("{place}/{}", name.replace('~', "~0").replace('/', "~1"));
    let rule = error
        .schema_path
        .to_string()
        .rsplit('/')
        .next()
        .unwrap_or("schema")
        .to_owned();
    match &error.kind {
        Kind::Required { property } => {
            let name = property.as_str().unwrap_or_default();
            vec![FieldFault::new(
                below(name),
                "required",
                format!("{name} is required"),
                "",
            )]
        }
        Kind::AdditionalProperties { unexpected } => unexpected
            .iter()
            .map(|name| FieldFault::new(below(name), "unknown-field", "no such member", name))
            .collect(),
        _ => vec![FieldFault::new(
            place,
            rule,
            error.to_string(),
            &error.instance,
        )],
    }
}

fn pointer_of(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    path.iter().fold(String::new(), |mut pointer, segment| {
        match segment {
            Segment::Seq { index } => pointer.push_str(&format!("/{index}")),
            Segment::Map { key } => pointer.push_str(&format!("/{key}")),
            Segment::Enum { .. } | Segment::Unknown => {}
        }
        pointer
    })
}

/// A checked body, with the fingerprint that tells a retried request from another one.
#[derive(Debug)]
pub struct Body<T, const LIMIT: usize = USUAL_LIMIT> {
    /// What was sent.
    pub value: T,
    /// SHA-256 over method, address and bytes.
    pub fingerprint: [u8; 32],
}

impl<T: DeserializeOwned + ToSchema + 'static, const LIMIT: usize> FromRequest for Body<T, LIMIT> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            admitted(&request).await;
            let expected = if request.method() == actix_web::http::Method::PATCH {
                "application/merge-patch+json"
            } else {
                "application/json"
            };
            require_media_type(&request, expected)?;
            let bytes = collect(payload, LIMIT).await?;
            let schemas = request
                .app_data::<Data<Schemas>>()
                .ok_or_else(|| Problem::internal("no schemas"))?;
            let value = schemas.read(&bytes)?;
            let mut digest = Sha256::new();
            digest.update(request.method().as_str());
            digest.update(request.path());
            digest.update(&bytes);
            Ok(Self {
                value,
                fingerprint: digest.finalize().into(),
            })
        })
    }
}

fn require_media_type(request: &HttpRequest, expected: &str) -> Result<(), Problem> {
    let sent = request
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .unwrap_or("");
    let mut pieces = sent.split(';').map(str::trim);
    let media_type = pieces.next().unwrap_or("").to_ascii_lowercase();
    let utf8 = pieces.all(|parameter| {
        let lower = parameter.to_ascii_lowercase();
        !lower.starts_with("charset=")
            || lower.trim_start_matches("charset=").trim_matches('"') == "utf-8"
    });
    if media_type == expected && utf8 {
        return Ok(());
    }
    let name = if expected.contains("merge-patch") {
        "accept-patch"
    } else {
        "accept-post"
    };
    Err(Problem::new(
        ProblemCode::UnsupportedMediaType,
        format!(
            "Send {expected} in UTF-8, not {}.",
            if sent.is_empty() {
                "an unnamed type"
            } else {
                sent
            }
        ),
    )
    .with_header(header::HeaderName::from_static(name), expected))
}

/// Collects a body up to `limit` bytes.
///
/// # Errors
/// 413 beyond the limit, 400 when the transfer breaks.
pub async fn collect(mut payload: Payload, limit: usize) -> Result<Bytes, Problem> {
    let mut bytes = Vec::new();
    while let Some(chunk) = payload.next().await {
        let chunk = chunk
            .map_err(|error| Problem::new(ProblemCode::MalformedRequest, error.to_string()))?;
        if bytes.len() + chunk.len() > limit {
            return Err(Problem::new(
                ProblemCode::TooLarge,
                format!("The body is over {limit} bytes."),
            ));
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(Bytes::from(bytes))
}
