//! Rows of designs and positions.

use crate::platform::http::paging::Window;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::{
    aircraft_designs, airframes, failure_modes, part_types, positions,
};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::upsert::excluded;
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use wearbook_domain::catalogue::Catalogue;
use wearbook_domain::ids::AirframeId;

#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = aircraft_designs)]
pub struct DesignRow {
    pub id: Uuid,
    pub key: String,
    pub name: String,
    pub rotor_class_mm: Option<f64>,
    pub drive: Option<String>,
    pub invented: bool,
    pub created_at: DateTime<Utc>,
}

#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = positions)]
pub struct PositionRow {
    pub id: Uuid,
    pub design_id: Uuid,
    pub key: String,
    pub name: String,
    pub part_type_key: String,
}

/// A position of an airframe's design.
#[derive(Debug, Clone, Queryable)]
pub struct FoundPosition {
    /// Id.
    pub id: Uuid,
    /// What sits there.
    pub part_type_key: String,
}

/// The position with this key on the design of an airframe.
///
/// # Errors
/// When the database is away.
pub async fn find_position(
    connection: &mut Connection,
    airframe: AirframeId,
    key: &str,
) -> Result<Option<FoundPosition>, Problem> {
    Ok(positions::table
        .inner_join(airframes::table.on(airframes::design_id.eq(positions::design_id)))
        .filter(
            airframes::id
                .eq(airframe.uuid())
                .and(positions::key.eq(key)),
        )
        .select((positions::id, positions::part_type_key))
        .first(connection)
        .await
        .optional()?)
}

pub async fn design(
    connection: &mut Connection,
    key: &str,
) -> Result<Option<(DesignRow, Vec<PositionRow>)>, Problem> {
    let found = aircraft_designs::table
        .filter(aircraft_designs::key.eq(key))
        .select(DesignRow::as_select())
        .first(connection)
        .await
        .optional()?;
    let Some(row) = found else { return Ok(None) };
    let rows = positions_of(connection, &[row.id]).await?;
    Ok(Some((row, rows)))
}

pub async fn designs_after(
    connection: &mut Connection,
    window: &Window,
) -> Result<Vec<DesignRow>, Problem> {
    let mut query = aircraft_designs::table
        .select(DesignRow::as_select())
        .order(aircraft_designs::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(aircraft_designs::id.gt(after));
    }
    Ok(query.load(connection).await?)
}

pub async fn positions_of(
    connection: &mut Connection,
    designs: &[Uuid],
) -> Result<Vec<PositionRow>, Problem> {
    Ok(positions::table
        .filter(positions::design_id.eq_any(designs))
        .select(PositionRow::as_select())
        .order((positions::design_id, positions::id))
        .load(connection)
        .await?)
}

pub async fn insert_design(
    connection: &mut Connection,
    row: &DesignRow,
    places: &[PositionRow],
) -> Result<(), Problem> {
    diesel::insert_into(aircraft_designs::table)
        .values(row)
        .execute(connection)
        .await?;
    diesel::insert_into(positions::table)
        .values(places)
        .execute(connection)
        .await?;
    Ok(())
}

/// Part types and modes of the program, as rows that others can refer to.
pub async fn upsert_catalogue(
    connection: &mut Connection,
    catalogue: &Catalogue,
) -> Result<(), Problem> {
    let types: Vec<_> = catalogue
        .part_types
        .iter()
        .map(|part| {
            (
                part_types::key.eq(part.key.as_str()),
                part_types::name.eq(part.name.as_str()),
            )
        })
        .collect();
    diesel::insert_into(part_types::table)
        .values(types)
        .on_conflict(part_types::key)
        .do_update()
        .set(part_types::name.eq(excluded(part_types::name)))
        .execute(connection)
        .await?;
    let modes: Vec<_> = catalogue
        .part_types
        .iter()
        .flat_map(|part| {
            part.failure_modes.iter().map(|mode| {
                (
                    failure_modes::part_type_key.eq(part.key.as_str()),
                    failure_modes::key.eq(mode.key.as_str()),
                    failure_modes::name.eq(mode.name.as_str()),
                )
            })
        })
        .collect();
    diesel::insert_into(failure_modes::table)
        .values(modes)
        .on_conflict((failure_modes::part_type_key, failure_modes::key))
        .do_update()
        .set(failure_modes::name.eq(excluded(failure_modes::name)))
        .execute(connection)
        .await?;
    Ok(())
}
