//! Puts the service together: what every request passes through, and which slice answers.

use crate::platform::http::body::Schemas;
use crate::platform::http::heavy_work::HeavyWork;
use crate::platform::http::middleware::ProblemPage;
use crate::platform::http::paging::CursorKey;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Pool;
use crate::platform::postgres::schema::instance;
use crate::{
    access, advice, analyses, catalogue, exchange, failures, fits, fleet, health, lives, openapi,
    pages, usage,
};
use actix_web::HttpResponse;
use actix_web::web::{self, Data, ServiceConfig};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;

/// What the handlers share. Made once, cloned into every worker thread.
#[derive(Clone)]
pub struct Shared {
    /// Database connections.
    pub pool: Data<Pool>,
    /// Checks request bodies.
    pub schemas: Data<Schemas>,
    /// Signs list cursors.
    pub cursor_key: Data<CursorKey>,
    /// Lets a few long computations run at a time.
    pub heavy_work: Data<HeavyWork>,
    /// The API description as text.
    pub description: Data<Description>,
}

/// The served API description.
pub struct Description(pub String);

impl Shared {
    /// Reads what the instance keeps in its database.
    ///
    /// # Errors
    /// When the database is away or was not migrated.
    pub async fn load(pool: Pool) -> Result<Self, Problem> {
        let key: Vec<u8> = instance::table
            .select(instance::cursor_key)
            .first(&mut *pool.get().await?)
            .await?;
        Ok(Self {
            pool: Data::new(pool),
            schemas: Data::new(Schemas::new(openapi::document())),
            cursor_key: Data::new(CursorKey(key)),
            heavy_work: Data::new(HeavyWork::of_this_machine()),
            description: Data::new(Description(openapi::text())),
        })
    }

    /// Adds everything to an application.
    pub fn configure(&self, config: &mut ServiceConfig) {
        config
            .app_data(self.pool.clone())
            .app_data(self.schemas.clone())
            .app_data(self.cursor_key.clone())
            .app_data(self.heavy_work.clone())
            .app_data(self.description.clone())
            .configure(health::routes)
            .configure(access::routes)
            .configure(catalogue::routes)
            .configure(fleet::routes)
            .configure(usage::routes)
            .configure(failures::routes)
            .configure(lives::routes)
            .configure(fits::routes)
            .configure(advice::routes)
            .configure(analyses::routes)
            .configure(exchange::routes)
            .configure(pages::routes)
            .app_data(ProblemPage(pages::problem_page))
            .service(web::resource("/openapi.json").route(web::get().to(description)))
            .default_service(web::to(nothing_here));
    }
}

async fn description(text: Data<Description>, request: actix_web::HttpRequest) -> HttpResponse {
    let tag = crate::platform::http::etag::of(text.0.as_bytes());
    if crate::platform::http::etag::is_known_to(&request, &tag) {
        return HttpResponse::NotModified()
            .insert_header(("etag", tag))
            .finish();
    }
    HttpResponse::Ok()
        .insert_header(("etag", tag))
        .insert_header(("cache-control", "public, max-age=300"))
        .content_type("application/json")
        .body(text.0.clone())
}

async fn nothing_here() -> Result<HttpResponse, Problem> {
    Err(Problem::not_found())
}
