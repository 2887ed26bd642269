//! Holds every JSON answer that a test sees against the schema that the service itself describes.

use jsonschema::Validator;
use reqwest::Method;
use serde_json::{Value, json};
use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

static DOCUMENT: LazyLock<Value> = LazyLock::new(wearbook::openapi::document);
static COMPILED: LazyLock<Mutex<HashMap<String, Arc<Validator>>>> = LazyLock::new(Mutex::default);

/// Checks one answer. Addresses that are not described (pages, wrong paths) are left alone.
///
/// # Panics
/// If a described operation answers with a status that is not described, or a body that breaks its schema.
pub fn check(method: &Method, path: &str, status: u16, body: &[u8]) {
    let described = if *method == Method::HEAD {
        Method::GET
    } else {
        method.clone()
    };
    let Some((template, operation)) = operation(&described, path) else {
        return;
    };
    let response = &operation["responses"][status.to_string()];
    assert!(
        response.is_object(),
        "{method} {template} answers {status}, which is not described"
    );
    let Ok(value) = serde_json::from_slice::<Value>(body) else {
        let promised = response["content"].as_object().into_iter().flatten();
        let other_than_json = promised
            .map(|(kind, _)| kind)
            .any(|kind| !kind.ends_with("json"));
        assert!(
            body.is_empty() || other_than_json,
            "{method} {template} {status} is described as JSON and is none"
        );
        return;
    };
    let name = format!("{method} {template} {status}");
    let faults: Vec<String> = validator(&name, response)
        .iter_errors(&value)
        .map(|fault| format!("{}: {fault}", fault.instance_path))
        .collect();
    assert!(faults.is_empty(), "{name} breaks its schema: {faults:?}");
}

fn operation(method: &Method, path: &str) -> Option<(&'static str, &'static Value)> {
    let paths = DOCUMENT["paths"].as_object()?;
    let matches = |template: &str| {
        let (wanted, given): (Vec<_>, Vec<_>) =
            (template.split('/').collect(), path.split('/').collect());
        wanted.len() == given.len()
            && wanted
                .iter()
                .zip(given)
                .all(|(wanted, given)| wanted.starts_with('{') || *wanted == given)
    };
    let (template, item) = paths.iter().find(|(template, _)| matches(template))?;
    let operation = item.get(method.as_str().to_ascii_lowercase())?;
    Some((template, operation))
}

fn validator(name: &str, response: &Value) -> Arc<Validator> {
    let mut compiled = COMPILED.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(found) = compiled.get(name) {
        return Arc::clone(found);
    }
    let resolved = response["$ref"]
        .as_str()
        .and_then(|reference| DOCUMENT.pointer(reference.trim_start_matches('#')))
        .unwrap_or(response);
    let schema = resolved["content"]
        .as_object()
        .and_then(|content| {
            ["application/json", "application/problem+json"]
                .iter()
                .find_map(|media_type| content.get(*media_type))
        })
        .map_or(json!(true), |media| media["schema"].clone());
    let whole = json!({"allOf": [schema], "components": DOCUMENT["components"]});
    let validator = jsonschema::draft202012::options()
        .should_validate_formats(true)
        .build(&whole)
        .unwrap_or_else(|error| panic!("{name}: {error}"));
    let validator = Arc::new(validator);
    compiled.insert(name.to_owned(), Arc::clone(&validator));
    validator
}
