//! Every documented way to fail answers with one kind of document.

use harness::records::{Fleet, enter_component, flight, installation};
use harness::{Service, TestDatabase};
use reqwest::Method;
use serde_json::json;
use wearbook_domain::vocabulary::Scope;

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
