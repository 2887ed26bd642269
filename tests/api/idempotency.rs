//! Retried writes change nothing twice.

use futures_util::future::join_all;
use harness::records::Fleet;
use harness::{Service, TestDatabase};
use serde_json::{Value, json};

async fn airframes(service: &Service, token: &str) -> Vec<Value> {
    let page = service.get(token, "/v1/airframes").await.expect(200);
    page["items"].as_array().cloned().unwrap_or_default()
}

#[tokio::test]
async fn the_same_key_and_body_make_one_row_and_the_same_bytes() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let body = json!({"design": fleet.design, "name": "Once (invented)"});
    let first = service
        .post_once(&fleet.token, "/v1/airframes", "key-1", &body)
        .await;
    let again = service
        .post_once(&fleet.token, "/v1/airframes", "key-1", &body)
        .await;
    let _ = first.expect(201);
    assert_eq!(first.header("idempotency-replayed"), None);
    assert_eq!(again.header("idempotency-replayed"), Some("true"));
    assert_eq!((first.status, &first.bytes), (again.status, &again.bytes));
    for header in ["location", "etag", "content-type"] {
        assert_eq!(first.header(header), again.header(header), "{header}");
    }
    assert_eq!(airframes(&service, &fleet.token).await.len(), 2);
}

#[tokio::test]
async fn the_same_key_with_another_body_or_address_is_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let body = json!({"design": fleet.design, "name": "Once (invented)"});
    let _ = service
        .post_once(&fleet.token, "/v1/airframes", "key-1", &body)
        .await
        .expect(201);
    let other = json!({"design": fleet.design, "name": "Twice (invented)"});
    let reply = service
        .post_once(&fleet.token, "/v1/airframes", "key-1", &other)
        .await;
    let _ = reply.problem(422, "idempotency-key-reused");
    let elsewhere = json!({"part_type": harness::records::PART_TYPE});
    let reply = service
        .post_once(&fleet.token, "/v1/components", "key-1", &elsewhere)
        .await;
    let _ = reply.problem(422, "idempotency-key-reused");
    assert_eq!(airframes(&service, &fleet.token).await.len(), 2);
}

#[tokio::test]
async fn a_key_belongs_to_its_token() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let other = service.pilot().await;
    let body = json!({"design": fleet.design, "name": "Once (invented)"});
    let _ = service
        .post_once(&fleet.token, "/v1/airframes", "key-1", &body)
        .await
        .expect(201);
    let reply = service
        .post_once(&other, "/v1/airframes", "key-1", &body)
        .await;
    let _ = reply.expect(201);
    assert_eq!(reply.header("idempotency-replayed"), None);
}

#[tokio::test]
async fn a_refused_write_leaves_its_key_free() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let wrong = json!({"design": "no-such-design", "name": "Once (invented)"});
    let reply = service
        .post_once(&fleet.token, "/v1/airframes", "key-1", &wrong)
        .await;
    let _ = reply.problem(422, "invalid-record");
    let right = json!({"design": fleet.design, "name": "Once (invented)"});
    let _ = service
        .post_once(&fleet.token, "/v1/airframes", "key-1", &right)
        .await
        .expect(201);
}

#[tokio::test]
async fn twenty_requests_at_once_with_one_key_make_one_row() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let body = json!({"design": fleet.design, "name": "Once (invented)"});
    let replies =
        join_all((0..20).map(|_| service.post_once(&fleet.token, "/v1/airframes", "key-1", &body)))
            .await;
    let made: Vec<_> = replies.iter().filter(|reply| reply.status == 201).collect();
    let first = made.first().expect("one of them makes the row");
    assert!(made.iter().all(|reply| reply.bytes == first.bytes));
    assert_eq!(
        made.iter()
            .filter(|reply| reply.header("idempotency-replayed").is_none())
            .count(),
        1
    );
    for waiting in replies.iter().filter(|reply| reply.status != 201) {
        let _ = waiting.problem(409, "request-in-flight");
        assert!(waiting.header("retry-after").is_some());
    }
    assert_eq!(airframes(&service, &fleet.token).await.len(), 2);
}

#[tokio::test]
async fn a_key_that_is_empty_or_long_or_not_visible_is_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let body = json!({"design": fleet.design, "name": "Once (invented)"});
    for key in ["".to_owned(), "k".repeat(201), "schl\u{fc}ssel".to_owned()] {
        let reply = service
            .post_once(&fleet.token, "/v1/airframes", &key, &body)
            .await;
        let _ = reply.problem(400, "invalid-parameter");
    }
}

#[tokio::test]
async fn a_token_secret_is_never_remembered_for_a_retry() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({"name": "second", "scopes": ["read-own"]});
    let _ = service
        .post_once(&token, "/v1/tokens", "key-1", &body)
        .await
        .problem(400, "invalid-parameter");
}

#[tokio::test]
async fn a_dry_run_leaves_its_key_free() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let body = json!({"design": fleet.design, "name": "Once (invented)"});
    let rehearsal = service
        .post_once(&fleet.token, "/v1/airframes?dry_run=true", "key-1", &body)
        .await;
    let _ = rehearsal.expect(200);
    let earnest = service
        .post_once(&fleet.token, "/v1/airframes", "key-1", &body)
        .await;
    let _ = earnest.expect(201);
    assert_eq!(earnest.header("idempotency-replayed"), None);
}
