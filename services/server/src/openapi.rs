//! The API description: collected from the slices, completed with what every operation shares.

use crate::platform::http::codes::{CODES, ProblemCode};
use crate::platform::http::problem::{FieldFault, ProblemDocument};
use serde_json::{Value, json};
use utoipa::OpenApi;
use utoipa::openapi::OpenApi as Document;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Wearbook",
        description = "Lifetimes of helicopter components: records in, survival models fitted, inspection and replacement intervals out. \
                       An interval is advice with its uncertainty, never a promise. The maker's manual, the club's rules and the law go first.",
        license(name = "Proprietary", identifier = "LicenseRef-Proprietary"),
        contact(name = "The people who run this instance", url = "/about")
    ),
    servers((url = "/", description = "This instance")),
    components(schemas(ProblemDocument, FieldFault, ProblemCode)),
    tags(
        (name = "access", description = "Accounts, organisations and API tokens"),
        (name = "service", description = "The running service itself")
    )
)]
struct Frame;

/// Problems that any operation may answer, by status.
const ANYWHERE: &[u16] = &[400, 405, 406, 408, 429, 500, 503];

/// The whole description as it is served, committed and used to check bodies.
///
/// # Panics
/// Never: the description is plain data.
#[must_use]
pub fn document() -> Value {
    let mut document: Document = Frame::openapi();
    document.info.version = env!("CARGO_PKG_VERSION").to_owned();
    for slice in [
        crate::health::Description::openapi(),
        crate::access::Description::openapi(),
        crate::catalogue::Description::openapi(),
        crate::fleet::Description::openapi(),
        crate::usage::Description::openapi(),
        crate::failures::Description::openapi(),
        crate::lives::Description::openapi(),
        crate::fits::Description::openapi(),
        crate::advice::Description::openapi(),
        crate::exchange::Description::openapi(),
        crate::pages::Description::openapi(),
    ] {
        document.merge(slice);
    }
    let mut value = serde_json::to_value(document).expect("a description is plain data");
    add_security_scheme(&mut value);
    each_operation(&mut value, complete_operation);
    value
}

/// The description as the committed file has it.
#[must_use]
pub fn text() -> String {
    let mut text = serde_json::to_string_pretty(&document()).unwrap_or_default();
    text.push('\n');
    text
}

fn add_security_scheme(value: &mut Value) {
    if let Some(components) = value.get_mut("components").and_then(Value::as_object_mut) {
        components.insert(
            "securitySchemes".into(),
            json!({"token": {"type": "http", "scheme": "bearer", "description": "An API token, made at /v1/tokens or by the command line."}}),
        );
        components.insert("responses".into(), problem_responses());
    }
}

fn problem_responses() -> Value {
    let mut statuses: Vec<u16> = CODES.iter().map(|row| row.status).collect();
    statuses.sort_unstable();
    statuses.dedup();
    let responses = statuses.into_iter().map(|status| {
        let rows: Vec<_> = CODES.iter().filter(|row| row.status == status).collect();
        let described: Vec<String> = rows.iter().map(|row| format!("`{}`: {}", row.key, row.meaning)).collect();
        let first = rows.first().map(|row| (row.key, row.title, row.meaning)).unwrap_or_default();
        let response = json!({
            "description": described.join(" "),
            "content": {"application/problem+json": {
                "schema": {"$ref": "#/components/schemas/Problem"},
                "example": {
                    "type": format!("/errors/{}", first.0), "title": first.1, "status": status, "detail": first.2,
                    "instance": "/v1/airframes", "code": first.0, "request_id": "0190b5a1c7e87c3a9f4e2b6d8a1c0e57", "errors": []
                }
            }}
        });
        (format!("Problem{status}"), response)
    });
    Value::Object(responses.collect())
}

fn each_operation(value: &mut Value, change: fn(&str, &str, &mut serde_json::Map<String, Value>)) {
    let Some(paths) = value.get_mut("paths").and_then(Value::as_object_mut) else { return };
    for (path, item) in paths {
        let Some(item) = item.as_object_mut() else { continue };
        for (method, operation) in item {
            if let Some(operation) = operation.as_object_mut() {
                change(path, method, operation);
            }
        }
    }
}

/// Adds the problems that follow from the kind of operation, so that no handler can forget one.
fn complete_operation(path: &str, method: &str, operation: &mut serde_json::Map<String, Value>) {
    let mut statuses = ANYWHERE.to_vec();
    if operation.contains_key("security") {
        statuses.extend([401, 403]);
    }
    if path.contains('{') {
        statuses.push(404);
    }
    if operation.contains_key("requestBody") {
        statuses.extend([404, 409, 413, 415, 422]);
    }
    if matches!(method, "patch" | "put" | "delete") {
        statuses.extend([409, 412, 428]);
    }
    if method == "post" {
        add_idempotency_header(operation);
    }
    if method == "get" {
        add_not_modified(operation);
    }
    if let Some(responses) = operation.get_mut("responses").and_then(Value::as_object_mut) {
        for status in statuses {
            responses
                .entry(status.to_string())
                .or_insert_with(|| json!({"$ref": format!("#/components/responses/Problem{status}")}));
        }
        responses.sort_keys();
    }
}

fn add_idempotency_header(operation: &mut serde_json::Map<String, Value>) {
    let header = json!({
        "name": "Idempotency-Key", "in": "header", "required": false,
        "description": "Your own key for this write, for example a UUID: a retry with the same key and body gets the same answer and changes nothing twice.",
        "schema": {"type": "string", "minLength": 1, "maxLength": 200, "pattern": "^[\\x21-\\x7e]*$"}
    });
    if let Some(parameters) = operation.entry("parameters").or_insert_with(|| json!([])).as_array_mut() {
        parameters.push(header);
    }
    if let Some(ok) = operation.get_mut("responses").and_then(Value::as_object_mut)
        && let Some(created) = ok.get("201").cloned()
    {
        let mut dry = created;
        dry["description"] = json!("Dry run: what would be made. Nothing was changed.");
        ok.insert("200".into(), dry);
    }
}

fn add_not_modified(operation: &mut serde_json::Map<String, Value>) {
    if let Some(responses) = operation.get_mut("responses").and_then(Value::as_object_mut)
        && responses.get("200").is_some_and(|ok| ok.pointer("/headers/ETag").is_some())
    {
        responses.insert("304".into(), json!({"description": "You have it already (If-None-Match)."}));
    }
}
