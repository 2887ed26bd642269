//! Accounts and organisations with ids of their own, for the demo fleet.

use super::store::{self, AccountRow, OrganisationRow};
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use chrono::{DateTime, Utc};
use wearbook_domain::ids::{AccountId, OrganisationId};
use wearbook_domain::vocabulary::OrganisationKind;

/// An account with its id.
#[derive(Debug, Clone)]
pub struct AccountImport {
    /// Id.
    pub id: AccountId,
    /// Name.
    pub display_name: String,
    /// Since when.
    pub created_at: DateTime<Utc>,
}

/// An organisation with its id and members.
#[derive(Debug, Clone)]
pub struct OrganisationImport {
    /// Id.
    pub id: OrganisationId,
    /// What it is.
    pub kind: OrganisationKind,
    /// Name.
    pub name: String,
    /// Who belongs to it.
    pub members: Vec<AccountId>,
    /// Since when.
    pub created_at: DateTime<Utc>,
}

/// Enters people in the caller's transaction.
///
/// # Errors
/// The faults of the constraints.
pub async fn import_people(
    connection: &mut Connection,
    accounts: &[AccountImport],
    organisations: &[OrganisationImport],
) -> Result<(), Problem> {
    for one in accounts {
        let row = AccountRow {
            id: one.id.uuid(),
            display_name: one.display_name.clone(),
            created_at: one.created_at,
        };
        store::insert_account(connection, &row).await?;
    }
    for one in organisations {
        let row = OrganisationRow {
            id: one.id.uuid(),
            kind: one.kind.code().to_owned(),
            name: one.name.clone(),
            created_at: one.created_at,
        };
        store::insert_organisation(connection, &row, &one.members).await?;
    }
    Ok(())
}
