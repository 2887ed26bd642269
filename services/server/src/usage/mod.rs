//! How much an airframe has done: flights (single or in counted batches) and meter readings.

mod flights;
mod ledger;
mod log_flights;
mod readings;
mod store;
mod take_reading;
mod view;
mod wear_per_flight;

pub use ledger::{AirframeRecords, ledgers_of};
pub use log_flights::{FlightsDraft, log_flights};
pub use store::{
    FlightsRow, ReadingRow, insert_flights, insert_readings, known_flights, known_readings,
};
pub use take_reading::{ReadingDraft, take_reading};
pub use view::{FlightsView, ReadingView};
pub use wear_per_flight::{WearPerFlight, wear_per_flight};

use actix_web::web::{self, ServiceConfig, get, head, post};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/v1/flights")
                .route(get().to(flights::list))
                .route(head().to(flights::list))
                .route(post().to(log_flights::post)),
        )
        .service(
            web::resource("/v1/flights/{id}")
                .route(get().to(flights::get))
                .route(head().to(flights::get)),
        )
        .service(
            web::resource("/v1/usage-readings")
                .route(get().to(readings::list))
                .route(head().to(readings::list))
                .route(post().to(take_reading::post)),
        )
        .service(
            web::resource("/v1/usage-readings/{id}")
                .route(get().to(readings::get))
                .route(head().to(readings::get)),
        );
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(
    paths(flights::list, flights::get, log_flights::post, readings::list, readings::get, take_reading::post),
    tags((name = "usage", description = "Flights and usage readings of airframes"))
)]
pub struct Description;
