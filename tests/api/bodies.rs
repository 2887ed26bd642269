//! Bodies that cannot be read, or break rules.

use harness::records::Fleet;
use harness::{Reply, Service, TestDatabase};
use reqwest::Method;
use serde_json::json;

/// A body as it is, well formed or not.
async fn raw(service: &Service, token: &str, path: &str, body: &[u8]) -> Reply {
    let request = service.request(Method::POST, path).bearer_auth(token);
    service
        .send(
            request
                .header("content-type", "application/json")
                .body(body.to_vec()),
        )
        .await
}

#[tokio::test]
async fn a_body_that_is_not_json_is_malformed() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let bodies: [&[u8]; 9] = [
        b"",
        b"{",
        b"name=x",
        b"{\"design\": \"a\", }",
        b"{\"name\": \"\xff\"}",
        b"{\"name\": \"a\0b\"}",
        b"{\"design\": \"a\", \"name\": \"\\ud800\"}",
        b"{\"design\": \"a\", \"name\": \"b\", \"usual_head_speed_rpm\": 1e400}",
        b"{\"design\": \"a\", \"name\": \"b\"} {}",
    ];
    for body in bodies {
        let _ = raw(&service, &token, "/v1/airframes", body)
            .await
            .problem(400, "malformed-request");
    }
    let deep = [vec![b'['; 5000], vec![b']'; 5000]].concat();
    let _ = raw(&service, &token, "/v1/airframes", &deep)
        .await
        .problem(400, "malformed-request");
}

#[tokio::test]
async fn a_member_that_stands_twice_is_malformed() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let body = format!(
        r#"{{"design": "{}", "name": "a", "name": "b"}}"#,
        fleet.design
    );
    let _ = raw(&service, &fleet.token, "/v1/airframes", body.as_bytes())
        .await
        .problem(400, "malformed-request");
    let body = format!(
        r#"{{"airframe_id": "{}", "read_at": "2024-03-01T10:00:00Z", "usage": {{"flights": 1, "flights": 2}}}}"#,
        fleet.airframe
    );
    let _ = raw(
        &service,
        &fleet.token,
        "/v1/usage-readings",
        body.as_bytes(),
    )
    .await
    .problem(400, "malformed-request");
}

#[tokio::test]
async fn text_that_cannot_be_kept_is_an_invalid_record() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let body = json!({"design": fleet.design, "name": "a\u{0}b", "note": "c\u{0}d"});
    let reply = service.post(&fleet.token, "/v1/airframes", &body).await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/name", "/note"]);
}

#[tokio::test]
async fn all_broken_rules_come_at_once_with_their_places() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({
        "airframe_id": "air_x", "flown_at": "yesterday", "flights": 0, "duration_minutes": -1,
        "duration_basis": "guessed", "head_speed_rpm": 5, "hard_share": 2, "colour": "red"
    });
    let reply = service.post(&token, "/v1/flights", &body).await;
    let document = reply.problem(422, "invalid-record");
    assert_eq!(
        reply.pointers(),
        [
            "/airframe_id",
            "/colour",
            "/duration_basis",
            "/duration_minutes",
            "/flights",
            "/flown_at",
            "/hard_share",
            "/head_speed_rpm"
        ]
    );
    for fault in document["errors"].as_array().expect("a list") {
        for member in ["rule", "message"] {
            assert!(
                !fault[member].as_str().unwrap_or_default().is_empty(),
                "{fault}"
            );
        }
    }
    let missing = service.post(&token, "/v1/flights", &json!({})).await;
    let _ = missing.problem(422, "invalid-record");
    assert_eq!(
        missing.pointers(),
        ["/airframe_id", "/duration_minutes", "/flown_at"]
    );
}

#[tokio::test]
async fn several_unknown_members_are_each_pointed_at() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({"part_type": "motor-bearing", "colour": "red", "weight": 3});
    let reply = service.post(&token, "/v1/components", &body).await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/colour", "/weight"]);
}

#[tokio::test]
async fn a_large_value_is_not_sent_back_whole() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({"design": "a", "name": "x".repeat(100_000)});
    let reply = service.post(&token, "/v1/airframes", &body).await;
    let _ = reply.problem(422, "invalid-record");
    assert!(reply.bytes.len() < 2000, "{} bytes", reply.bytes.len());
}

#[tokio::test]
async fn a_body_in_another_form_names_the_right_one() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    for form in [
        "text/plain",
        "application/x-www-form-urlencoded",
        "application/json; charset=latin1",
        "application/merge-patch+json",
    ] {
        let request = service
            .request(Method::POST, "/v1/airframes")
            .bearer_auth(&fleet.token);
        let reply = service
            .send(request.header("content-type", form).body("{}"))
            .await;
        let _ = reply.problem(415, "unsupported-media-type");
        assert_eq!(reply.header("accept-post"), Some("application/json"));
    }
    let request = service.request(Method::PATCH, &format!("/v1/airframes/{}", fleet.airframe));
    let reply = service
        .send(request.bearer_auth(&fleet.token).json(&json!({})))
        .await;
    let _ = reply.problem(415, "unsupported-media-type");
    assert_eq!(
        reply.header("accept-patch"),
        Some("application/merge-patch+json")
    );
    let request = service
        .request(Method::POST, "/v1/components")
        .bearer_auth(&fleet.token);
    let spoken = request.header("content-type", "Application/JSON; charset=\"UTF-8\"");
    assert_eq!(
        service
            .send(spoken.body(r#"{"part_type":"motor-bearing"}"#))
            .await
            .status,
        201
    );
}

#[tokio::test]
async fn a_body_over_the_limit_is_too_large() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({"design": "a", "name": "b", "note": "x".repeat(1024 * 1024)});
    let _ = service
        .post(&token, "/v1/airframes", &body)
        .await
        .problem(413, "too-large");
    let import = json!({"components": [{"part_type": "motor-bearing", "note": "x".repeat(5 * 1024 * 1024)}]});
    let _ = service
        .post(&token, "/v1/imports", &import)
        .await
        .problem(413, "too-large");
}
