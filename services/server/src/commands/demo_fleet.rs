//! The invented fleet as rows.

use crate::access::{AccountImport, OrganisationImport, import_people};
use crate::catalogue::{DesignImport, import_designs};
use crate::failures::{FailureRow, insert_failures};
use crate::fleet::{
    AirframeRow, ComponentRow, InstallationRow, RemovalRow, insert_airframes, insert_components,
    insert_installations, insert_removals,
};
use crate::platform::clock;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::schema::{airframes, components, instance};
use crate::platform::postgres::{Connection, Pool};
use crate::usage::{FlightsRow, ReadingRow, insert_flights, insert_readings};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use std::collections::HashMap;
use uuid::Uuid;
use wearbook_domain::demo::{DemoFleet, DemoInstallation};
use wearbook_domain::history::AgeWhenFitted;
use wearbook_domain::ids::AccountId;
use wearbook_domain::units::{FlightMinutes, RotorKiloRevolutions, Rpm};

/// What a database holds, as far as the demo cares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DemoState {
    /// Nothing yet.
    Empty,
    /// The demo fleet.
    Loaded,
    /// Records of somebody else.
    OtherData,
}

/// Looks at a database.
pub async fn demo_state(pool: &Pool) -> Result<DemoState, Problem> {
    let mut connection = pool.get().await?;
    let demo: bool = instance::table
        .select(instance::demo)
        .first(&mut *connection)
        .await?;
    if demo {
        return Ok(DemoState::Loaded);
    }
    let rows: i64 = components::table
        .count()
        .get_result(&mut *connection)
        .await?;
    Ok(if rows == 0 {
        DemoState::Empty
    } else {
        DemoState::OtherData
    })
}

/// Says that the fleet is there.
pub async fn mark_loaded(connection: &mut Connection) -> Result<(), Problem> {
    diesel::update(instance::table)
        .set(instance::demo.eq(true))
        .execute(connection)
        .await?;
    Ok(())
}

/// The pilot whose eyes the demo token gives: the owner of the most airframes.
pub async fn demo_pilot(pool: &Pool) -> Result<AccountId, Problem> {
    let owner: Uuid = airframes::table
        .group_by(airframes::owner_id)
        .select(airframes::owner_id)
        .order((
            diesel::dsl::count(airframes::id).desc(),
            airframes::owner_id,
        ))
        .first(&mut *pool.get().await?)
        .await?;
    Ok(AccountId::from_uuid(owner))
}

/// Writes the fleet; `done` is told how many rows each step wrote.
pub async fn load_fleet(
    connection: &mut Connection,
    fleet: &DemoFleet,
    done: impl Fn(usize),
) -> Result<(), Problem> {
    load_people(connection, fleet).await?;
    load_designs(connection, fleet).await?;
    let owners: HashMap<Uuid, Uuid> = fleet
        .airframes
        .iter()
        .map(|one| (one.id.uuid(), one.owner.uuid()))
        .collect();
    let owner_of = |airframe: Uuid| owners.get(&airframe).copied().unwrap_or_default();
    insert_airframes(connection, &airframe_rows(fleet)).await?;
    insert_readings(connection, &reading_rows(fleet, &owner_of)).await?;
    for piece in flight_rows(fleet, &owner_of).chunks(2000) {
        insert_flights(connection, piece).await?;
        done(piece.len());
    }
    insert_components(connection, &component_rows(fleet)).await?;
    done(fleet.components.len());
    insert_installations(connection, &installation_rows(fleet, &owner_of)).await?;
    insert_removals(connection, &removal_rows(fleet, &owner_of)).await?;
    done(fleet.installations.len());
    insert_failures(connection, &failure_rows(fleet, &owner_of)).await?;
    done(fleet.failures.len());
    Ok(())
}

async fn load_people(connection: &mut Connection, fleet: &DemoFleet) -> Result<(), Problem> {
    let accounts: Vec<AccountImport> = fleet
        .accounts
        .iter()
        .map(|one| AccountImport {
            id: one.id,
            display_name: one.name.clone(),
            created_at: one.since,
        })
        .collect();
    let organisations: Vec<OrganisationImport> = fleet
        .organisations
        .iter()
        .map(|one| OrganisationImport {
            id: one.id,
            kind: one.kind,
            name: one.name.clone(),
            members: fleet
                .memberships
                .iter()
                .filter(|m| m.organisation == one.id)
                .map(|m| m.account)
                .collect(),
            created_at: one.since,
        })
        .collect();
    import_people(connection, &accounts, &organisations).await
}

async fn load_designs(connection: &mut Connection, fleet: &DemoFleet) -> Result<(), Problem> {
    let designs: Vec<DesignImport> = fleet
        .designs
        .iter()
        .map(|one| DesignImport {
            id: one.id,
            key: one.key.clone(),
            name: one.name.clone(),
            rotor_class_mm: f64::from(one.rotor_class_mm),
            drive: one.drive.code(),
            positions: fleet
                .positions
                .iter()
                .filter(|position| position.design == one.id)
                .map(|position| {
                    (
                        position.id,
                        position.key.clone(),
                        position.name.clone(),
                        position.part_type.clone(),
                    )
                })
                .collect(),
            created_at: one.first_sold.and_time(chrono::NaiveTime::MIN).and_utc(),
        })
        .collect();
    import_designs(connection, &designs).await
}

fn airframe_rows(fleet: &DemoFleet) -> Vec<AirframeRow> {
    fleet
        .airframes
        .iter()
        .map(|one| AirframeRow {
            id: one.id.uuid(),
            owner_id: one.owner.uuid(),
            design_id: one.design.uuid(),
            name: one.name.clone(),
            usual_head_speed_rpm: Some(one.usual_head_speed_rpm.get()),
            note: Some("Invented for demonstration.".to_owned()),
            created_at: one.joined_at,
        })
        .collect()
}

fn reading_rows(fleet: &DemoFleet, owner_of: &impl Fn(Uuid) -> Uuid) -> Vec<ReadingRow> {
    fleet
        .readings
        .iter()
        .map(|one| ReadingRow {
            id: one.id.uuid(),
            owner_id: owner_of(one.airframe.uuid()),
            airframe_id: one.airframe.uuid(),
            read_at: one.read_at,
            flights: one.usage.flights.get(),
            flight_minutes: one.usage.flight_minutes.map(FlightMinutes::get),
            rotor_krev: one.usage.rotor_krev.map(RotorKiloRevolutions::get),
            note: None,
            created_at: one.read_at,
        })
        .collect()
}

fn flight_rows(fleet: &DemoFleet, owner_of: &impl Fn(Uuid) -> Uuid) -> Vec<FlightsRow> {
    fleet
        .flights
        .iter()
        .map(|one| FlightsRow {
            id: one.id.uuid(),
            owner_id: owner_of(one.airframe.uuid()),
            airframe_id: one.airframe.uuid(),
            flown_at: one.flown_at,
            flight_count: i32::try_from(one.count).unwrap_or(i32::MAX),
            duration_minutes: one.duration_minutes.get(),
            duration_basis: one.duration_basis.code().to_owned(),
            head_speed_rpm: one.head_speed_rpm.map(Rpm::get),
            hard_share: Some(one.hard_share.get()),
            note: None,
            created_at: one.flown_at,
        })
        .collect()
}

fn component_rows(fleet: &DemoFleet) -> Vec<ComponentRow> {
    fleet
        .components
        .iter()
        .map(|one| ComponentRow {
            id: one.id.uuid(),
            owner_id: one.owner.uuid(),
            part_type_key: one.part_type.to_string(),
            part_number: one.part_number.clone(),
            serial: one.serial.clone(),
            lot: one.lot.clone(),
            note: None,
            created_at: clock::now(),
        })
        .collect()
}

fn installation_rows(fleet: &DemoFleet, owner_of: &impl Fn(Uuid) -> Uuid) -> Vec<InstallationRow> {
    fleet
        .installations
        .iter()
        .map(|one| installation_row(one, owner_of(one.airframe.uuid())))
        .collect()
}

fn installation_row(one: &DemoInstallation, owner_id: Uuid) -> InstallationRow {
    let (basis, age) = match one.age_when_fitted {
        AgeWhenFitted::New => ("new", None),
        AgeWhenFitted::Known(usage) => ("known", Some(usage)),
        AgeWhenFitted::Unknown => ("unknown", None),
        AgeWhenFitted::CarriedOn => ("carried-on", None),
    };
    InstallationRow {
        id: one.id.uuid(),
        owner_id,
        component_id: one.component.uuid(),
        airframe_id: one.airframe.uuid(),
        position_id: one.position.uuid(),
        fitted_at: one.fitted_at,
        age_basis: basis.to_owned(),
        age_flights: age.map(|age| age.flights.get()),
        age_flight_minutes: age
            .and_then(|age| age.flight_minutes)
            .map(FlightMinutes::get),
        age_rotor_krev: age
            .and_then(|age| age.rotor_krev)
            .map(RotorKiloRevolutions::get),
        removed_at: one.removed.as_ref().map(|removed| removed.at),
        created_at: one.fitted_at,
    }
}

fn removal_rows(fleet: &DemoFleet, owner_of: &impl Fn(Uuid) -> Uuid) -> Vec<RemovalRow> {
    fleet
        .installations
        .iter()
        .filter_map(|one| one.removed.as_ref().map(|removed| (one, removed)))
        .map(|(one, removed)| RemovalRow {
            id: removed.id.uuid(),
            owner_id: owner_of(one.airframe.uuid()),
            installation_id: one.id.uuid(),
            removed_at: removed.at,
            reason: removed.reason.code().to_owned(),
            note: Some(removed.note.clone()),
            created_at: removed.at,
        })
        .collect()
}

fn failure_rows(fleet: &DemoFleet, owner_of: &impl Fn(Uuid) -> Uuid) -> Vec<FailureRow> {
    let installations: HashMap<Uuid, Uuid> = fleet
        .installations
        .iter()
        .map(|one| (one.id.uuid(), one.airframe.uuid()))
        .collect();
    let part_types: HashMap<Uuid, String> = fleet
        .components
        .iter()
        .map(|one| (one.id.uuid(), one.part_type.to_string()))
        .collect();
    fleet
        .failures
        .iter()
        .map(|one| FailureRow {
            id: one.id.uuid(),
            owner_id: installations
                .get(&one.installation.uuid())
                .map_or_else(Uuid::default, |a| owner_of(*a)),
            installation_id: one.installation.uuid(),
            component_id: one.component.uuid(),
            part_type_key: part_types
                .get(&one.component.uuid())
                .cloned()
                .unwrap_or_default(),
            mode_key: one.mode.to_string(),
            occurred_at: one.occurred_at,
            last_known_good_at: one.last_known_good_at,
            discovery: one.discovery.code().to_owned(),
            role: one.role.code().to_owned(),
            cause: one.cause.code().to_owned(),
            severity: one.severity.code().to_owned(),
            detail: Some(one.detail.clone()),
            created_at: one.occurred_at,
        })
        .collect()
}
