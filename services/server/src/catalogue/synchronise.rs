//! Brings the rows of part types and failure modes up to the catalogue of this program.

use super::store;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::{Connection, Pool};
use wearbook_domain::catalogue;

/// Runs at every start; changes nothing when nothing changed.
///
/// # Errors
/// When the database is away.
pub async fn synchronise(pool: &Pool) -> Result<(), Problem> {
    pool.transaction(async |connection: &mut Connection| {
        store::upsert_catalogue(connection, catalogue()).await
    })
    .await
}
