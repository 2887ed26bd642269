//! The pages as HTML; what a browser makes of them is tested in one.

use harness::{Reply, Service, TestDatabase};
use reqwest::Method;

async fn page(service: &Service, path: &str) -> Reply {
    service
        .send(
            service
                .request(Method::GET, path)
                .header("accept", "text/html,application/xhtml+xml"),
        )
        .await
}

#[tokio::test]
async fn every_page_is_html_that_may_load_from_here_only() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    for path in [
        "/",
        "/about",
        "/part-types/motor-bearing",
        "/part-types/motor-bearing?scale=flights",
        "/errors/overlap",
    ] {
        let reply = page(&service, path).await;
        assert_eq!(reply.status, 200, "{path}: {}", reply.text());
        assert_eq!(
            reply.header("content-type"),
            Some("text/html; charset=utf-8"),
            "{path}"
        );
        let policy = reply.header("content-security-policy").unwrap_or_default();
        assert!(
            policy.contains("default-src 'none'") && !policy.contains("unsafe"),
            "{path}: {policy}"
        );
        let text = reply.text();
        assert!(
            text.starts_with("<!DOCTYPE html>") && text.contains("<h1>"),
            "{path}"
        );
        assert!(!text.contains("<script"), "{path}");
    }
}

#[tokio::test]
async fn a_page_that_is_not_there_is_said_in_the_form_that_was_asked_for() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    for path in [
        "/nowhere",
        "/part-types/no-such-part",
        "/errors/no-such-code",
    ] {
        let reply = page(&service, path).await;
        assert_eq!(
            (reply.status, reply.header("content-type")),
            (404, Some("text/html; charset=utf-8")),
            "{path}"
        );
        let document = service.send(service.request(Method::GET, path)).await;
        let _ = document.problem(404, "not-found");
    }
    let _ = page(&service, "/v1/nowhere")
        .await
        .problem(404, "not-found");
}

#[tokio::test]
async fn every_code_has_its_page() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let codes = service
        .send(service.request(Method::GET, "/v1/errors"))
        .await
        .expect(200);
    let codes = codes["items"].as_array().expect("a list");
    assert_eq!(codes.len(), wearbook::platform::http::codes::CODES.len());
    for entry in codes {
        let code = entry["code"].as_str().expect("a code");
        let reply = page(&service, &format!("/errors/{code}")).await;
        assert_eq!(reply.status, 200, "{code}");
        assert!(reply.text().contains(code), "{code}");
    }
}

#[tokio::test]
async fn markup_in_an_address_stays_text() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    for path in [
        "/%3Cscript%3Ealert(1)%3C/script%3E",
        "/part-types/motor-bearing?%3Cscript%3E=1",
        "/about?x=%22%3E%3Cscript%3E",
    ] {
        let reply = page(&service, path).await;
        assert!((400..500).contains(&reply.status), "{path}");
        assert!(!reply.text().contains("<script"), "{path}");
    }
}
