//! Is the process up, and can it serve?

use crate::platform::http::problem::Problem;
use crate::platform::postgres::{Pool, migration_names};
use actix_web::web::{self, Data, ServiceConfig, get};
use actix_web::{HttpRequest, HttpResponse};
use diesel::sql_types::BigInt;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use utoipa::{OpenApi, ToSchema};

/// The state of a service that answers.
#[derive(Debug, Serialize, ToSchema)]
pub struct Health {
    /// Always `ok`: what is not well answers with a problem.
    #[schema(max_length = 10, example = "ok")]
    pub status: &'static str,
    /// Version of the running program.
    #[schema(max_length = 40)]
    pub version: &'static str,
}

const WELL: Health = Health {
    status: "ok",
    version: env!("CARGO_PKG_VERSION"),
};

#[derive(diesel::QueryableByName)]
struct Steps {
    #[diesel(sql_type = BigInt)]
    steps: i64,
}

/// The process answers.
#[utoipa::path(
    get, path = "/healthz", operation_id = "health", tag = "service",
    summary = "Is the process up?", description = "Answers without asking the database.",
    responses((status = 200, description = "The process answers", body = Health))
)]
pub async fn healthz() -> HttpResponse {
    HttpResponse::Ok().json(WELL)
}

/// The service can work: database reachable, schema as this binary expects it.
#[utoipa::path(
    get, path = "/readyz", operation_id = "readiness", tag = "service",
    summary = "Can the service work?", description = "Asks the database and compares its schema with this program.",
    responses((status = 200, description = "Ready", body = Health))
)]
pub async fn readyz(pool: Data<Pool>, _: HttpRequest) -> Result<HttpResponse, Problem> {
    let mut connection = pool.get().await?;
    let found: Steps =
        diesel::sql_query("SELECT count(*) AS steps FROM __diesel_schema_migrations")
            .get_result(&mut *connection)
            .await
            .map_err(|_| Problem::unavailable())?;
    if usize::try_from(found.steps).ok() != Some(migration_names().len()) {
        return Err(Problem::unavailable());
    }
    Ok(HttpResponse::Ok().json(WELL))
}

/// Addresses.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/healthz")
                .route(get().to(healthz))
                .route(web::head().to(healthz)),
        )
        .service(
            web::resource("/readyz")
                .route(get().to(readyz))
                .route(web::head().to(readyz)),
        );
}

/// Descriptions.
#[derive(OpenApi)]
#[openapi(paths(healthz, readyz))]
pub struct Description;
