//! Accounts, organisations and tokens as the API shows them.

use super::store::{AccountRow, OrganisationRow, TokenRow};
use crate::platform::http::problem::Problem;
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_domain::ids::{AccountId, OrganisationId, TokenId};
use wearbook_domain::vocabulary::{OrganisationKind, Scope};

/// A person who signs in.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Account)]
pub struct AccountView {
    /// Id.
    pub id: AccountId,
    /// The name that others see.
    #[schema(max_length = 120, example = "Pilot 001 (invented)")]
    pub display_name: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
}

/// A club, a repair shop or a distributor.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Organisation)]
pub struct OrganisationView {
    /// Id.
    pub id: OrganisationId,
    /// What it is.
    pub kind: OrganisationKind,
    /// Its name.
    #[schema(max_length = 120, example = "Club North Field (invented)")]
    pub name: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
}

/// A token without its secret.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Token)]
pub struct TokenView {
    /// Id.
    pub id: TokenId,
    /// The account it acts for.
    pub account_id: AccountId,
    /// What its owner calls it.
    #[schema(max_length = 120, example = "field phone")]
    pub name: String,
    /// What it may do.
    #[schema(max_items = 10)]
    pub scopes: Vec<Scope>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// After this it is refused.
    pub expires_at: DateTime<Utc>,
    /// When it was revoked, if it was.
    pub revoked_at: Option<DateTime<Utc>>,
}

/// A new token, with its secret: the only time it is shown.
#[derive(Debug, Serialize, ToSchema)]
pub struct IssuedToken {
    /// The token as it is listed later.
    pub token: TokenView,
    /// The secret to send as `Authorization: Bearer`. Only its digest is kept here.
    #[schema(max_length = 100, example = "wearbook_example-only-not-a-real-token")]
    pub secret: String,
}

impl From<AccountRow> for AccountView {
    fn from(row: AccountRow) -> Self {
        Self {
            id: AccountId::from_uuid(row.id),
            display_name: row.display_name,
            created_at: row.created_at,
        }
    }
}

impl TryFrom<OrganisationRow> for OrganisationView {
    type Error = Problem;

    fn try_from(row: OrganisationRow) -> Result<Self, Problem> {
        Ok(Self {
            id: OrganisationId::from_uuid(row.id),
            kind: row.kind.parse().map_err(Problem::internal)?,
            name: row.name,
            created_at: row.created_at,
        })
    }
}

impl TryFrom<TokenRow> for TokenView {
    type Error = Problem;

    fn try_from(row: TokenRow) -> Result<Self, Problem> {
        Ok(Self {
            id: TokenId::from_uuid(row.id),
            account_id: AccountId::from_uuid(row.account_id),
            name: row.name,
            scopes: row
                .scopes
                .iter()
                .map(|code| code.parse())
                .collect::<Result<_, _>>()
                .map_err(Problem::internal)?,
            created_at: row.created_at,
            expires_at: row.expires_at,
            revoked_at: row.revoked_at,
        })
    }
}
