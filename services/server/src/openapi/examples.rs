//! One request for every operation that takes a body. The tour in the README sends the same ones; a test checks each
//! against its schema. Everything in them is invented.

use serde_json::{Value, json};

/// The example of an operation.
#[rustfmt::skip]
pub fn request_example(operation: &str) -> Option<Value> {
    Some(match operation {
        "create_account" => json!({"display_name": "Pilot 001 (invented)"}),
        "create_organisation" => json!({"kind": "club", "name": "Club North Field (invented)", "members": []}),
        "create_token" => json!({"name": "field phone", "scopes": ["read-own", "write-records"], "days": 90}),
        "create_aircraft_design" => json!({
            "key": "dolerite", "name": "Dolerite (invented)", "invented": true, "rotor_class_mm": 700, "drive": "belt",
            "positions": [{"key": "tail-belt", "name": "Tail drive belt", "part_type": "tail-belt"}]
        }),
        "create_airframe" => json!({
            "id": "air_0190b5a1c7e87c3a9f4e2b6d8a1c0e57", "design": "dolerite", "name": "Tour airframe (invented)",
            "usual_head_speed_rpm": 1950
        }),
        "change_airframe" => json!({"name": "Tour airframe, second season (invented)", "note": null}),
        "create_component" => json!({
            "id": "cmp_0190b5a1c7e87c3a9f4e2b6d8a1c0e58", "part_type": "tail-belt", "serial": "TOUR-1 (invented)"
        }),
        "install_component" => json!({
            "id": "ins_0190b5a1c7e87c3a9f4e2b6d8a1c0e59", "component_id": "cmp_0190b5a1c7e87c3a9f4e2b6d8a1c0e58",
            "airframe_id": "air_0190b5a1c7e87c3a9f4e2b6d8a1c0e57", "position": "tail-belt",
            "fitted_at": "2026-02-01T09:00:00Z", "age_basis": "new"
        }),
        "log_flights" => json!({
            "id": "flt_0190b5a1c7e87c3a9f4e2b6d8a1c0e5a", "airframe_id": "air_0190b5a1c7e87c3a9f4e2b6d8a1c0e57",
            "flown_at": "2026-02-20T15:00:00Z", "flights": 42, "duration_minutes": 231, "hard_share": 0.4
        }),
        "take_usage_reading" => json!({
            "airframe_id": "air_0190b5a1c7e87c3a9f4e2b6d8a1c0e57", "read_at": "2026-03-01T10:00:00Z",
            "usage": {"flights": 60, "flight_minutes": 330}
        }),
        "report_failure" => json!({
            "id": "fail_0190b5a1c7e87c3a9f4e2b6d8a1c0e5b", "installation_id": "ins_0190b5a1c7e87c3a9f4e2b6d8a1c0e59",
            "occurred_at": "2026-02-20T15:00:00Z", "discovery": "in-flight", "mode": "tooth-shear",
            "detail": "Invented for the tour."
        }),
        "remove_component" => json!({
            "id": "rem_0190b5a1c7e87c3a9f4e2b6d8a1c0e5c", "installation_id": "ins_0190b5a1c7e87c3a9f4e2b6d8a1c0e59",
            "removed_at": "2026-02-20T18:00:00Z", "reason": "failed"
        }),
        "import_records" => json!({
            "components": [{"id": "cmp_0190b5a1c7e87c3a9f4e2b6d8a1c0e60", "part_type": "head-damper"}],
            "flights": [{
                "id": "flt_0190b5a1c7e87c3a9f4e2b6d8a1c0e61", "airframe_id": "air_0190b5a1c7e87c3a9f4e2b6d8a1c0e57",
                "flown_at": "2026-02-22T15:00:00Z", "flights": 5, "duration_minutes": 27.5
            }]
        }),
        "analyse_lives" => json!({
            "lives": [
                {"lower": 61, "upper": 61, "cause": "wear", "group": "old lot"},
                {"lower": 83, "upper": 83, "cause": "wear", "group": "new lot"},
                {"lower": 97, "upper": 97, "cause": "wear", "group": "new lot"},
                {"lower": 52, "upper": 58, "cause": "split", "group": "old lot"},
                {"lower": 104, "upper": 104, "cause": "wear", "group": "new lot"},
                {"lower": 40, "count": 4, "group": "old lot"},
                {"entry": 30, "lower": 120, "count": 6, "group": "new lot"}
            ],
            "cause": "wear", "families": ["weibull", "lognormal"], "level": 0.9, "shares": [0.1, 0.5]
        }),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_body_has_an_example_that_its_own_schema_accepts() {
        let document = crate::openapi::document();
        let mut bodies = 0;
        for (path, item) in document["paths"].as_object().unwrap() {
            for (method, operation) in item.as_object().unwrap() {
                let Some(content) = operation["requestBody"]["content"].as_object() else {
                    continue;
                };
                for media in content.values() {
                    bodies += 1;
                    let schema = serde_json::json!({
                        "$ref": media["schema"]["$ref"], "components": document["components"]
                    });
                    let validator = jsonschema::draft202012::options()
                        .should_validate_formats(true)
                        .build(&schema)
                        .unwrap();
                    let example = media
                        .get("example")
                        .unwrap_or_else(|| panic!("{method} {path} has no example"));
                    let faults: Vec<String> = validator
                        .iter_errors(example)
                        .map(|fault| fault.to_string())
                        .collect();
                    assert!(faults.is_empty(), "{method} {path}: {faults:?}");
                }
            }
        }
        assert!(bodies >= 13, "only {bodies} bodies were found");
    }
}
