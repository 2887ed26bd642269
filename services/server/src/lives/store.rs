//! Rows that a derivation reads and writes.

use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::{
    components, failure_reports, installations, life_exclusions, lives, removals,
};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

#[derive(Debug, Clone, Queryable)]
pub struct ComponentFacts {
    pub id: Uuid,
    pub owner_id: Uuid,
    pub part_type_key: String,
}

#[derive(Debug, Clone, Queryable)]
pub struct StayFacts {
    pub id: Uuid,
    pub component_id: Uuid,
    pub airframe_id: Uuid,
    pub fitted_at: DateTime<Utc>,
    pub age_basis: String,
    pub age_flights: Option<f64>,
    pub age_flight_minutes: Option<f64>,
    pub age_rotor_krev: Option<f64>,
    pub removed_at: Option<DateTime<Utc>>,
    pub removal: Option<(Uuid, String)>,
}

#[derive(Debug, Clone, Queryable)]
pub struct FailureFacts {
    pub id: Uuid,
    pub component_id: Uuid,
    pub installation_id: Uuid,
    pub occurred_at: DateTime<Utc>,
    pub last_known_good_at: Option<DateTime<Utc>>,
    pub discovery: String,
    pub mode_key: String,
    pub role: String,
    pub severity: String,
}

#[derive(Debug, Insertable)]
#[diesel(table_name = lives)]
pub struct LifeRow {
    pub component_id: Uuid,
    pub scale: &'static str,
    pub part_type_key: String,
    pub owner_id: Uuid,
    pub entry: f64,
    pub life: serde_json::Value,
}

#[derive(Debug, Insertable)]
#[diesel(table_name = life_exclusions)]
pub struct ExclusionRow {
    pub component_id: Uuid,
    pub scale: &'static str,
    pub part_type_key: String,
    pub exclusion: serde_json::Value,
}

pub async fn components(
    connection: &mut Connection,
    ids: &[Uuid],
) -> Result<Vec<ComponentFacts>, Problem> {
    Ok(components::table
        .filter(components::id.eq_any(ids))
        .select((
            components::id,
            components::owner_id,
            components::part_type_key,
        ))
        .order(components::id)
        .load(connection)
        .await?)
}

pub async fn stays(
    connection: &mut Connection,
    components: &[Uuid],
) -> Result<Vec<StayFacts>, Problem> {
    Ok(installations::table
        .left_join(removals::table.on(removals::installation_id.eq(installations::id)))
        .filter(installations::component_id.eq_any(components))
        .select((
            installations::id,
            installations::component_id,
            installations::airframe_id,
            installations::fitted_at,
            installations::age_basis,
            installations::age_flights,
            installations::age_flight_minutes,
            installations::age_rotor_krev,
            installations::removed_at,
            (removals::id, removals::reason).nullable(),
        ))
        .order((installations::component_id, installations::fitted_at))
        .load(connection)
        .await?)
}

pub async fn failures(
    connection: &mut Connection,
    components: &[Uuid],
) -> Result<Vec<FailureFacts>, Problem> {
    Ok(failure_reports::table
        .filter(failure_reports::component_id.eq_any(components))
        .select((
            failure_reports::id,
            failure_reports::component_id,
            failure_reports::installation_id,
            failure_reports::occurred_at,
            failure_reports::last_known_good_at,
            failure_reports::discovery,
            failure_reports::mode_key,
            failure_reports::role,
            failure_reports::severity,
        ))
        .order((
            failure_reports::component_id,
            failure_reports::occurred_at,
            failure_reports::id,
        ))
        .load(connection)
        .await?)
}

pub async fn on_airframe(
    connection: &mut Connection,
    airframe: Uuid,
) -> Result<Vec<Uuid>, Problem> {
    Ok(installations::table
        .filter(installations::airframe_id.eq(airframe))
        .select(installations::component_id)
        .distinct()
        .load(connection)
        .await?)
}

pub async fn all_components(connection: &mut Connection) -> Result<Vec<Uuid>, Problem> {
    Ok(components::table
        .select(components::id)
        .order(components::id)
        .load(connection)
        .await?)
}

pub async fn replace(
    connection: &mut Connection,
    components: &[Uuid],
    found: &[LifeRow],
    excluded: &[ExclusionRow],
) -> Result<(), Problem> {
    diesel::delete(lives::table.filter(lives::component_id.eq_any(components)))
        .execute(connection)
        .await?;
    diesel::delete(life_exclusions::table.filter(life_exclusions::component_id.eq_any(components)))
        .execute(connection)
        .await?;
    for piece in found.chunks(2000) {
        diesel::insert_into(lives::table)
            .values(piece)
            .execute(connection)
            .await?;
    }
    for piece in excluded.chunks(2000) {
        diesel::insert_into(life_exclusions::table)
            .values(piece)
            .execute(connection)
            .await?;
    }
    Ok(())
}

pub async fn lives_of_component(
    connection: &mut Connection,
    component: Uuid,
) -> Result<(Vec<serde_json::Value>, Vec<serde_json::Value>), Problem> {
    let found = lives::table
        .filter(lives::component_id.eq(component))
        .select(lives::life)
        .order(lives::scale)
        .load(connection)
        .await?;
    let excluded = life_exclusions::table
        .filter(life_exclusions::component_id.eq(component))
        .select(life_exclusions::exclusion)
        .order(life_exclusions::scale)
        .load(connection)
        .await?;
    Ok((found, excluded))
}

pub async fn population(
    connection: &mut Connection,
    part_type: &str,
    scale: &str,
) -> Result<(Vec<(Uuid, serde_json::Value)>, i64), Problem> {
    let found = lives::table
        .filter(
            lives::part_type_key
                .eq(part_type)
                .and(lives::scale.eq(scale)),
        )
        .select((lives::owner_id, lives::life))
        .order(lives::component_id)
        .load(connection)
        .await?;
    let excluded = life_exclusions::table
        .filter(
            life_exclusions::part_type_key
                .eq(part_type)
                .and(life_exclusions::scale.eq(scale)),
        )
        .count()
        .get_result(connection)
        .await?;
    Ok((found, excluded))
}

pub async fn owned_component(
    connection: &mut Connection,
    owners: &[Uuid],
    id: Uuid,
) -> Result<Option<ComponentFacts>, Problem> {
    Ok(components::table
        .filter(
            components::id
                .eq(id)
                .and(components::owner_id.eq_any(owners)),
        )
        .select((
            components::id,
            components::owner_id,
            components::part_type_key,
        ))
        .first(connection)
        .await
        .optional()?)
}
