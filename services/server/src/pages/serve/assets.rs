//! The style sheet and the sketch in the tab. The style sheet's address carries a digest, so it may be kept for long.

use crate::pages::layout::{FAVICON, STYLE_SHEET};
use actix_web::HttpResponse;
use actix_web::http::header;

/// The style sheet.
pub async fn style_sheet() -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "public, max-age=31536000, immutable"))
        .content_type("text/css; charset=utf-8")
        .body(STYLE_SHEET)
}

/// The sketch. Its own policy lets the style that is part of the drawing work.
pub async fn favicon() -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((header::CACHE_CONTROL, "public, max-age=86400"))
        .content_type("image/svg+xml")
        .body(FAVICON)
}
