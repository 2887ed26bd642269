//! Many records at once: all or none, and repeatable.

use harness::records::{MODE, PART_TYPE, at, enter_design, fresh};
use harness::{Service, TestDatabase};
use serde_json::{Value, json};

/// A small fleet whose records refer to each other.
struct Book {
    airframe: String,
    first: String,
    second: String,
    body: Value,
}

fn book(design: &str) -> Book {
    let (airframe, first, second) = (fresh("air"), fresh("cmp"), fresh("cmp"));
    let (stay, next_stay) = (fresh("ins"), fresh("ins"));
    let body = json!({
        "airframes": [{"id": airframe, "design": design, "name": "Imported (invented)"}],
        "components": [{"id": first, "part_type": PART_TYPE}, {"id": second, "part_type": PART_TYPE}],
        "usage_readings": [{"id": fresh("rdg"), "airframe_id": airframe, "read_at": at(-10),
            "usage": {"flights": 7, "flight_minutes": 40}}],
        "flights": [{"id": fresh("flt"), "airframe_id": airframe, "flown_at": at(10), "duration_minutes": 5}],
        // The later stay stands first: the order of the lists does not matter.
        "installations": [
            {"id": next_stay, "component_id": second, "airframe_id": airframe, "position": "place-1", "fitted_at": at(20)},
            {"id": stay, "component_id": first, "airframe_id": airframe, "position": "place-1", "fitted_at": at(0)}
        ],
        "removals": [{"id": fresh("rem"), "installation_id": stay, "removed_at": at(20), "reason": "failed"}],
        "failure_reports": [{"id": fresh("fail"), "installation_id": stay, "occurred_at": at(15),
            "discovery": "in-flight", "mode": MODE}]
    });
    Book {
        airframe,
        first,
        second,
        body,
    }
}

#[tokio::test]
async fn an_import_enters_everything_and_repeats_without_effect() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let design = enter_design(&service, PART_TYPE, 3).await;
    let token = service.pilot().await;
    let book = book(&design);
    let made = service.create(&token, "/v1/imports", &book.body).await;
    assert_eq!(made, json!({"created": 9, "unchanged": 0}));
    let again = service.create(&token, "/v1/imports", &book.body).await;
    assert_eq!(again, json!({"created": 0, "unchanged": 9}));
    for path in [
        format!("/v1/airframes/{}", book.airframe),
        format!("/v1/components/{}", book.first),
        format!("/v1/components/{}", book.second),
    ] {
        let _ = service.get(&token, &path).await.expect(200);
    }
}

#[tokio::test]
async fn an_import_with_faults_enters_nothing_and_names_each_place() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let design = enter_design(&service, PART_TYPE, 3).await;
    let token = service.pilot().await;
    let mut book = book(&design);
    book.body["components"][1]["part_type"] = json!("no-such-part");
    book.body["flights"][0]["airframe_id"] = json!(fresh("air"));
    book.body["failure_reports"][0]["mode"] = json!("tooth-shear");
    let reply = service.post(&token, "/v1/imports", &book.body).await;
    let _ = reply.problem(422, "invalid-record");
    let pointers = reply.pointers();
    for expected in [
        "/components/1/part_type",
        "/flights/0/airframe_id",
        "/failure_reports/0/mode",
    ] {
        assert!(
            pointers.iter().any(|pointer| pointer == expected),
            "{expected} is not among {pointers:?}"
        );
    }
    let _ = service
        .get(&token, &format!("/v1/airframes/{}", book.airframe))
        .await
        .problem(404, "not-found");
    let empty = service.get(&token, "/v1/components").await.expect(200);
    assert_eq!(empty["items"], json!([]));
}

#[tokio::test]
async fn a_conflict_inside_an_import_names_the_record() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let design = enter_design(&service, PART_TYPE, 3).await;
    let token = service.pilot().await;
    let mut book = book(&design);
    book.body["installations"][0]["fitted_at"] = json!(at(19));
    let reply = service.post(&token, "/v1/imports", &book.body).await;
    let _ = reply.problem(409, "overlap");
    assert_eq!(reply.pointers(), ["/installations/0/position"]);
    let _ = service
        .get(&token, &format!("/v1/airframes/{}", book.airframe))
        .await
        .problem(404, "not-found");
}

#[tokio::test]
async fn every_record_of_an_import_needs_its_own_id() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({"components": [{"part_type": PART_TYPE}, {"id": fresh("cmp"), "part_type": PART_TYPE}, {"part_type": PART_TYPE}]});
    let reply = service.post(&token, "/v1/imports", &body).await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/components/0/id", "/components/2/id"]);
}

#[tokio::test]
async fn an_id_that_stands_twice_in_one_import_is_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let id = fresh("cmp");
    let body = json!({"components": [{"id": id, "part_type": PART_TYPE}, {"id": id, "part_type": PART_TYPE}]});
    let reply = service.post(&token, "/v1/imports", &body).await;
    let _ = reply.problem(409, "already-exists");
    assert_eq!(reply.pointers(), ["/components/1/id"]);
}
