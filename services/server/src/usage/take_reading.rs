//! Enter a usage reading: what the counter says, or the history that an airframe comes with.

use super::store::{ReadingRow, insert_readings};
use super::view::ReadingView;
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
use wearbook_domain::ids::{AirframeId, ReadingId};
use wearbook_domain::units::{FlightMinutes, RotorKiloRevolutions, Usage};

/// A new reading.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReadingDraft {
    /// Your own id for it, for records made offline; made here when absent.
    #[schema(required = false)]
    pub id: Option<ReadingId>,
    /// Which airframe.
    pub airframe_id: AirframeId,
    /// When it was read. Flights up to and including this moment are in it.
    pub read_at: DateTime<Utc>,
    /// What it said; scales that were not kept stay away.
    pub usage: Usage,
    /// Free text.
    #[schema(required = false)]
    pub note: Option<Prose<2000>>,
}

/// Enters a reading in the caller's transaction.
///
/// # Errors
/// `invalid-record` for an airframe that is not the caller's, `usage-runs-backwards` when it contradicts another reading.
pub async fn take_reading(
    connection: &mut Connection,
    actor: &Actor,
    draft: ReadingDraft,
    now: DateTime<Utc>,
) -> Result<ReadingView, Problem> {
    let read_at = not_in_future("/read_at", draft.read_at, now)?;
    let airframe = own_airframe(connection, actor, draft.airframe_id).await?;
    let row = ReadingRow {
        id: draft.id.unwrap_or_else(|| ReadingId::new_at(now)).uuid(),
        owner_id: airframe.owner_id,
        airframe_id: airframe.id,
        read_at,
        flights: draft.usage.flights.get(),
        flight_minutes: draft.usage.flight_minutes.map(FlightMinutes::get),
        rotor_krev: draft.usage.rotor_krev.map(RotorKiloRevolutions::get),
        note: draft.note.map(Into::into),
        created_at: now,
    };
    insert_readings(connection, std::slice::from_ref(&row)).await?;
    Event::AirframeUsageChanged(draft.airframe_id)
        .record(connection)
        .await?;
    row.try_into()
}

/// Enters a reading.
#[utoipa::path(
    post, path = "/v1/usage-readings", operation_id = "take_usage_reading", tag = "usage",
    summary = "Enter a usage reading", description = "States an airframe's usage at one moment. It overrules what was logged before; later flights add to it. Usage never runs backwards.",
    params(WriteParameters),
    request_body = ReadingDraft,
    responses((status = 201, description = "The reading", body = ReadingView)),
    security(("token" = ["write-records"]))
)]
pub async fn post(
    acting: Acting<WriteRecords>,
    body: Body<ReadingDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = take_reading(connection, &acting, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/usage-readings/{}", view.id),
                view,
            })
        },
    )
    .await
}
