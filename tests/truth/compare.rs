//! What the service says of a data set, held against what was published.

use chrono::{DateTime, Utc};
use harness::Service;
use harness::records::PART_TYPE;
use serde_json::Value;

/// The advice on the scale of the data, and the fit that it names.
pub async fn advice_and_fit(service: &Service) -> (Value, Value) {
    let token = service.pilot().await;
    let path = format!("/v1/part-types/{PART_TYPE}/advice?scale=flight-minutes");
    let document = service.get(&token, &path).await.expect(200);
    assert_eq!(document["recalculation_pending"], false);
    let advice = document["advice"].clone();
    let id = advice["fit_id"]
        .as_str()
        .unwrap_or_else(|| panic!("no fit in {advice}"));
    let fit = service
        .get(&token, &format!("/v1/fits/{id}"))
        .await
        .expect(200);
    assert_eq!(fit["head"]["id"], id);
    assert_eq!(fit["head"]["part_type"], PART_TYPE);
    assert_eq!(fit["head"]["scale"], "flight-minutes");
    assert!(
        fit["head"]["data_as_of"]
            .as_str()
            .and_then(|text| text.parse::<DateTime<Utc>>().ok())
            .is_some()
    );
    (advice, fit)
}

/// Compares a number with a published one; prints the relative error, for `--nocapture`.
#[track_caller]
pub fn compare(what: &str, got: &Value, want: &Value, tolerance: f64) {
    let (got, want) = (got.as_f64(), want.as_f64().expect("a published number"));
    let got = got.unwrap_or_else(|| panic!("{what}: nothing, where {want} was published"));
    let error = ((got - want) / want).abs();
    println!("{what:<40} {got:>18.9} published {want:>18.9} relative error {error:.1e}");
    assert!(
        error <= tolerance,
        "{what}: {got}, published {want}, relative error {error:e}"
    );
}

/// Compares every step of a survival curve at which something failed.
pub fn compare_curve(document: &Value, curve: &Value) {
    assert_eq!(curve["estimator"], "kaplan-meier");
    let points = curve["points"].as_array().expect("points");
    let steps: Vec<&Value> = points
        .iter()
        .filter(|point| point["failed"].as_u64().is_some_and(|n| n > 0))
        .collect();
    let wanted = document["survival"].as_array().expect("published steps");
    assert_eq!(steps.len(), wanted.len());
    let name = document["name"].as_str().unwrap_or_default();
    for (got, want) in steps.iter().zip(wanted) {
        assert_eq!(got["time"].as_f64(), want["time"].as_f64());
        assert_eq!(got["at_risk"].as_f64(), want["at_risk"].as_f64());
        assert_eq!(got["failed"].as_f64(), want["failed"].as_f64());
        compare(
            &format!("{name} S({})", want["time"]),
            &got["survival"],
            &want["survival"],
            1e-9,
        );
    }
}
