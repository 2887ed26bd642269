//! Is it up, and can it serve?

use harness::{Service, TestDatabase};
use reqwest::Method;

#[tokio::test]
async fn a_migrated_database_makes_the_service_ready() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    for path in ["/healthz", "/readyz"] {
        let reply = service.send(service.request(Method::GET, path)).await;
        assert_eq!(reply.expect(200)["status"], "ok");
        let head = service.send(service.request(Method::HEAD, path)).await;
        assert_eq!((head.status, head.bytes.len()), (200, 0));
    }
}

#[tokio::test]
async fn a_missing_migration_makes_the_service_unready_but_alive() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    forget_newest_migration(&database).await;
    let reply = service.send(service.request(Method::GET, "/readyz")).await;
    let _ = reply.problem(503, "unavailable");
    assert!(reply.header("retry-after").is_some());
    let alive = service.send(service.request(Method::GET, "/healthz")).await;
    assert_eq!(alive.status, 200);
}

#[tokio::test]
async fn an_empty_database_is_refused_at_the_start() {
    use wearbook::app::Shared;
    use wearbook::platform::postgres::Pool;
    let database = TestDatabase::create().await;
    let (client, connection) = tokio_postgres::connect(&database.url, tokio_postgres::NoTls)
        .await
        .unwrap();
    tokio::spawn(connection);
    client.batch_execute("DROP TABLE instance").await.unwrap();
    assert!(
        Shared::load(Pool::new(&database.url, 1).unwrap())
            .await
            .is_err()
    );
}

async fn forget_newest_migration(database: &TestDatabase) {
    let (client, connection) = tokio_postgres::connect(&database.url, tokio_postgres::NoTls)
        .await
        .expect("the test's own connection");
    tokio::spawn(connection);
    client
        .batch_execute(
            "DELETE FROM __diesel_schema_migrations \
             WHERE version = (SELECT max(version) FROM __diesel_schema_migrations)",
        )
        .await
        .expect("the table of migrations");
}
