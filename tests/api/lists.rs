//! Lists in pages.

use std::collections::BTreeMap;

use harness::records::{PART_TYPE, enter_component, id_of};
use harness::{Service, TestDatabase};
use serde_json::Value;

fn ids(page: &Value) -> Vec<String> {
    page["items"]
        .as_array()
        .expect("a page")
        .iter()
        .map(id_of)
        .collect()
}

#[tokio::test]
async fn a_walk_while_rows_are_added_meets_each_earlier_row_once() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let mut before = Vec::new();
    for _ in 0..23 {
        before.push(enter_component(&service, &token).await);
    }
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut path = Some("/v1/components?limit=5".to_owned());
    let mut pages = 0;
    while let Some(next) = path.take() {
        let page = service.get(&token, &next).await.expect(200);
        for id in ids(&page) {
            *seen.entry(id).or_default() += 1;
        }
        pages += 1;
        // Two more rows for the first pages, so that the walk ends.
        if pages <= 4 {
            enter_component(&service, &token).await;
            enter_component(&service, &token).await;
        }
        path = page["next"]
            .as_str()
            .map(|cursor| format!("/v1/components?limit=5&cursor={cursor}"));
    }
    assert!(before.iter().all(|id| seen.get(id) == Some(&1)), "{seen:?}");
    assert!(seen.values().all(|times| *times == 1));
    assert_eq!(seen.len(), 31);
}

#[tokio::test]
async fn the_link_header_leads_to_the_next_page_and_keeps_the_filter() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    for _ in 0..5 {
        enter_component(&service, &token).await;
    }
    let first = service
        .get(
            &token,
            &format!("/v1/components?part_type={PART_TYPE}&limit=3"),
        )
        .await;
    let link = first.header("link").expect("a link").to_owned();
    let (path, rest) = link
        .trim_start_matches('<')
        .split_once('>')
        .expect("an address in angle brackets");
    assert_eq!(rest, "; rel=\"next\"");
    assert!(path.contains(&format!("part_type={PART_TYPE}")) && path.contains("limit=3"));
    let second = service.get(&token, path).await;
    let page = second.expect(200);
    assert_eq!(ids(&page).len(), 2);
    assert!(page["next"].is_null() && second.header("link").is_none());
}

#[tokio::test]
async fn a_cursor_that_was_changed_is_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    for _ in 0..3 {
        enter_component(&service, &token).await;
    }
    let page = service
        .get(&token, "/v1/components?limit=1")
        .await
        .expect(200);
    let cursor = page["next"].as_str().expect("a cursor");
    for place in [0, cursor.len() / 2] {
        let flipped: String = cursor
            .char_indices()
            .map(|(index, letter)| match (index == place, letter) {
                (true, 'A') => 'B',
                (true, _) => 'A',
                (false, letter) => letter,
            })
            .collect();
        let reply = service
            .get(&token, &format!("/v1/components?limit=1&cursor={flipped}"))
            .await;
        let _ = reply.problem(400, "cursor-invalid");
    }
    for nonsense in ["x", "", "%00", "AAAA"] {
        let reply = service
            .get(&token, &format!("/v1/components?cursor={nonsense}"))
            .await;
        let _ = reply.problem(400, "cursor-invalid");
    }
}

#[tokio::test]
async fn a_cursor_of_another_list_filter_or_account_is_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    for _ in 0..3 {
        enter_component(&service, &token).await;
    }
    let page = service
        .get(&token, "/v1/components?limit=1")
        .await
        .expect(200);
    let cursor = page["next"].as_str().expect("a cursor");
    let elsewhere = [
        format!("/v1/airframes?cursor={cursor}"),
        format!("/v1/components?part_type={PART_TYPE}&cursor={cursor}"),
    ];
    for path in elsewhere {
        let _ = service
            .get(&token, &path)
            .await
            .problem(400, "cursor-invalid");
    }
    let other = service.pilot().await;
    let reply = service
        .get(&other, &format!("/v1/components?cursor={cursor}"))
        .await;
    let _ = reply.problem(400, "cursor-invalid");
    let _ = service
        .get(&token, &format!("/v1/components?cursor={cursor}"))
        .await
        .expect(200);
}

#[tokio::test]
async fn a_limit_above_the_largest_is_cut_and_a_senseless_one_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let _ = service
        .get(&token, "/v1/components?limit=100000")
        .await
        .expect(200);
    for limit in ["0", "-1", "x", "1.5", "", "99999999999999999999"] {
        let reply = service
            .get(&token, &format!("/v1/components?limit={limit}"))
            .await;
        let _ = reply.problem(400, "invalid-parameter");
    }
    let twice = service.get(&token, "/v1/components?limit=1&limit=2").await;
    let _ = twice.problem(400, "invalid-parameter");
}
