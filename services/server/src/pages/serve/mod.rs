//! The addresses of the pages: what is asked for, read through the front doors of the slices, drawn by the views.

mod about_page;
mod assets;
mod error_pages;
mod overview_page;
mod part_type_page;
mod reference;

pub use error_pages::{Description, problem_page};

use super::layout::{FAVICON_PATH, STYLE_SHEET_PATH, Shell};
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::instance;
use actix_web::http::header;
use actix_web::web::{self, ServiceConfig, get, head};
use actix_web::{HttpRequest, HttpResponse};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;

/// Addresses.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/")
                .route(get().to(overview_page::show))
                .route(head().to(overview_page::show)),
        )
        .service(
            web::resource("/part-types/{key}")
                .route(get().to(part_type_page::show))
                .route(head().to(part_type_page::show)),
        )
        .service(
            web::resource("/about")
                .route(get().to(about_page::show))
                .route(head().to(about_page::show)),
        )
        .service(
            web::resource("/errors/{key}")
                .route(get().to(error_pages::code))
                .route(head().to(error_pages::code)),
        )
        .service(
            web::resource("/v1/errors")
                .route(get().to(error_pages::list))
                .route(head().to(error_pages::list)),
        )
        .service(
            web::resource(STYLE_SHEET_PATH)
                .route(get().to(assets::style_sheet))
                .route(head().to(assets::style_sheet)),
        )
        .service(
            web::resource(FAVICON_PATH)
                .route(get().to(assets::favicon))
                .route(head().to(assets::favicon)),
        )
        .configure(reference::routes);
}

/// Whether this instance shows the invented fleet.
async fn is_demo(connection: &mut Connection) -> Result<bool, Problem> {
    Ok(instance::table
        .select(instance::demo)
        .first(connection)
        .await?)
}

async fn shell(connection: &mut Connection, request: &HttpRequest) -> Result<Shell, Problem> {
    let path = match request.query_string() {
        "" => request.path().to_owned(),
        query => format!("{}?{query}", request.path()),
    };
    Ok(Shell {
        path,
        demo: is_demo(connection).await?,
    })
}

fn html(page: Result<String, askama::Error>) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "no-cache"))
        .content_type("text/html; charset=utf-8")
        .body(page.map_err(Problem::internal)?))
}
