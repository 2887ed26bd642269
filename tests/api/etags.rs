//! Conditional requests: nothing is sent twice, nobody's change is lost.

use futures_util::future::join_all;
use harness::records::Fleet;
use harness::{Service, TestDatabase};
use reqwest::Method;
use serde_json::json;

#[tokio::test]
async fn a_record_that_the_client_has_is_not_sent_again() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let path = format!("/v1/airframes/{}", fleet.airframe);
    let first = service.get(&fleet.token, &path).await;
    for known in [
        first.etag().to_owned(),
        format!("W/{}", first.etag()),
        format!("\"other\", {}", first.etag()),
    ] {
        let request = service
            .request(Method::GET, &path)
            .bearer_auth(&fleet.token);
        let again = service.send(request.header("if-none-match", known)).await;
        assert_eq!((again.status, again.bytes.len()), (304, 0));
        assert_eq!(again.etag(), first.etag());
    }
    let request = service
        .request(Method::GET, &path)
        .bearer_auth(&fleet.token);
    let other = service
        .send(request.header("if-none-match", "\"other\""))
        .await;
    assert_eq!(other.bytes, first.bytes);
}

#[tokio::test]
async fn a_change_needs_the_tag_of_the_record_that_was_read() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let path = format!("/v1/airframes/{}", fleet.airframe);
    let before = service.get(&fleet.token, &path).await;

    let request = service
        .request(Method::PATCH, &path)
        .bearer_auth(&fleet.token);
    let request = request
        .header("content-type", "application/merge-patch+json")
        .body(r#"{"name":"New"}"#);
    let _ = service
        .send(request)
        .await
        .problem(428, "precondition-required");

    let stale = service
        .patch(&fleet.token, &path, "\"stale\"", &json!({"name": "New"}))
        .await;
    let _ = stale.problem(412, "etag-mismatch");
    assert_eq!(
        stale.etag(),
        before.etag(),
        "the present tag comes with the refusal"
    );

    let weak = service
        .patch(
            &fleet.token,
            &path,
            &format!("W/{}", before.etag()),
            &json!({"name": "New"}),
        )
        .await;
    let _ = weak.problem(412, "etag-mismatch");

    let changed = service
        .patch(&fleet.token, &path, before.etag(), &json!({"name": "New"}))
        .await;
    assert_eq!(changed.expect(200)["name"], "New");
    let after = service.get(&fleet.token, &path).await;
    assert_eq!(changed.bytes, after.bytes);
    assert_eq!(changed.etag(), after.etag());
    assert_ne!(before.etag(), after.etag());
}

#[tokio::test]
async fn a_patch_tells_null_from_absent() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let path = format!("/v1/airframes/{}", fleet.airframe);
    let before = service.get(&fleet.token, &path).await;
    let change = json!({"note": "a note", "usual_head_speed_rpm": 1900});
    let noted = service
        .patch(&fleet.token, &path, before.etag(), &change)
        .await;
    assert_eq!(noted.expect(200)["note"], "a note");
    let cleared = service
        .patch(&fleet.token, &path, noted.etag(), &json!({"note": null}))
        .await
        .expect(200);
    assert!(cleared["note"].is_null());
    assert_eq!(cleared["usual_head_speed_rpm"], 1900.0);
}

#[tokio::test]
async fn of_twenty_changes_of_one_reading_exactly_one_wins() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let path = format!("/v1/airframes/{}", fleet.airframe);
    let read = service.get(&fleet.token, &path).await;
    let changes: Vec<_> = (0..20)
        .map(|number| json!({"name": format!("Name {number}")}))
        .collect();
    let replies = join_all(
        changes
            .iter()
            .map(|change| service.patch(&fleet.token, &path, read.etag(), change)),
    )
    .await;
    let won: Vec<_> = replies.iter().filter(|reply| reply.status == 200).collect();
    assert_eq!(won.len(), 1);
    for lost in replies.iter().filter(|reply| reply.status != 200) {
        let _ = lost.problem(412, "etag-mismatch");
    }
    let winner = won.first().expect("one won");
    assert_eq!(service.get(&fleet.token, &path).await.bytes, winner.bytes);
}

#[tokio::test]
async fn a_token_is_revoked_only_with_its_tag_and_then_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let issued = service
        .create(
            &token,
            "/v1/tokens",
            &json!({"name": "second", "scopes": ["read-own"]}),
        )
        .await;
    let secret = issued["secret"].as_str().expect("a secret").to_owned();
    assert_eq!(service.get(&secret, "/v1/account").await.status, 200);
    let path = format!(
        "/v1/tokens/{}",
        issued["token"]["id"].as_str().expect("an id")
    );
    let _ = service
        .delete(&token, &path, "\"stale\"")
        .await
        .problem(412, "etag-mismatch");
    let without = service
        .send(service.request(Method::DELETE, &path).bearer_auth(&token))
        .await;
    let _ = without.problem(428, "precondition-required");
    let read = service.get(&token, &path).await;
    assert!(!read.text().contains(&secret), "a secret is shown once");
    assert_eq!(service.delete(&token, &path, read.etag()).await.status, 204);
    let _ = service
        .get(&secret, "/v1/account")
        .await
        .problem(401, "token-invalid");
}

#[tokio::test]
async fn a_new_record_answers_with_its_address_and_its_tag() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let body = json!({"design": fleet.design, "name": "Second (invented)"});
    let made = service.post(&fleet.token, "/v1/airframes", &body).await;
    let _ = made.expect(201);
    let location = made.header("location").expect("an address").to_owned();
    let read = service.get(&fleet.token, &location).await;
    assert_eq!(read.expect(200), made.expect(201));
    assert_eq!(read.etag(), made.etag());
}
