//! The one door for other slices: a record that the caller owns, or a fault that names the member of the body.

use super::store::{self, AirframeRow, ComponentRow, InstallationRow};
use crate::access::Actor;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use wearbook_domain::ids::{AirframeId, ComponentId, InstallationId};

/// The airframe, if it is the caller's.
///
/// # Errors
/// `invalid-record` at `/airframe_id`: the same for an absent one and for somebody else's.
pub async fn own_airframe(
    connection: &mut Connection,
    actor: &Actor,
    id: AirframeId,
) -> Result<AirframeRow, Problem> {
    let found = store::airframe(connection, &actor.owner_uuids(), id.uuid()).await?;
    found
        .map(|(row, _)| row)
        .ok_or_else(|| Problem::invalid("/airframe_id", "exists", "an airframe of yours", id))
}

/// The component, if it is the caller's.
///
/// # Errors
/// `invalid-record` at `/component_id`.
pub async fn own_component(
    connection: &mut Connection,
    actor: &Actor,
    id: ComponentId,
) -> Result<ComponentRow, Problem> {
    let found = store::component(connection, &actor.owner_uuids(), id.uuid()).await?;
    found.ok_or_else(|| Problem::invalid("/component_id", "exists", "a component of yours", id))
}

/// The installation, if it is the caller's.
///
/// # Errors
/// `invalid-record` at `/installation_id`.
pub async fn own_installation(
    connection: &mut Connection,
    actor: &Actor,
    id: InstallationId,
) -> Result<InstallationRow, Problem> {
    let found = store::installation(connection, &actor.owner_uuids(), id.uuid()).await?;
    found.ok_or_else(|| {
        Problem::invalid("/installation_id", "exists", "an installation of yours", id)
    })
}
