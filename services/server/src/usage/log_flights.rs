//! Log a flight, or a counted batch of flights.

use super::store::{FlightsRow, insert_flights};
use super::view::FlightsView;
use crate::access::{Acting, Actor, WriteRecords};
use crate::events::Event;
use crate::fleet::own_airframe;
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::moment::not_in_future;
use crate::platform::http::problem::Problem;
use crate::platform::http::text::Prose;
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::{AirframeId, FlightsId};
use wearbook_domain::vocabulary::DurationBasis;

/// New flights.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FlightsDraft {
    /// Your own id for it, for records made offline; made here when absent.
    #[schema(required = false)]
    pub id: Option<FlightsId>,
    /// Which airframe flew.
    pub airframe_id: AirframeId,
    /// When; a batch counts at one moment.
    pub flown_at: DateTime<Utc>,
    /// How many flights: 1 unless said.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 1000, required = false, example = 1)]
    pub flights: i32,
    /// Minutes of all of them together.
    #[schema(exclusive_minimum = 0, maximum = 100000, example = 5.5)]
    pub duration_minutes: f64,
    /// How the duration was obtained: `logged` unless said.
    #[serde(default = "logged")]
    #[schema(required = false)]
    pub duration_basis: DurationBasis,
    /// Mean head speed.
    #[schema(minimum = 100, maximum = 10000, required = false, example = 1950)]
    pub head_speed_rpm: Option<f64>,
    /// Share of hard flying, 0 to 1.
    #[schema(minimum = 0, maximum = 1, required = false, example = 0.4)]
    pub hard_share: Option<f64>,
    /// Free text.
    #[schema(required = false)]
    pub note: Option<Prose<2000>>,
}

fn logged() -> DurationBasis {
    DurationBasis::Logged
}

fn one() -> i32 {
    1
}

/// Logs flights in the caller's transaction.
///
/// # Errors
/// `invalid-record` for an airframe that is not the caller's, `usage-runs-backwards` before a reading that is too low for them.
pub async fn log_flights(
    connection: &mut Connection,
    actor: &Actor,
    draft: FlightsDraft,
    now: DateTime<Utc>,
) -> Result<FlightsView, Problem> {
    let flown_at = not_in_future("/flown_at", draft.flown_at, now)?;
    let airframe = own_airframe(connection, actor, draft.airframe_id).await?;
    let row = FlightsRow {
        id: draft.id.unwrap_or_else(|| FlightsId::new_at(now)).uuid(),
        owner_id: airframe.owner_id,
        airframe_id: airframe.id,
        flown_at,
        flight_count: draft.flights,
        duration_minutes: draft.duration_minutes,
        duration_basis: draft.duration_basis.code().to_owned(),
        head_speed_rpm: draft.head_speed_rpm,
        hard_share: draft.hard_share,
        note: draft.note.map(Into::into),
        created_at: now,
    };
    insert_flights(connection, std::slice::from_ref(&row)).await?;
    Event::AirframeUsageChanged(draft.airframe_id)
        .record(connection)
        .await?;
    row.try_into()
}

/// Logs flights.
#[utoipa::path(
    post, path = "/v1/flights", operation_id = "log_flights", tag = "usage",
    summary = "Log flights", description = "Logs one flight or a counted batch. Everything fitted at that moment ages by it, however late it is entered.",
    params(WriteParameters),
    request_body = FlightsDraft,
    responses((status = 201, description = "The flights", body = FlightsView)),
    security(("token" = ["write-records"]))
)]
pub async fn post(
    acting: Acting<WriteRecords>,
    body: Body<FlightsDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = log_flights(connection, &acting, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/flights/{}", view.id),
                view,
            })
        },
    )
    .await
}
