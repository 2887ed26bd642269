//! What the books hold together: fleet, usage, failures, and many records at once.

use harness::records::{
    Fleet, MODE, PART_TYPE, at, enter_component, failure, flight, fresh, id_of, installation,
    reading, removal,
};
use harness::{Service, TestDatabase};
use serde_json::{Value, json};

#[tokio::test]
async fn a_component_goes_its_way_from_fitting_to_failure() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let token = &fleet.token;
    let logged = service
        .create(token, "/v1/flights", &flight(&fleet.airframe, 10, 6.5))
        .await;
    assert_eq!(
        (&logged["flights"], &logged["duration_basis"]),
        (&json!(1), &json!("logged"))
    );
    let batch = json!({"airframe_id": fleet.airframe, "flown_at": at(20), "flights": 4, "duration_minutes": 20});
    let _ = service.create(token, "/v1/flights", &batch).await;
    let report = service
        .create(
            token,
            "/v1/failure-reports",
            &failure(&fleet.installation, 25),
        )
        .await;
    assert_eq!(
        (&report["part_type"], &report["role"]),
        (&json!(PART_TYPE), &json!("primary"))
    );
    assert!(report["severity"].is_string(), "the usual one of its mode");
    let removed = service
        .create(
            token,
            "/v1/removals",
            &removal(&fleet.installation, 25, "failed"),
        )
        .await;
    let ended = service
        .get(token, &format!("/v1/installations/{}", fleet.installation))
        .await
        .expect(200);
    assert_eq!(ended["removed_at"], removed["removed_at"]);
    service.settle().await;
    let lives = service
        .get(token, &format!("/v1/components/{}/lives", fleet.component))
        .await
        .expect(200);
    let life = lives["lives"]
        .as_array()
        .expect("lives")
        .iter()
        .find(|life| life["scale"] == "flight-minutes")
        .expect("a life in minutes")
        .clone();
    assert_eq!(life["entry"], 0.0);
    assert!(life["end"].to_string().contains("26.5"), "{life}");
    assert!(life["end"].to_string().contains(MODE), "{life}");
    let sources = life["sources"].to_string();
    for id in [id_of(&report), id_of(&removed), fleet.installation.clone()] {
        assert!(sources.contains(&id), "{id} is not among {sources}");
    }
}

#[tokio::test]
async fn a_late_flight_moves_the_life_it_belongs_to() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let _ = service
        .create(
            &fleet.token,
            "/v1/flights",
            &flight(&fleet.airframe, 10, 5.0),
        )
        .await;
    service.settle().await;
    let path = format!(
        "/v1/components/{}/advice?scale=flight-minutes",
        fleet.component
    );
    assert_eq!(
        service.get(&fleet.token, &path).await.expect(200)["age"],
        5.0
    );
    let _ = service
        .create(
            &fleet.token,
            "/v1/flights",
            &flight(&fleet.airframe, 5, 3.0),
        )
        .await;
    service.settle().await;
    assert_eq!(
        service.get(&fleet.token, &path).await.expect(200)["age"],
        8.0
    );
}

#[tokio::test]
async fn usage_never_runs_backwards_whatever_comes_first() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let token = &fleet.token;
    let air = &fleet.airframe;
    let _ = service
        .create(token, "/v1/usage-readings", &reading(air, 100, 10, 60.0))
        .await;
    let lower = service
        .post(token, "/v1/usage-readings", &reading(air, 200, 9, 60.0))
        .await;
    let _ = lower.problem(409, "usage-runs-backwards");
    let fewer_minutes = service
        .post(token, "/v1/usage-readings", &reading(air, 200, 10, 59.0))
        .await;
    let _ = fewer_minutes.problem(409, "usage-runs-backwards");
    let higher_before = service
        .post(token, "/v1/usage-readings", &reading(air, 50, 11, 60.0))
        .await;
    let _ = higher_before.problem(409, "usage-runs-backwards");
    let _ = service
        .create(token, "/v1/usage-readings", &reading(air, 200, 12, 72.0))
        .await;
    // Two flights are between the readings; a third, entered late, has no room.
    let _ = service
        .create(token, "/v1/flights", &flight(air, 150, 6.0))
        .await;
    let _ = service
        .create(token, "/v1/flights", &flight(air, 160, 6.0))
        .await;
    let late = service
        .post(token, "/v1/flights", &flight(air, 170, 1.0))
        .await;
    let _ = late.problem(409, "usage-runs-backwards");
    let _ = service
        .create(token, "/v1/flights", &flight(air, 210, 6.0))
        .await;
    let same_moment = service
        .post(token, "/v1/usage-readings", &reading(air, 200, 12, 72.0))
        .await;
    let _ = same_moment.problem(409, "already-exists");
}

#[tokio::test]
async fn a_failure_lies_inside_its_installation() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let token = &fleet.token;
    let early = service
        .post(
            token,
            "/v1/failure-reports",
            &failure(&fleet.installation, -1),
        )
        .await;
    let _ = early.problem(422, "outside-installation");
    let _ = service
        .create(
            token,
            "/v1/failure-reports",
            &failure(&fleet.installation, 30),
        )
        .await;
    let before_the_failure = service
        .post(
            token,
            "/v1/removals",
            &removal(&fleet.installation, 20, "failed"),
        )
        .await;
    let _ = before_the_failure.problem(422, "outside-installation");
    let _ = service
        .create(
            token,
            "/v1/removals",
            &removal(&fleet.installation, 40, "failed"),
        )
        .await;
    let after = service
        .post(
            token,
            "/v1/failure-reports",
            &failure(&fleet.installation, 41),
        )
        .await;
    let _ = after.problem(422, "outside-installation");
    assert_eq!(after.pointers(), ["/occurred_at"]);
    let again = service
        .post(
            token,
            "/v1/removals",
            &removal(&fleet.installation, 50, "failed"),
        )
        .await;
    let _ = again.problem(409, "already-removed");
}

#[tokio::test]
async fn a_removal_lies_after_the_fitting() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    for minutes in [0, -5] {
        let reply = service
            .post(
                &fleet.token,
                "/v1/removals",
                &removal(&fleet.installation, minutes, "upgrade"),
            )
            .await;
        let _ = reply.problem(422, "outside-installation");
        assert_eq!(reply.pointers(), ["/removed_at"]);
    }
}

#[tokio::test]
async fn a_mode_of_another_part_type_and_a_clean_look_after_the_failure_are_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let mut body = failure(&fleet.installation, 10);
    body["mode"] = json!("tooth-shear");
    let reply = service
        .post(&fleet.token, "/v1/failure-reports", &body)
        .await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/mode"]);
    let mut body = failure(&fleet.installation, 10);
    body["last_known_good_at"] = json!(at(11));
    let reply = service
        .post(&fleet.token, "/v1/failure-reports", &body)
        .await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/last_known_good_at"]);
}

#[tokio::test]
async fn a_component_fits_only_where_its_part_type_belongs() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let belt = id_of(
        &service
            .create(
                &fleet.token,
                "/v1/components",
                &json!({"part_type": "tail-belt"}),
            )
            .await,
    );
    let reply = service
        .post(
            &fleet.token,
            "/v1/installations",
            &installation(&belt, &fleet.airframe, "place-2", 0),
        )
        .await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/component_id"]);
    let bearing = enter_component(&service, &fleet.token).await;
    let nowhere = installation(&bearing, &fleet.airframe, "place-9", 0);
    let reply = service
        .post(&fleet.token, "/v1/installations", &nowhere)
        .await;
    assert_eq!(reply.pointers(), ["/position"]);
}

#[tokio::test]
async fn a_component_that_is_fitted_again_carries_its_age_on() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let token = &fleet.token;
    let _ = service
        .create(token, "/v1/flights", &flight(&fleet.airframe, 10, 5.0))
        .await;
    let _ = service
        .create(
            token,
            "/v1/removals",
            &removal(&fleet.installation, 20, "moved"),
        )
        .await;
    let mut claimed_new = installation(&fleet.component, &fleet.airframe, "place-2", 30);
    claimed_new["age_basis"] = json!("new");
    let reply = service.post(token, "/v1/installations", &claimed_new).await;
    assert_eq!(reply.pointers(), ["/age_basis"]);
    let again = installation(&fleet.component, &fleet.airframe, "place-2", 30);
    let again = service.create(token, "/v1/installations", &again).await;
    assert_eq!(again["age_basis"], "carried-on");
    let _ = service
        .create(token, "/v1/flights", &flight(&fleet.airframe, 40, 4.0))
        .await;
    service.settle().await;
    let path = format!(
        "/v1/components/{}/advice?scale=flight-minutes",
        fleet.component
    );
    assert_eq!(service.get(token, &path).await.expect(200)["age"], 9.0);
}

#[tokio::test]
async fn a_dry_run_checks_everything_and_changes_nothing() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    service.settle().await;
    let token = &fleet.token;
    let bodies = [
        (
            "/v1/airframes",
            json!({"design": fleet.design, "name": "Second (invented)"}),
        ),
        ("/v1/components", json!({"part_type": PART_TYPE})),
        ("/v1/flights", flight(&fleet.airframe, 10, 5.0)),
        (
            "/v1/usage-readings",
            reading(&fleet.airframe, 100, 10, 60.0),
        ),
        ("/v1/failure-reports", failure(&fleet.installation, 10)),
        ("/v1/removals", removal(&fleet.installation, 20, "failed")),
        (
            "/v1/imports",
            json!({"components": [{"id": fresh("cmp"), "part_type": PART_TYPE}]}),
        ),
    ];
    let lists: Vec<_> = bodies
        .iter()
        .map(|(path, _)| *path)
        .filter(|path| *path != "/v1/imports")
        .collect();
    let before = contents(&service, token, &lists).await;
    for (path, body) in &bodies {
        let reply = service
            .post(token, &format!("{path}?dry_run=true"), body)
            .await;
        let _ = reply.expect(200);
        assert_eq!(reply.header("location"), None, "{path}");
    }
    let wrong = service
        .post(
            token,
            "/v1/flights?dry_run=true",
            &flight(&fresh("air"), 10, 5.0),
        )
        .await;
    let _ = wrong.problem(422, "invalid-record");
    assert_eq!(contents(&service, token, &lists).await, before);
    let advice = service
        .get(token, &format!("/v1/part-types/{PART_TYPE}/advice"))
        .await
        .expect(200);
    assert_eq!(advice["recalculation_pending"], false);
}

async fn contents(service: &Service, token: &str, lists: &[&str]) -> Vec<Value> {
    let mut found = Vec::new();
    for path in lists {
        found.push(service.get(token, path).await.expect(200));
    }
    found
}

#[tokio::test]
async fn a_record_with_its_own_id_is_entered_once() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let mut body = flight(&fleet.airframe, 10, 5.0);
    body["id"] = json!(fresh("flt"));
    assert_eq!(
        service.create(&fleet.token, "/v1/flights", &body).await["id"],
        body["id"]
    );
    let again = service.post(&fleet.token, "/v1/flights", &body).await;
    let _ = again.problem(409, "already-exists");
    assert_eq!(again.pointers(), ["/id"]);
}
