//! Writes that cross: each may be right alone, but not all together.

use futures_util::future::join_all;
use harness::records::{
    Fleet, PART_TYPE, enter_component, enter_design, id_of, installation, reading,
};
use harness::{Service, TestDatabase};
use serde_json::{Value, json};

#[tokio::test]
async fn of_two_fittings_into_one_place_at_once_exactly_one_wins() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let design = enter_design(&service, PART_TYPE, 20).await;
    let token = service.pilot().await;
    let body = json!({"design": design, "name": "Airframe (invented)"});
    let airframe = id_of(&service.create(&token, "/v1/airframes", &body).await);
    let mut pairs = Vec::new();
    for place in 1..=20 {
        let place = format!("place-{place}");
        for _ in 0..2 {
            let component = enter_component(&service, &token).await;
            pairs.push((
                place.clone(),
                installation(&component, &airframe, &place, 0),
            ));
        }
    }
    let replies = join_all(
        pairs
            .iter()
            .map(|(_, body)| service.post(&token, "/v1/installations", body)),
    )
    .await;
    for (pair, replies) in pairs.chunks(2).zip(replies.chunks(2)) {
        let place = pair.first().map(|(place, _)| place);
        let mut statuses: Vec<u16> = replies.iter().map(|reply| reply.status).collect();
        statuses.sort_unstable();
        assert_eq!(
            statuses,
            [201, 409],
            "{place:?}: {}",
            replies.iter().map(harness::Reply::text).collect::<String>()
        );
        for lost in replies.iter().filter(|reply| reply.status == 409) {
            let _ = lost.problem(409, "overlap");
        }
    }
}

#[tokio::test]
async fn of_twenty_fittings_of_one_component_at_once_exactly_one_wins() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let design = enter_design(&service, PART_TYPE, 20).await;
    let token = service.pilot().await;
    let body = json!({"design": design, "name": "Airframe (invented)"});
    let airframe = id_of(&service.create(&token, "/v1/airframes", &body).await);
    let component = enter_component(&service, &token).await;
    let bodies: Vec<Value> = (1..=20)
        .map(|place| installation(&component, &airframe, &format!("place-{place}"), 0))
        .collect();
    let replies = join_all(
        bodies
            .iter()
            .map(|body| service.post(&token, "/v1/installations", body)),
    )
    .await;
    assert_eq!(
        replies.iter().filter(|reply| reply.status == 201).count(),
        1
    );
    for lost in replies.iter().filter(|reply| reply.status != 201) {
        let _ = lost.problem(409, "overlap");
    }
}

#[tokio::test]
async fn readings_entered_at_once_cannot_be_right_alone_and_wrong_together() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let fleet = Fleet::enter(&service).await;
    let bodies: Vec<Value> = (0_u32..20)
        .map(|n| {
            reading(
                &fleet.airframe,
                100 + i64::from(n),
                40 - n,
                f64::from(40 - n),
            )
        })
        .collect();
    let replies = join_all(
        bodies
            .iter()
            .map(|body| service.post(&fleet.token, "/v1/usage-readings", body)),
    )
    .await;
    assert_eq!(
        replies.iter().filter(|reply| reply.status == 201).count(),
        1
    );
    for lost in replies.iter().filter(|reply| reply.status != 201) {
        let _ = lost.problem(409, "usage-runs-backwards");
    }
}
