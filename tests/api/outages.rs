//! What a client meets when the database has bad moments: told to come back, and served again at once afterwards.

use futures_util::future::join_all;
use harness::records::{PART_TYPE, enter_design, fresh, id_of};
use harness::{Service, TestDatabase};
use serde_json::{Value, json};

/// Ends every session of the database but our own.
async fn cut_all_sessions(database: &TestDatabase) {
    let (client, connection) =
        tokio_postgres::connect(&database.administrator_url(), tokio_postgres::NoTls)
            .await
            .expect("the administrator's connection");
    tokio::spawn(connection);
    client
        .execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity \
             WHERE datname = current_database() AND pid <> pg_backend_pid()",
            &[],
        )
        .await
        .expect("the administrator may end sessions");
}

#[tokio::test]
async fn a_cut_connection_is_told_as_unavailable_and_replaced() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    // As many at once as open every connection of the service.
    let warm = join_all((0..10).map(|_| service.get(&token, "/v1/account"))).await;
    assert!(warm.iter().all(|reply| reply.status == 200));
    cut_all_sessions(&database).await;
    let mut served = false;
    for _ in 0..20 {
        let reply = service.get(&token, "/v1/account").await;
        if reply.status == 200 {
            served = true;
            continue;
        }
        assert!(!served, "one that was served is served again");
        let _ = reply.problem(503, "unavailable");
        assert!(reply.header("retry-after").is_some());
    }
    assert!(served);
}

#[tokio::test]
async fn imports_that_cross_are_entered_or_told_to_come_back() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let design = enter_design(&service, PART_TYPE, 1).await;
    let mut airframes = Vec::new();
    for number in 0..12 {
        let body = json!({"design": design, "name": format!("Airframe {number} (invented)")});
        airframes.push(id_of(&service.create(&token, "/v1/airframes", &body).await));
    }
    let import = |airframes: Vec<&String>| -> Value {
        let flights = airframes.iter().map(|airframe| {
            json!({"id": fresh("flt"), "airframe_id": airframe,
                "flown_at": harness::records::at(1), "duration_minutes": 5})
        });
        json!({"flights": flights.collect::<Vec<Value>>()})
    };
    let bodies: Vec<Value> = (0..10)
        .map(|number| {
            if number % 2 == 0 {
                import(airframes.iter().collect())
            } else {
                import(airframes.iter().rev().collect())
            }
        })
        .collect();
    let replies = join_all(
        bodies
            .iter()
            .map(|body| service.post(&token, "/v1/imports", body)),
    )
    .await;
    for (reply, body) in replies.iter().zip(&bodies) {
        if reply.status != 201 {
            let _ = reply.problem(503, "unavailable");
            // The advice to come back is good.
            let _ = service.create(&token, "/v1/imports", body).await;
        }
    }
}
