//! Every documented way to fail answers with one kind of document.

use harness::records::{Fleet, enter_component, flight, installation};
use harness::{Reply, Service, TestDatabase};
use reqwest::Method;
use serde_json::json;
use wearbook_domain::vocabulary::Scope;

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
async fn an_address_without_anything_is_not_found() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    for path in [
        "/v1",
        "/v1/nothing",
        "/nothing",
        "/v1/airframes/x/y",
        "/v1/airframes/",
    ] {
        let _ = service.get(&token, path).await.problem(404, "not-found");
    }
}

#[tokio::test]
async fn an_id_that_cannot_be_read_answers_like_one_that_names_nothing() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let unknown = format!("/v1/airframes/{}", harness::records::fresh("air"));
    let expected = service
        .get(&token, &unknown)
        .await
        .problem(404, "not-found");
    for id in [
        "x",
        "air_",
        "cmp_0190b5a1c7e87c3a9f4e2b6d8a1c0e57",
        "0190b5a1-c7e8-7c3a-9f4e-2b6d8a1c0e57",
        "%00",
        "%ff",
    ] {
        let got = service
            .get(&token, &format!("/v1/airframes/{id}"))
            .await
            .problem(404, "not-found");
        assert_eq!(got["detail"], expected["detail"]);
    }
}

#[tokio::test]
async fn an_unknown_query_parameter_is_never_ignored() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let paths = [
        "/v1/airframes?color=red".to_owned(),
        format!("/v1/airframes/{}?limit=3", fleet.airframe),
        "/v1/part-types?x".to_owned(),
        "/v1/part-types/motor-bearing/advice?years=3".to_owned(),
    ];
    for path in paths {
        let _ = service
            .get(&fleet.token, &path)
            .await
            .problem(400, "unknown-parameter");
    }
    let body = json!({"part_type": "motor-bearing"});
    let reply = service
        .post(&fleet.token, "/v1/components?dry-run=true", &body)
        .await;
    let _ = reply.problem(400, "unknown-parameter");
}

#[tokio::test]
async fn a_parameter_outside_its_rule_is_invalid() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    for query in ["age=-1", "age=NaN", "age=1e10", "age=x", "scale=miles"] {
        let reply = service
            .get(
                &token,
                &format!("/v1/part-types/motor-bearing/advice?{query}"),
            )
            .await;
        let _ = reply.problem(400, "invalid-parameter");
    }
    let reply = service.get(&token, "/v1/flights?airframe_id=x").await;
    let _ = reply.problem(400, "invalid-parameter");
}

#[tokio::test]
async fn a_method_that_the_address_does_not_have_names_those_it_has() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let air = format!("/v1/airframes/{}", harness::records::fresh("air"));
    for (method, path, allowed) in [
        (Method::DELETE, "/v1/airframes", vec!["GET", "HEAD", "POST"]),
        (Method::PUT, air.as_str(), vec!["GET", "HEAD", "PATCH"]),
        (Method::POST, "/v1/part-types", vec!["GET", "HEAD"]),
        (Method::GET, "/v1/imports", vec!["POST"]),
    ] {
        let reply = service
            .send(service.request(method, path).bearer_auth(&token))
            .await;
        let _ = reply.problem(405, "method-not-allowed");
        let mut named: Vec<&str> = reply
            .header("allow")
            .unwrap_or_default()
            .split(',')
            .map(str::trim)
            .collect();
        named.sort_unstable();
        assert_eq!(named, allowed, "{path}");
    }
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
async fn a_form_that_is_not_offered_is_not_acceptable() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let request = service.request(Method::GET, "/v1/part-types/motor-bearing/survival-curve");
    let reply = service
        .send(request.bearer_auth(&token).header("accept", "image/png"))
        .await;
    let _ = reply.problem(406, "not-acceptable");
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

#[tokio::test]
async fn a_request_without_a_good_token_is_told_how_to_send_one() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let missing = service
        .send(service.request(Method::GET, "/v1/airframes"))
        .await;
    let _ = missing.problem(401, "token-missing");
    assert_eq!(missing.header("www-authenticate"), Some("Bearer"));
    let basic = service
        .send(
            service
                .request(Method::GET, "/v1/airframes")
                .basic_auth("a", Some("b")),
        )
        .await;
    let _ = basic.problem(401, "token-missing");
    for token in ["x", "wearbook_", &format!("wearbook_{}", "a".repeat(49))] {
        let reply = service.get(token, "/v1/airframes").await;
        let _ = reply.problem(401, "token-invalid");
        assert_eq!(
            reply.header("www-authenticate"),
            Some("Bearer error=\"invalid_token\"")
        );
    }
}

#[tokio::test]
async fn a_token_without_the_scope_is_told_which_one() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.token(&[Scope::ReadOwn]).await;
    let reply = service
        .post(
            &token,
            "/v1/components",
            &json!({"part_type": "motor-bearing"}),
        )
        .await;
    let document = reply.problem(403, "scope-missing");
    assert!(
        document["detail"]
            .as_str()
            .unwrap_or_default()
            .contains("write-records")
    );
    assert_eq!(
        reply.header("www-authenticate"),
        Some("Bearer error=\"insufficient_scope\", scope=\"write-records\"")
    );
}

#[tokio::test]
async fn what_is_taken_conflicts_and_names_the_member() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let elsewhere = installation(&fleet.component, &fleet.airframe, "place-2", 5);
    let reply = service
        .post(&fleet.token, "/v1/installations", &elsewhere)
        .await;
    let _ = reply.problem(409, "overlap");
    assert_eq!(reply.pointers(), ["/component_id"]);
    let second = enter_component(&service, &fleet.token).await;
    let same_place = installation(&second, &fleet.airframe, "place-1", 5);
    let reply = service
        .post(&fleet.token, "/v1/installations", &same_place)
        .await;
    let _ = reply.problem(409, "overlap");
    assert_eq!(reply.pointers(), ["/position"]);
}

#[tokio::test]
async fn the_request_id_of_the_client_is_kept_when_it_is_harmless() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let request = service
        .request(Method::GET, "/v1/nothing")
        .header("x-request-id", "field-phone_7");
    let reply = service.send(request).await;
    assert_eq!(
        reply.problem(404, "not-found")["request_id"],
        "field-phone_7"
    );
    for odd in ["a b", "a\"b", &"a".repeat(65)] {
        let request = service
            .request(Method::GET, "/v1/nothing")
            .header("x-request-id", odd);
        let document = service.send(request).await.problem(404, "not-found");
        assert_ne!(document["request_id"], odd);
    }
}

#[tokio::test]
async fn a_time_to_come_or_before_1970_is_invalid() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    for moment in [
        "2999-01-01T00:00:00Z",
        "1969-12-31T23:59:59Z",
        "0001-01-01T00:00:00Z",
    ] {
        let mut body = flight(&fleet.airframe, 1, 5.0);
        body["flown_at"] = json!(moment);
        let reply = service.post(&fleet.token, "/v1/flights", &body).await;
        let _ = reply.problem(422, "invalid-record");
        assert_eq!(reply.pointers(), ["/flown_at"]);
    }
}
