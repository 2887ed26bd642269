//! Rows of airframes, components, installations and removals.

use crate::platform::http::paging::Window;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::{
    aircraft_designs, airframes, components, installations, removals,
};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

/// An airframe as stored.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = airframes)]
#[expect(missing_docs, reason = "columns, described in the migration")]
pub struct AirframeRow {
    pub id: Uuid,
    pub owner_id: Uuid,
    pub design_id: Uuid,
    pub name: String,
    pub usual_head_speed_rpm: Option<f64>,
    pub note: Option<String>,
    pub created_at: DateTime<Utc>,
}

/// A component as stored.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = components)]
#[expect(missing_docs, reason = "columns, described in the migration")]
pub struct ComponentRow {
    pub id: Uuid,
    pub owner_id: Uuid,
    pub part_type_key: String,
    pub part_number: Option<String>,
    pub serial: Option<String>,
    pub lot: Option<String>,
    pub note: Option<String>,
    pub created_at: DateTime<Utc>,
}

/// An installation as stored.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = installations)]
#[expect(missing_docs, reason = "columns, described in the migration")]
pub struct InstallationRow {
    pub id: Uuid,
    pub owner_id: Uuid,
    pub component_id: Uuid,
    pub airframe_id: Uuid,
    pub position_id: Uuid,
    pub fitted_at: DateTime<Utc>,
    pub age_basis: String,
    pub age_flights: Option<f64>,
    pub age_flight_minutes: Option<f64>,
    pub age_rotor_krev: Option<f64>,
    pub removed_at: Option<DateTime<Utc>>,
    pub created_at: DateTime<Utc>,
}

/// A removal as stored.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = removals)]
#[expect(missing_docs, reason = "columns, described in the migration")]
pub struct RemovalRow {
    pub id: Uuid,
    pub owner_id: Uuid,
    pub installation_id: Uuid,
    pub removed_at: DateTime<Utc>,
    pub reason: String,
    pub note: Option<String>,
    pub created_at: DateTime<Utc>,
}

/// One owned row by its id.
macro_rules! one_owned {
    ($name:ident, $table:ident, $row:ty) => {
        pub(super) async fn $name(
            connection: &mut Connection,
            owners: &[Uuid],
            id: Uuid,
        ) -> Result<Option<$row>, Problem> {
            Ok($table::table
                .filter($table::id.eq(id).and($table::owner_id.eq_any(owners)))
                .select(<$row>::as_select())
                .first(connection)
                .await
                .optional()?)
        }
    };
}

/// Writes rows; many at once go in pieces that fit into one statement.
macro_rules! insert_rows {
    ($(#[$doc:meta])* $name:ident, $table:ident, $row:ty) => {
        $(#[$doc])*
        ///
        /// # Errors
        /// The faults of the constraints.
        pub async fn $name(connection: &mut Connection, rows: &[$row]) -> Result<(), Problem> {
            for piece in rows.chunks(2000) {
                diesel::insert_into($table::table).values(piece).execute(connection).await?;
            }
            Ok(())
        }
    };
}

one_owned!(component, components, ComponentRow);
one_owned!(installation, installations, InstallationRow);
one_owned!(removal, removals, RemovalRow);
insert_rows!(/// Writes airframes.
    insert_airframes, airframes, AirframeRow);
insert_rows!(/// Writes components.
    insert_components, components, ComponentRow);
insert_rows!(/// Writes installations.
    insert_installations, installations, InstallationRow);
insert_rows!(/// Writes removals; the installations' ends are set apart from this.
    insert_removals, removals, RemovalRow);

/// An airframe with the key of its design.
pub(super) type AirframeFound = (AirframeRow, String);

pub(super) async fn airframe(
    connection: &mut Connection,
    owners: &[Uuid],
    id: Uuid,
) -> Result<Option<AirframeFound>, Problem> {
    Ok(airframes::table
        .inner_join(aircraft_designs::table.on(aircraft_designs::id.eq(airframes::design_id)))
        .filter(airframes::id.eq(id).and(airframes::owner_id.eq_any(owners)))
        .select((AirframeRow::as_select(), aircraft_designs::key))
        .first(connection)
        .await
        .optional()?)
}

pub(super) async fn airframes_after(
    connection: &mut Connection,
    owners: &[Uuid],
    window: &Window,
) -> Result<Vec<AirframeFound>, Problem> {
    let mut query = airframes::table
        .inner_join(aircraft_designs::table.on(aircraft_designs::id.eq(airframes::design_id)))
        .filter(airframes::owner_id.eq_any(owners))
        .select((AirframeRow::as_select(), aircraft_designs::key))
        .order(airframes::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(airframes::id.gt(after));
    }
    Ok(query.load(connection).await?)
}

pub(super) async fn components_after(
    connection: &mut Connection,
    owners: &[Uuid],
    part_type: Option<&str>,
    window: &Window,
) -> Result<Vec<ComponentRow>, Problem> {
    let mut query = components::table
        .filter(components::owner_id.eq_any(owners))
        .select(ComponentRow::as_select())
        .order(components::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(components::id.gt(after));
    }
    if let Some(part_type) = part_type {
        query = query.filter(components::part_type_key.eq(part_type));
    }
    Ok(query.load(connection).await?)
}

pub(super) async fn installations_after(
    connection: &mut Connection,
    owners: &[Uuid],
    component: Option<Uuid>,
    airframe: Option<Uuid>,
    window: &Window,
) -> Result<Vec<InstallationRow>, Problem> {
    let mut query = installations::table
        .filter(installations::owner_id.eq_any(owners))
        .select(InstallationRow::as_select())
        .order(installations::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(installations::id.gt(after));
    }
    if let Some(component) = component {
        query = query.filter(installations::component_id.eq(component));
    }
    if let Some(airframe) = airframe {
        query = query.filter(installations::airframe_id.eq(airframe));
    }
    Ok(query.load(connection).await?)
}

pub(super) async fn removals_after(
    connection: &mut Connection,
    owners: &[Uuid],
    window: &Window,
) -> Result<Vec<RemovalRow>, Problem> {
    let mut query = removals::table
        .filter(removals::owner_id.eq_any(owners))
        .select(RemovalRow::as_select())
        .order(removals::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(removals::id.gt(after));
    }
    Ok(query.load(connection).await?)
}

pub(super) async fn design_id(
    connection: &mut Connection,
    key: &str,
) -> Result<Option<Uuid>, Problem> {
    Ok(aircraft_designs::table
        .filter(aircraft_designs::key.eq(key))
        .select(aircraft_designs::id)
        .first(connection)
        .await
        .optional()?)
}

pub(super) async fn lock_airframe(connection: &mut Connection, id: Uuid) -> Result<(), Problem> {
    airframes::table
        .find(id)
        .select(airframes::id)
        .for_no_key_update()
        .first::<Uuid>(connection)
        .await?;
    Ok(())
}

pub(super) async fn update_airframe(
    connection: &mut Connection,
    row: &AirframeRow,
) -> Result<(), Problem> {
    diesel::update(airframes::table.find(row.id))
        .set((
            airframes::name.eq(&row.name),
            airframes::usual_head_speed_rpm.eq(row.usual_head_speed_rpm),
            airframes::note.eq(&row.note),
        ))
        .execute(connection)
        .await?;
    Ok(())
}

/// Whether the component was fitted anywhere before.
pub(super) async fn was_fitted(
    connection: &mut Connection,
    component: Uuid,
) -> Result<bool, Problem> {
    let found: Option<Uuid> = installations::table
        .filter(installations::component_id.eq(component))
        .select(installations::id)
        .first(connection)
        .await
        .optional()?;
    Ok(found.is_some())
}

pub(super) async fn end_installation(
    connection: &mut Connection,
    id: Uuid,
    removed_at: DateTime<Utc>,
) -> Result<(), Problem> {
    diesel::update(installations::table.find(id))
        .set(installations::removed_at.eq(removed_at))
        .execute(connection)
        .await?;
    Ok(())
}

/// Which of these ids the table has, for these owners.
macro_rules! known_ids {
    ($(#[$doc:meta])* $name:ident, $table:ident) => {
        $(#[$doc])*
        ///
        /// # Errors
        /// When the database is away.
        pub async fn $name(connection: &mut Connection, owners: &[Uuid], ids: &[Uuid]) -> Result<Vec<Uuid>, Problem> {
            Ok($table::table
                .filter($table::id.eq_any(ids).and($table::owner_id.eq_any(owners)))
                .select($table::id)
                .load(connection)
                .await?)
        }
    };
}

known_ids!(/// Airframes that are there already.
    known_airframes, airframes);
known_ids!(/// Components that are there already.
    known_components, components);
known_ids!(/// Installations that are there already.
    known_installations, installations);
known_ids!(/// Removals that are there already.
    known_removals, removals);
