//! What belongs to somebody else answers like what does not exist.

use harness::records::{
    Fleet, PART_TYPE, at, enter_design, failure, flight, fresh, id_of, installation, reading,
    removal,
};
use harness::{Reply, Service, TestDatabase};
use serde_json::{Value, json};

/// Two owners on one design; the first has a record of every kind.
struct Neighbours {
    first: Fleet,
    second: Fleet,
    /// Path of a list and the first one's id in it.
    records: Vec<(&'static str, String)>,
}

async fn neighbours(service: &Service) -> Neighbours {
    let design = enter_design(service, PART_TYPE, 3).await;
    let first = Fleet::enter_with(service, &design, service.pilot().await).await;
    let second = Fleet::enter_with(service, &design, service.pilot().await).await;
    let token = &first.token;
    let mut records = vec![
        ("/v1/airframes", first.airframe.clone()),
        ("/v1/components", first.component.clone()),
        ("/v1/installations", first.installation.clone()),
    ];
    let bodies = [
        ("/v1/flights", flight(&first.airframe, 10, 5.0)),
        (
            "/v1/usage-readings",
            reading(&first.airframe, 100, 10, 60.0),
        ),
        ("/v1/failure-reports", failure(&first.installation, 120)),
        ("/v1/removals", removal(&first.installation, 130, "failed")),
    ];
    for (path, body) in bodies {
        records.push((path, id_of(&service.create(token, path, &body).await)));
    }
    let tokens = service.get(token, "/v1/tokens").await.expect(200);
    records.push(("/v1/tokens", id_of(&tokens["items"][0])));
    Neighbours {
        first,
        second,
        records,
    }
}

/// The answer without what must differ: the request's own id, and the id that was asked for.
fn comparable(reply: &Reply, asked: &str) -> String {
    let mut document: Value = serde_json::from_slice(&reply.bytes).expect("a problem document");
    document["request_id"] = json!("");
    format!(
        "{} {}",
        reply.status,
        document.to_string().replace(asked, "ID")
    )
}

fn prefix(id: &str) -> &str {
    id.split('_').next().unwrap_or_default()
}

#[tokio::test]
async fn a_record_of_somebody_else_reads_like_a_random_id() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let neighbours = neighbours(&service).await;
    service.settle().await;
    let component = &neighbours.first.component;
    let mut addresses: Vec<(String, &String)> = neighbours
        .records
        .iter()
        .map(|(list, id)| (format!("{list}/{{id}}"), id))
        .collect();
    addresses.push(("/v1/components/{id}/lives".to_owned(), component));
    addresses.push(("/v1/components/{id}/advice".to_owned(), component));
    for (address, id) in addresses {
        let path = address.replace("{id}", id);
        let _ = service
            .get(&neighbours.first.token, &path)
            .await
            .expect(200);
        let foreign = service.get(&neighbours.second.token, &path).await;
        let _ = foreign.problem(404, "not-found");
        let random = fresh(prefix(id));
        let absent = service
            .get(&neighbours.second.token, &address.replace("{id}", &random))
            .await;
        assert_eq!(
            comparable(&foreign, id),
            comparable(&absent, &random),
            "{address}"
        );
    }
}

#[tokio::test]
async fn a_list_holds_ones_own_records_only() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let neighbours = neighbours(&service).await;
    for (list, id) in &neighbours.records {
        let foreign = service
            .get(&neighbours.second.token, list)
            .await
            .expect(200);
        assert!(!foreign.to_string().contains(id.as_str()), "{list}");
        let own = service.get(&neighbours.first.token, list).await.expect(200);
        assert!(own.to_string().contains(id.as_str()), "{list}");
    }
    let filters = [
        format!(
            "/v1/installations?component_id={}",
            neighbours.first.component
        ),
        format!(
            "/v1/installations?airframe_id={}",
            neighbours.first.airframe
        ),
        format!("/v1/flights?airframe_id={}", neighbours.first.airframe),
        format!(
            "/v1/usage-readings?airframe_id={}",
            neighbours.first.airframe
        ),
        format!(
            "/v1/failure-reports?component_id={}",
            neighbours.first.component
        ),
    ];
    for path in filters {
        let foreign = service
            .get(&neighbours.second.token, &path)
            .await
            .expect(200);
        assert_eq!(foreign, json!({"items": [], "next": null}), "{path}");
    }
}

#[tokio::test]
async fn a_body_that_names_a_foreign_record_is_refused_like_one_that_names_nothing() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let neighbours = neighbours(&service).await;
    let (foreign, own) = (&neighbours.first, &neighbours.second);
    let with_id = |mut body: Value, prefix: &str| {
        body["id"] = json!(fresh(prefix));
        body
    };
    // Path, body with a foreign id, that id, and the place of it.
    let attempts = [
        (
            "/v1/installations",
            installation(&foreign.component, &own.airframe, "place-2", 200),
            &foreign.component,
            "/component_id",
        ),
        (
            "/v1/installations",
            installation(&own.component, &foreign.airframe, "place-2", 200),
            &foreign.airframe,
            "/airframe_id",
        ),
        (
            "/v1/flights",
            flight(&foreign.airframe, 200, 5.0),
            &foreign.airframe,
            "/airframe_id",
        ),
        (
            "/v1/usage-readings",
            reading(&foreign.airframe, 200, 20, 90.0),
            &foreign.airframe,
            "/airframe_id",
        ),
        (
            "/v1/removals",
            removal(&foreign.installation, 200, "failed"),
            &foreign.installation,
            "/installation_id",
        ),
        (
            "/v1/failure-reports",
            failure(&foreign.installation, 120),
            &foreign.installation,
            "/installation_id",
        ),
        (
            "/v1/imports",
            json!({"flights": [with_id(flight(&foreign.airframe, 200, 5.0), "flt")]}),
            &foreign.airframe,
            "/flights/0/airframe_id",
        ),
        (
            "/v1/imports",
            json!({"removals": [with_id(removal(&foreign.installation, 200, "failed"), "rem")]}),
            &foreign.installation,
            "/removals/0/installation_id",
        ),
    ];
    for (path, body, id, place) in attempts {
        let refused = service.post(&own.token, path, &body).await;
        let _ = refused.problem(422, "invalid-record");
        assert_eq!(refused.pointers(), [place], "{path}");
        let random = fresh(prefix(id));
        let nothing = body.to_string().replace(id.as_str(), &random);
        let nothing = service
            .post(
                &own.token,
                path,
                &serde_json::from_str(&nothing).expect("the same body"),
            )
            .await;
        assert_eq!(
            comparable(&refused, id),
            comparable(&nothing, &random),
            "{path}"
        );
    }
}

#[tokio::test]
async fn a_foreign_record_cannot_be_changed() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let neighbours = neighbours(&service).await;
    let path = format!("/v1/airframes/{}", neighbours.first.airframe);
    let before = service.get(&neighbours.first.token, &path).await;
    let change = json!({"name": "Taken over"});
    let reply = service
        .patch(&neighbours.second.token, &path, before.etag(), &change)
        .await;
    let _ = reply.problem(404, "not-found");
    assert_eq!(
        service.get(&neighbours.first.token, &path).await.bytes,
        before.bytes
    );
    let token = neighbours
        .records
        .iter()
        .find(|(list, _)| *list == "/v1/tokens")
        .map(|(_, id)| id);
    let path = format!("/v1/tokens/{}", token.expect("a token"));
    let read = service.get(&neighbours.first.token, &path).await;
    let reply = service
        .delete(&neighbours.second.token, &path, read.etag())
        .await;
    let _ = reply.problem(404, "not-found");
    assert_eq!(
        service
            .get(&neighbours.first.token, "/v1/account")
            .await
            .status,
        200
    );
}

#[tokio::test]
async fn an_owner_that_one_does_not_act_for_is_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let neighbours = neighbours(&service).await;
    let own = &neighbours.second;
    let foreign = service
        .get(&neighbours.first.token, "/v1/account")
        .await
        .expect(200);
    for owner in [
        foreign["id"].as_str().unwrap_or_default().to_owned(),
        fresh("acc"),
        fresh("org"),
    ] {
        let body = json!({"part_type": PART_TYPE, "owner": owner});
        assert_eq!(
            service
                .post(&own.token, "/v1/components", &body)
                .await
                .pointers(),
            ["/owner"]
        );
        let body = json!({"design": own.design, "name": "Airframe (invented)", "owner": owner});
        assert_eq!(
            service
                .post(&own.token, "/v1/airframes", &body)
                .await
                .pointers(),
            ["/owner"]
        );
    }
}

#[tokio::test]
async fn an_id_that_somebody_else_used_tells_nothing_of_the_record() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let neighbours = neighbours(&service).await;
    let secret = json!({"part_type": PART_TYPE, "id": fresh("cmp"), "serial": "S-4711", "note": "kept by the first"});
    let _ = service
        .create(&neighbours.first.token, "/v1/components", &secret)
        .await;
    let taken = json!({"part_type": PART_TYPE, "id": secret["id"]});
    let reply = service
        .post(&neighbours.second.token, "/v1/components", &taken)
        .await;
    let _ = reply.problem(409, "already-exists");
    for told in ["S-4711", "kept by the first", &at(0)] {
        assert!(!reply.text().contains(told), "{}", reply.text());
    }
}
