//! A token may do what its scopes say, and nothing else.

use harness::records::{PART_TYPE, fresh};
use harness::{Service, TestDatabase};
use reqwest::Method;
use serde_json::{Value, json};
use wearbook_domain::vocabulary::Scope;

/// Method, path and the one scope of every operation that needs a token.
fn guarded_operations() -> Vec<(Method, String, String)> {
    let document = wearbook::openapi::document();
    let mut found = Vec::new();
    for (path, item) in document["paths"].as_object().expect("paths") {
        for (method, operation) in item.as_object().expect("operations") {
            let Some(scope) = operation["security"][0]["token"][0].as_str() else {
                continue;
            };
            let method = Method::from_bytes(method.to_uppercase().as_bytes()).expect("a method");
            let path = path
                .replace("{key}", PART_TYPE)
                .replace("{id}", &fresh("air"));
            found.push((method, path, scope.to_owned()));
        }
    }
    found
}

#[tokio::test]
async fn each_scope_alone_opens_its_own_operations_only() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let operations = guarded_operations();
    for scope in Scope::ALL {
        let token = service.token(&[*scope]).await;
        assert!(
            operations
                .iter()
                .any(|(_, _, needed)| needed == scope.code()),
            "{scope} opens nothing"
        );
        for (method, path, needed) in &operations {
            let mut request = service.request(method.clone(), path).bearer_auth(&token);
            if *method != Method::GET {
                request = request.json(&json!({}));
            }
            let reply = service.send(request).await;
            if needed == scope.code() {
                assert_ne!(reply.status, 403, "{method} {path} with {scope}");
            } else {
                let document = reply.problem(403, "scope-missing");
                assert!(
                    document["detail"]
                        .as_str()
                        .unwrap_or_default()
                        .contains(needed),
                    "{document}"
                );
            }
        }
    }
}

#[tokio::test]
async fn a_stranger_is_turned_away_before_anything_else_is_looked_at() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let stranger = format!("wearbook_{}", "a".repeat(49));
    let reader = service.token(&[Scope::ReadOwn]).await;
    for (method, path) in [
        (Method::POST, "/v1/components"),
        (Method::PATCH, "/v1/airframes/x"),
        (Method::POST, "/v1/imports"),
    ] {
        for body in [String::new(), "{".to_owned(), "x".repeat(200_000)] {
            let request = service.request(method.clone(), path).body(body.clone());
            let _ = service.send(request).await.problem(401, "token-missing");
            let request = service
                .request(method.clone(), path)
                .bearer_auth(&stranger)
                .body(body.clone());
            let _ = service.send(request).await.problem(401, "token-invalid");
            let request = service
                .request(method.clone(), path)
                .bearer_auth(&reader)
                .body(body);
            let _ = service.send(request).await.problem(403, "scope-missing");
        }
    }
    for path in [
        "/v1/airframes/x",
        "/v1/airframes?colour=red",
        "/v1/airframes?cursor=x",
    ] {
        let _ = service
            .get(&stranger, path)
            .await
            .problem(401, "token-invalid");
    }
}

#[tokio::test]
async fn a_token_cannot_make_a_wider_one() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.token(&[Scope::ReadOwn]).await;
    let body = json!({"name": "wider", "scopes": ["read-own", "administer", "write-records"]});
    let reply = service.post(&token, "/v1/tokens", &body).await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/scopes/1", "/scopes/2"]);
    let other = service.account("Another pilot (invented)").await;
    let body = json!({"name": "foreign", "scopes": ["read-own"], "account_id": other});
    let reply = service.post(&token, "/v1/tokens", &body).await;
    assert_eq!(reply.pointers(), ["/account_id"]);
}

#[tokio::test]
async fn a_token_of_an_organisation_member_acts_for_the_organisation() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let administrator = service.token(&[Scope::Administer]).await;
    let member = service.account("Member (invented)").await;
    let scopes = [Scope::ReadOwn, Scope::WriteRecords];
    let token = service.token_of(member, &scopes).await;
    let body = json!({"kind": "club", "name": "Club North Field (invented)", "members": [member]});
    let club = service
        .create(&administrator, "/v1/organisations", &body)
        .await;
    let body = json!({"part_type": PART_TYPE, "owner": club["id"]});
    let component = service.create(&token, "/v1/components", &body).await;
    assert_eq!(component["owner"], club["id"]);
    let path = format!(
        "/v1/components/{}",
        component["id"].as_str().unwrap_or_default()
    );
    assert_eq!(service.get(&token, &path).await.expect(200), component);
    let stranger = service.token(&scopes).await;
    let _ = service
        .get(&stranger, &path)
        .await
        .problem(404, "not-found");
    let refused = service.post(&stranger, "/v1/components", &body).await;
    assert_eq!(refused.pointers(), ["/owner"]);
    let listed = service
        .get(&stranger, "/v1/organisations")
        .await
        .expect(200);
    assert_eq!(listed["items"], json!([]));
}

#[tokio::test]
async fn an_account_sees_itself_and_its_own_tokens_only() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let account = service.account("Pilot 7 (invented)").await;
    let token = service.token_of(account, &[Scope::ReadOwn]).await;
    let _ = service.pilot().await;
    let own = service.get(&token, "/v1/account").await.expect(200);
    assert_eq!(
        (&own["id"], &own["display_name"]),
        (&json!(account), &json!("Pilot 7 (invented)"))
    );
    let tokens = service.get(&token, "/v1/tokens").await.expect(200);
    let accounts: Vec<&Value> = tokens["items"]
        .as_array()
        .expect("a page")
        .iter()
        .map(|one| &one["account_id"])
        .collect();
    assert_eq!(accounts, [&json!(account)]);
    assert!(!tokens.to_string().contains("secret"));
}
