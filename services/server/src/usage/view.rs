//! Flights and readings as the API shows them.

use super::store::{FlightsRow, ReadingRow};
use crate::platform::http::problem::Problem;
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_domain::ids::{AirframeId, FlightsId, ReadingId};
use wearbook_domain::units::{FlightMinutes, Flights, RotorKiloRevolutions, Usage};
use wearbook_domain::vocabulary::DurationBasis;

/// One flight, or a counted batch of flights.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = FlightsRecord)]
pub struct FlightsView {
    /// Id.
    pub id: FlightsId,
    /// Which airframe flew.
    pub airframe_id: AirframeId,
    /// When; a batch counts at one moment.
    pub flown_at: DateTime<Utc>,
    /// How many flights.
    #[schema(minimum = 1, maximum = 1000)]
    pub flights: i32,
    /// Minutes of all of them together.
    pub duration_minutes: f64,
    /// How the duration was obtained.
    pub duration_basis: DurationBasis,
    /// Mean head speed.
    pub head_speed_rpm: Option<f64>,
    /// Share of hard flying, 0 to 1.
    pub hard_share: Option<f64>,
    /// Free text.
    #[schema(max_length = 2000)]
    pub note: Option<String>,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

/// What an airframe's counter said.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = UsageReading)]
pub struct ReadingView {
    /// Id.
    pub id: ReadingId,
    /// Which airframe.
    pub airframe_id: AirframeId,
    /// When it was read.
    pub read_at: DateTime<Utc>,
    /// What it said.
    pub usage: Usage,
    /// Free text.
    #[schema(max_length = 2000)]
    pub note: Option<String>,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

impl TryFrom<FlightsRow> for FlightsView {
    type Error = Problem;

    fn try_from(row: FlightsRow) -> Result<Self, Problem> {
        Ok(Self {
            id: FlightsId::from_uuid(row.id),
            airframe_id: AirframeId::from_uuid(row.airframe_id),
            flown_at: row.flown_at,
            flights: row.flight_count,
            duration_minutes: row.duration_minutes,
            duration_basis: row.duration_basis.parse().map_err(Problem::internal)?,
            head_speed_rpm: row.head_speed_rpm,
            hard_share: row.hard_share,
            note: row.note,
            created_at: row.created_at,
        })
    }
}

impl TryFrom<ReadingRow> for ReadingView {
    type Error = Problem;

    fn try_from(row: ReadingRow) -> Result<Self, Problem> {
        Ok(Self {
            id: ReadingId::from_uuid(row.id),
            airframe_id: AirframeId::from_uuid(row.airframe_id),
            read_at: row.read_at,
            usage: Usage {
                flights: Flights::new(row.flights).map_err(Problem::internal)?,
                flight_minutes: row
                    .flight_minutes
                    .map(FlightMinutes::new)
                    .transpose()
                    .map_err(Problem::internal)?,
                rotor_krev: row
                    .rotor_krev
                    .map(RotorKiloRevolutions::new)
                    .transpose()
                    .map_err(Problem::internal)?,
            },
            note: row.note,
            created_at: row.created_at,
        })
    }
}
