//! Designs with ids of their own, for the demo fleet.

use super::store::{self, DesignRow, PositionRow};
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use chrono::{DateTime, Utc};
use wearbook_domain::ids::{DesignId, PositionId};
use wearbook_domain::{DesignKey, PartTypeKey};

/// An invented design with its id and positions.
#[derive(Debug, Clone)]
pub struct DesignImport {
    /// Id.
    pub id: DesignId,
    /// Key.
    pub key: DesignKey,
    /// Name.
    pub name: String,
    /// Main rotor diameter class.
    pub rotor_class_mm: f64,
    /// How the main rotor is driven.
    pub drive: &'static str,
    /// Id, key, name and part type of each position.
    pub positions: Vec<(PositionId, String, String, PartTypeKey)>,
    /// Since when.
    pub created_at: DateTime<Utc>,
}

/// Enters designs in the caller's transaction.
///
/// # Errors
/// The faults of the constraints.
pub async fn import_designs(
    connection: &mut Connection,
    designs: &[DesignImport],
) -> Result<(), Problem> {
    for one in designs {
        let row = DesignRow {
            id: one.id.uuid(),
            key: one.key.to_string(),
            name: one.name.clone(),
            rotor_class_mm: Some(one.rotor_class_mm),
            drive: Some(one.drive.to_owned()),
            invented: true,
            created_at: one.created_at,
        };
        let places: Vec<PositionRow> = one
            .positions
            .iter()
            .map(|(id, key, name, part_type)| PositionRow {
                id: id.uuid(),
                design_id: row.id,
                key: key.clone(),
                name: name.clone(),
                part_type_key: part_type.to_string(),
            })
            .collect();
        store::insert_design(connection, &row, &places).await?;
    }
    Ok(())
}
