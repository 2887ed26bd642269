//! The API reference: a well-kept viewer, vendored into the binary, reading this instance's own description.

use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::{self, ServiceConfig};
use utoipa_swagger_ui::{Config, SwaggerUi};

async fn to_reference() -> HttpResponse {
    HttpResponse::PermanentRedirect()
        .insert_header((header::LOCATION, "/reference/"))
        .finish()
}

/// Addresses.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/reference").route(web::get().to(to_reference)))
        .service(
            SwaggerUi::new("/reference/{_:.*}")
                .config(Config::from("/openapi.json").use_base_layout()),
        );
}
