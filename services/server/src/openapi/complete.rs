//! What every operation shares, added once: problems, retries, dry runs, 304, examples.

use super::examples::request_example;
use crate::platform::http::codes::CODES;
use serde_json::{Value, json};

/// Problems that any operation may answer, by status.
const ANYWHERE: &[u16] = &[400, 405, 406, 408, 429, 500, 503];

/// Completes a description.
pub fn complete(value: &mut Value) {
    add_security_scheme(value);
    each_operation(value, complete_operation);
}

fn add_example(operation: &mut serde_json::Map<String, Value>) {
    let example = operation
        .get("operationId")
        .and_then(Value::as_str)
        .and_then(request_example);
    let content = operation
        .get_mut("requestBody")
        .and_then(|body| body.get_mut("content"))
        .and_then(Value::as_object_mut);
    if let (Some(example), Some(content)) = (example, content) {
        for media in content.values_mut() {
            if let Some(members) = media.as_object_mut() {
                members.insert("example".into(), example.clone());
            }
        }
    }
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
    let Some(paths) = value.get_mut("paths").and_then(Value::as_object_mut) else {
        return;
    };
    for (path, item) in paths {
        let Some(item) = item.as_object_mut() else {
            continue;
        };
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
    add_example(operation);
    if method == "post" {
        describe_dry_run(operation);
        // A token's secret is never stored, so its making cannot be answered from memory; an analysis changes nothing.
        if !matches!(path, "/v1/tokens" | "/v1/analyses") {
            add_idempotency_header(operation);
        }
    }
    if method == "get" {
        add_not_modified(operation);
    }
    if let Some(responses) = operation
        .get_mut("responses")
        .and_then(Value::as_object_mut)
    {
        for status in statuses {
            responses.entry(status.to_string()).or_insert_with(
                || json!({"$ref": format!("#/components/responses/Problem{status}")}),
            );
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
    if let Some(parameters) = operation
        .entry("parameters")
        .or_insert_with(|| json!([]))
        .as_array_mut()
    {
        parameters.push(header);
    }
}

fn describe_dry_run(operation: &mut serde_json::Map<String, Value>) {
    if let Some(ok) = operation
        .get_mut("responses")
        .and_then(Value::as_object_mut)
        && let Some(created) = ok.get("201").cloned()
    {
        let mut dry = created;
        if let Some(members) = dry.as_object_mut() {
            members.insert(
                "description".into(),
                json!("Dry run: what would be made. Nothing was changed."),
            );
        }
        ok.insert("200".into(), dry);
    }
}

fn add_not_modified(operation: &mut serde_json::Map<String, Value>) {
    if let Some(responses) = operation
        .get_mut("responses")
        .and_then(Value::as_object_mut)
        && responses
            .get("200")
            .is_some_and(|ok| ok.pointer("/headers/ETag").is_some())
    {
        responses.insert(
            "304".into(),
            json!({"description": "You have it already (If-None-Match)."}),
        );
    }
}
