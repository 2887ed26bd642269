//! Rows of flights and readings.

use crate::platform::http::paging::Window;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::{airframes, flights, usage_readings};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

/// Flights as stored.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = flights)]
#[expect(missing_docs, reason = "columns, described in the migration")]
pub struct FlightsRow {
    pub id: Uuid,
    pub owner_id: Uuid,
    pub airframe_id: Uuid,
    pub flown_at: DateTime<Utc>,
    pub flight_count: i32,
    pub duration_minutes: f64,
    pub duration_basis: String,
    pub head_speed_rpm: Option<f64>,
    pub hard_share: Option<f64>,
    pub note: Option<String>,
    pub created_at: DateTime<Utc>,
}

/// A reading as stored.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = usage_readings)]
#[expect(missing_docs, reason = "columns, described in the migration")]
pub struct ReadingRow {
    pub id: Uuid,
    pub owner_id: Uuid,
    pub airframe_id: Uuid,
    pub read_at: DateTime<Utc>,
    pub flights: f64,
    pub flight_minutes: Option<f64>,
    pub rotor_krev: Option<f64>,
    pub note: Option<String>,
    pub created_at: DateTime<Utc>,
}

/// Writes flights; many at once go in pieces that fit into one statement.
///
/// # Errors
/// The faults of the constraints, among them `usage-runs-backwards`.
pub async fn insert_flights(
    connection: &mut Connection,
    rows: &[FlightsRow],
) -> Result<(), Problem> {
    for piece in rows.chunks(2000) {
        diesel::insert_into(flights::table)
            .values(piece)
            .execute(connection)
            .await?;
    }
    Ok(())
}

/// Writes readings.
///
/// # Errors
/// The faults of the constraints, among them `usage-runs-backwards`.
pub async fn insert_readings(
    connection: &mut Connection,
    rows: &[ReadingRow],
) -> Result<(), Problem> {
    for piece in rows.chunks(2000) {
        diesel::insert_into(usage_readings::table)
            .values(piece)
            .execute(connection)
            .await?;
    }
    Ok(())
}

pub(super) async fn flights(
    connection: &mut Connection,
    owners: &[Uuid],
    id: Uuid,
) -> Result<Option<FlightsRow>, Problem> {
    Ok(flights::table
        .filter(flights::id.eq(id).and(flights::owner_id.eq_any(owners)))
        .select(FlightsRow::as_select())
        .first(connection)
        .await
        .optional()?)
}

pub(super) async fn flights_after(
    connection: &mut Connection,
    owners: &[Uuid],
    airframe: Option<Uuid>,
    window: &Window,
) -> Result<Vec<FlightsRow>, Problem> {
    let mut query = flights::table
        .filter(flights::owner_id.eq_any(owners))
        .select(FlightsRow::as_select())
        .order(flights::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(flights::id.gt(after));
    }
    if let Some(airframe) = airframe {
        query = query.filter(flights::airframe_id.eq(airframe));
    }
    Ok(query.load(connection).await?)
}

pub(super) async fn reading(
    connection: &mut Connection,
    owners: &[Uuid],
    id: Uuid,
) -> Result<Option<ReadingRow>, Problem> {
    Ok(usage_readings::table
        .filter(
            usage_readings::id
                .eq(id)
                .and(usage_readings::owner_id.eq_any(owners)),
        )
        .select(ReadingRow::as_select())
        .first(connection)
        .await
        .optional()?)
}

pub(super) async fn readings_after(
    connection: &mut Connection,
    owners: &[Uuid],
    airframe: Option<Uuid>,
    window: &Window,
) -> Result<Vec<ReadingRow>, Problem> {
    let mut query = usage_readings::table
        .filter(usage_readings::owner_id.eq_any(owners))
        .select(ReadingRow::as_select())
        .order(usage_readings::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(usage_readings::id.gt(after));
    }
    if let Some(airframe) = airframe {
        query = query.filter(usage_readings::airframe_id.eq(airframe));
    }
    Ok(query.load(connection).await?)
}

/// What counts of a record of flights: airframe, moment, flights, minutes, head speed.
pub(super) type Flown = (Uuid, DateTime<Utc>, i32, f64, Option<f64>);
/// What counts of a reading: airframe, moment, flights, minutes, thousand turns.
pub(super) type Read = (Uuid, DateTime<Utc>, f64, Option<f64>, Option<f64>);

pub(super) async fn flown_by(
    connection: &mut Connection,
    airframe_ids: &[Uuid],
) -> Result<Vec<Flown>, Problem> {
    Ok(flights::table
        .filter(flights::airframe_id.eq_any(airframe_ids))
        .select((
            flights::airframe_id,
            flights::flown_at,
            flights::flight_count,
            flights::duration_minutes,
            flights::head_speed_rpm,
        ))
        .load(connection)
        .await?)
}

pub(super) async fn read_of(
    connection: &mut Connection,
    airframe_ids: &[Uuid],
) -> Result<Vec<Read>, Problem> {
    Ok(usage_readings::table
        .filter(usage_readings::airframe_id.eq_any(airframe_ids))
        .select((
            usage_readings::airframe_id,
            usage_readings::read_at,
            usage_readings::flights,
            usage_readings::flight_minutes,
            usage_readings::rotor_krev,
        ))
        .load(connection)
        .await?)
}

pub(super) async fn usual_head_speeds(
    connection: &mut Connection,
    airframe_ids: &[Uuid],
) -> Result<Vec<(Uuid, Option<f64>)>, Problem> {
    Ok(airframes::table
        .filter(airframes::id.eq_any(airframe_ids))
        .select((airframes::id, airframes::usual_head_speed_rpm))
        .load(connection)
        .await?)
}

/// Flights, minutes and thousand turns of the whole fleet, where each was kept.
#[derive(Debug, Clone, Copy, QueryableByName)]
pub(super) struct FleetTotals {
    #[diesel(sql_type = diesel::sql_types::Double)]
    pub flights: f64,
    #[diesel(sql_type = diesel::sql_types::Double)]
    pub minutes: f64,
    #[diesel(sql_type = diesel::sql_types::Double)]
    pub flights_with_turns: f64,
    #[diesel(sql_type = diesel::sql_types::Double)]
    pub rotor_krev: f64,
}

pub(super) async fn fleet_totals(connection: &mut Connection) -> Result<FleetTotals, Problem> {
    Ok(diesel::sql_query(include_str!("fleet_totals.sql"))
        .get_result(connection)
        .await?)
}

/// Records of flights that are there already.
///
/// # Errors
/// When the database is away.
pub async fn known_flights(
    connection: &mut Connection,
    owners: &[Uuid],
    ids: &[Uuid],
) -> Result<Vec<Uuid>, Problem> {
    Ok(flights::table
        .filter(
            flights::id
                .eq_any(ids)
                .and(flights::owner_id.eq_any(owners)),
        )
        .select(flights::id)
        .load(connection)
        .await?)
}

/// Readings that are there already.
///
/// # Errors
/// When the database is away.
pub async fn known_readings(
    connection: &mut Connection,
    owners: &[Uuid],
    ids: &[Uuid],
) -> Result<Vec<Uuid>, Problem> {
    Ok(usage_readings::table
        .filter(
            usage_readings::id
                .eq_any(ids)
                .and(usage_readings::owner_id.eq_any(owners)),
        )
        .select(usage_readings::id)
        .load(connection)
        .await?)
}
