//! The fleet as the API shows it.

use super::store::{AirframeFound, ComponentRow, InstallationRow, RemovalRow};
use crate::access::Actor;
use crate::platform::http::problem::Problem;
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_domain::ids::{
    AirframeId, ComponentId, InstallationId, OwnerId, PositionId, RemovalId,
};
use wearbook_domain::units::{FlightMinutes, Flights, RotorKiloRevolutions, Usage};
use wearbook_domain::vocabulary::RemovalReason;
use wearbook_domain::{DesignKey, PartTypeKey};

/// One physical helicopter.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Airframe)]
pub struct AirframeView {
    /// Id.
    pub id: AirframeId,
    /// Who owns it.
    pub owner: OwnerId,
    /// Its design.
    pub design: DesignKey,
    /// What its owner calls it.
    #[schema(max_length = 120)]
    pub name: String,
    /// Stands in where a flight has no head speed of its own.
    pub usual_head_speed_rpm: Option<f64>,
    /// Free text.
    #[schema(max_length = 2000)]
    pub note: Option<String>,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

/// One physical item, with or without a serial.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Component)]
pub struct ComponentView {
    /// Id.
    pub id: ComponentId,
    /// Who owns it.
    pub owner: OwnerId,
    /// What it is.
    pub part_type: PartTypeKey,
    /// The orderable item.
    #[schema(max_length = 80)]
    pub part_number: Option<String>,
    /// The number on this one.
    #[schema(max_length = 80)]
    pub serial: Option<String>,
    /// The production batch.
    #[schema(max_length = 80)]
    pub lot: Option<String>,
    /// Free text.
    #[schema(max_length = 2000)]
    pub note: Option<String>,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

/// A component sits in a position of an airframe, from one moment to another.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Installation)]
pub struct InstallationView {
    /// Id.
    pub id: InstallationId,
    /// What sits there.
    pub component_id: ComponentId,
    /// Where.
    pub airframe_id: AirframeId,
    /// In which place.
    pub position_id: PositionId,
    /// Since when.
    pub fitted_at: DateTime<Utc>,
    /// What was known of its age: `new`, `known`, `unknown`, or `carried-on` from an earlier installation.
    #[schema(max_length = 20, example = "new")]
    pub age_basis: String,
    /// Its age when it was fitted, where `age_basis` is `known`.
    pub age_when_fitted: Option<Usage>,
    /// Until when; null while it sits there.
    pub removed_at: Option<DateTime<Utc>>,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

/// The end of an installation.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Removal)]
pub struct RemovalView {
    /// Id.
    pub id: RemovalId,
    /// What ended.
    pub installation_id: InstallationId,
    /// When.
    pub removed_at: DateTime<Utc>,
    /// Why.
    pub reason: RemovalReason,
    /// Free text.
    #[schema(max_length = 2000)]
    pub note: Option<String>,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

impl AirframeView {
    /// Shows a row to somebody who owns it.
    ///
    /// # Errors
    /// When a stored value breaks its rule, which is our fault.
    pub fn of((row, design): AirframeFound, actor: &Actor) -> Result<Self, Problem> {
        Ok(Self {
            id: AirframeId::from_uuid(row.id),
            owner: actor.owner_of(row.owner_id)?,
            design: design.parse().map_err(Problem::internal)?,
            name: row.name,
            usual_head_speed_rpm: row.usual_head_speed_rpm,
            note: row.note,
            created_at: row.created_at,
        })
    }
}

impl ComponentView {
    /// Shows a row to somebody who owns it.
    ///
    /// # Errors
    /// When a stored value breaks its rule, which is our fault.
    pub fn of(row: ComponentRow, actor: &Actor) -> Result<Self, Problem> {
        Ok(Self {
            id: ComponentId::from_uuid(row.id),
            owner: actor.owner_of(row.owner_id)?,
            part_type: row.part_type_key.parse().map_err(Problem::internal)?,
            part_number: row.part_number,
            serial: row.serial,
            lot: row.lot,
            note: row.note,
            created_at: row.created_at,
        })
    }
}

/// The age that an installation row states, if it states one.
///
/// # Errors
/// When a stored number breaks its rule, which is our fault.
pub fn stated_age(row: &InstallationRow) -> Result<Option<Usage>, Problem> {
    let Some(flights) = row.age_flights else {
        return Ok(None);
    };
    Ok(Some(Usage {
        flights: Flights::new(flights).map_err(Problem::internal)?,
        flight_minutes: row
            .age_flight_minutes
            .map(FlightMinutes::new)
            .transpose()
            .map_err(Problem::internal)?,
        rotor_krev: row
            .age_rotor_krev
            .map(RotorKiloRevolutions::new)
            .transpose()
            .map_err(Problem::internal)?,
    }))
}

impl TryFrom<InstallationRow> for InstallationView {
    type Error = Problem;

    fn try_from(row: InstallationRow) -> Result<Self, Problem> {
        Ok(Self {
            id: InstallationId::from_uuid(row.id),
            component_id: ComponentId::from_uuid(row.component_id),
            airframe_id: AirframeId::from_uuid(row.airframe_id),
            position_id: PositionId::from_uuid(row.position_id),
            fitted_at: row.fitted_at,
            age_when_fitted: stated_age(&row)?,
            age_basis: row.age_basis,
            removed_at: row.removed_at,
            created_at: row.created_at,
        })
    }
}

impl TryFrom<RemovalRow> for RemovalView {
    type Error = Problem;

    fn try_from(row: RemovalRow) -> Result<Self, Problem> {
        Ok(Self {
            id: RemovalId::from_uuid(row.id),
            installation_id: InstallationId::from_uuid(row.installation_id),
            removed_at: row.removed_at,
            reason: row.reason.parse().map_err(Problem::internal)?,
            note: row.note,
            created_at: row.created_at,
        })
    }
}
