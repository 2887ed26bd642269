//! A fit stays what it was, and can be made again byte for byte.

use harness::bench::{Published, enter};
use harness::records::{MODE, PART_TYPE, at, fresh, id_of};
use harness::{Service, TestDatabase};
use serde_json::{Value, json};
use wearbook::fits::replay;

async fn fits(service: &Service, token: &str) -> Vec<Value> {
    let path = format!("/v1/fits?part_type={PART_TYPE}&scale=flight-minutes");
    service.get(token, &path).await.expect(200)["items"]
        .as_array()
        .cloned()
        .unwrap_or_default()
}

#[tokio::test]
async fn a_fit_is_replayed_byte_for_byte_after_its_records_changed() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    enter(
        &service,
        &Published::read(include_str!("data/ball_bearings.json")),
    )
    .await;
    let reader = service.pilot().await;
    let before = fits(&service, &reader).await;
    assert!(!before.is_empty());
    let path = format!("/v1/fits/{}", id_of(before.last().expect("a fit")));
    let shown = service.get(&reader, &path).await;

    one_more_failure(&service).await;
    service.settle().await;

    let after = fits(&service, &reader).await;
    assert!(after.len() > before.len(), "the new record makes a new fit");
    let newest = after.last().expect("a fit");
    assert_ne!(
        newest["data_digest"],
        before.last().expect("a fit")["data_digest"]
    );
    assert_eq!(
        service.get(&reader, &path).await.bytes,
        shown.bytes,
        "the earlier fit is as it was"
    );
    let mut connection = service.pool.get().await.expect("a connection");
    let replayed = replay(&mut connection, None).await.expect("stored fits");
    assert!(replayed.len() >= after.len());
    for one in replayed {
        assert!(one.identical && one.same_engine, "{one:?}");
    }
}

#[tokio::test]
async fn nothing_new_makes_no_new_fit() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    enter(
        &service,
        &Published::read(include_str!("data/remission_6mp.json")),
    )
    .await;
    let reader = service.pilot().await;
    let before = fits(&service, &reader).await;
    // A component on the shelf has no life yet.
    let _ = service
        .create(&reader, "/v1/components", &json!({"part_type": PART_TYPE}))
        .await;
    service.settle().await;
    assert_eq!(fits(&service, &reader).await, before);
}

/// Another owner's component fails after 25 minutes.
async fn one_more_failure(service: &Service) {
    let token = service.pilot().await;
    let design = harness::records::enter_design(service, PART_TYPE, 1).await;
    let (airframe, component, stay) = (fresh("air"), fresh("cmp"), fresh("ins"));
    let body = json!({
        "airframes": [{"id": airframe, "design": design, "name": "One more (invented)"}],
        "components": [{"id": component, "part_type": PART_TYPE}],
        "flights": [{"id": fresh("flt"), "airframe_id": airframe, "flown_at": at(10), "duration_minutes": 25}],
        "installations": [{"id": stay, "component_id": component, "airframe_id": airframe, "position": "place-1", "fitted_at": at(0)}],
        "removals": [{"id": fresh("rem"), "installation_id": stay, "removed_at": at(30), "reason": "failed"}],
        "failure_reports": [{"id": fresh("fail"), "installation_id": stay, "occurred_at": at(20), "discovery": "in-flight", "mode": MODE}]
    });
    let _ = service.create(&token, "/v1/imports", &body).await;
}
