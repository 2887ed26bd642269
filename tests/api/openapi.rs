//! The API description is complete, committed, and true.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use harness::records::{PART_TYPE, enter_design, fresh};
use harness::{Service, TestDatabase};
use reqwest::Method;
use serde_json::Value;

/// Path, method in lower case, and description of every operation.
fn operations(document: &Value) -> Vec<(String, String, Value)> {
    let mut found = Vec::new();
    for (path, item) in document["paths"].as_object().expect("paths") {
        for (method, operation) in item.as_object().expect("operations") {
            found.push((path.clone(), method.clone(), operation.clone()));
        }
    }
    found
}

#[test]
fn the_committed_description_is_the_one_that_is_served() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../openapi/openapi.json");
    let committed = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(
        committed == wearbook::openapi::text(),
        "openapi/openapi.json is not up to date: cargo run -- openapi > openapi/openapi.json"
    );
}

#[tokio::test]
async fn the_description_is_served_with_a_tag() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let reply = service
        .send(service.request(Method::GET, "/openapi.json"))
        .await;
    assert_eq!(reply.text(), wearbook::openapi::text());
    let request = service
        .request(Method::GET, "/openapi.json")
        .header("if-none-match", reply.etag());
    assert_eq!(service.send(request).await.status, 304);
}

#[test]
fn every_operation_has_a_name_of_its_own_a_summary_and_a_description() {
    let document = wearbook::openapi::document();
    let mut names = BTreeSet::new();
    for (path, method, operation) in operations(&document) {
        let name = operation["operationId"]
            .as_str()
            .unwrap_or_default()
            .to_owned();
        assert!(
            !name.is_empty() && names.insert(name),
            "{method} {path}: operationId"
        );
        for member in ["summary", "description"] {
            assert!(
                !operation[member].as_str().unwrap_or_default().is_empty(),
                "{method} {path}: {member}"
            );
        }
        let responses = operation["responses"].as_object().expect("responses");
        assert!(
            responses.keys().any(|status| status.starts_with('2')),
            "{method} {path}"
        );
    }
}

/// Routes of the API as the sources state them. Pages are not part of the description.
fn routes_in_the_sources() -> BTreeSet<(String, String)> {
    let mut found = BTreeSet::new();
    for file in rust_files(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../services/server/src")) {
        let text = std::fs::read_to_string(&file).expect("a source file");
        for piece in text.split("web::resource(").skip(1) {
            let Some(path) = piece
                .trim_start()
                .strip_prefix('"')
                .and_then(|rest| rest.split('"').next())
            else {
                continue;
            };
            if !(path.starts_with("/v1") || matches!(path, "/healthz" | "/readyz")) {
                continue;
            }
            let routes = piece.split(';').next().unwrap_or_default();
            for method in ["get", "post", "patch", "delete", "put"] {
                if routes.contains(&format!("{method}().to(")) {
                    found.insert((path.to_owned(), method.to_owned()));
                }
            }
        }
    }
    found
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    files
}

#[test]
fn every_route_is_described_and_every_description_has_a_route() {
    let described: BTreeSet<(String, String)> = operations(&wearbook::openapi::document())
        .into_iter()
        .map(|(path, method, _)| (path, method))
        .collect();
    assert_eq!(routes_in_the_sources(), described);
}

#[tokio::test]
async fn every_described_operation_answers_at_its_address() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let design = enter_design(&service, PART_TYPE, 1).await;
    for (path, method, operation) in operations(&wearbook::openapi::document()) {
        let key = if path.starts_with("/v1/aircraft-designs") {
            design.as_str()
        } else {
            PART_TYPE
        };
        let filled = path.replace("{key}", key).replace("{id}", &fresh("air"));
        let http_method = Method::from_bytes(method.to_uppercase().as_bytes()).expect("a method");
        let reply = service.send(service.request(http_method, &filled)).await;
        let secured = operation["security"].is_array();
        assert_eq!(
            reply.status,
            if secured { 401 } else { 200 },
            "{method} {filled}: {}",
            reply.text()
        );
        if method == "get" {
            let head = service.send(service.request(Method::HEAD, &filled)).await;
            assert_eq!(
                (head.status, head.bytes.len()),
                (reply.status, 0),
                "HEAD {filled}"
            );
        }
    }
}

/// Walks a schema; `visit` sees every schema once with the way to it.
fn walk(
    document: &Value,
    schema: &Value,
    way: &str,
    seen: &mut BTreeSet<String>,
    visit: &mut dyn FnMut(&str, &Value),
) {
    if let Some(reference) = schema["$ref"].as_str() {
        if seen.insert(reference.to_owned()) {
            let target = document.pointer(reference.trim_start_matches('#'));
            walk(
                document,
                target.expect("a reference leads somewhere"),
                reference,
                seen,
                visit,
            );
        }
        return;
    }
    visit(way, schema);
    for (name, property) in schema["properties"].as_object().into_iter().flatten() {
        walk(document, property, &format!("{way}/{name}"), seen, visit);
    }
    for list in ["oneOf", "anyOf", "allOf"] {
        for one in schema[list].as_array().into_iter().flatten() {
            walk(document, one, way, seen, visit);
        }
    }
    for member in ["items", "additionalProperties"] {
        if schema[member].is_object() {
            walk(
                document,
                &schema[member],
                &format!("{way}/{member}"),
                seen,
                visit,
            );
        }
    }
}

fn is_of(schema: &Value, name: &str) -> bool {
    schema["type"] == name
        || schema["type"]
            .as_array()
            .is_some_and(|types| types.iter().any(|one| one == name))
}

#[test]
fn everything_that_a_body_may_hold_has_a_bound() {
    let document = wearbook::openapi::document();
    let mut unbounded: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (path, method, operation) in operations(&document) {
        for (_, content) in operation["requestBody"]["content"]
            .as_object()
            .into_iter()
            .flatten()
        {
            let mut note = |way: &str, schema: &Value| {
                let has =
                    |members: &[&str]| members.iter().any(|member| !schema[*member].is_null());
                let bound = match () {
                    () if is_of(schema, "string") => {
                        has(&["maxLength", "pattern", "enum", "format", "const"])
                    }
                    () if is_of(schema, "array") => has(&["maxItems"]),
                    () if is_of(schema, "number") || is_of(schema, "integer") => {
                        has(&["maximum", "exclusiveMaximum"])
                            && has(&["minimum", "exclusiveMinimum"])
                    }
                    () if is_of(schema, "object") => schema["additionalProperties"] == false,
                    () => true,
                };
                if !bound {
                    unbounded
                        .entry(format!("{method} {path}"))
                        .or_default()
                        .push(way.to_owned());
                }
            };
            walk(
                &document,
                &content["schema"],
                "",
                &mut BTreeSet::new(),
                &mut note,
            );
        }
    }
    assert!(unbounded.is_empty(), "{unbounded:#?}");
}

#[test]
fn the_description_stands_alone() {
    fn references(value: &Value, found: &mut Vec<String>) {
        match value {
            Value::Object(members) => {
                found.extend(
                    members
                        .get("$ref")
                        .and_then(Value::as_str)
                        .map(str::to_owned),
                );
                members
                    .values()
                    .for_each(|member| references(member, found));
            }
            Value::Array(items) => items.iter().for_each(|item| references(item, found)),
            _ => {}
        }
    }
    let document = wearbook::openapi::document();
    let mut found = Vec::new();
    references(&document, &mut found);
    assert!(!found.is_empty());
    for reference in found {
        assert!(
            reference.starts_with("#/"),
            "{reference} leads out of the document"
        );
        assert!(
            document
                .pointer(reference.trim_start_matches('#'))
                .is_some(),
            "{reference} leads nowhere"
        );
    }
}
