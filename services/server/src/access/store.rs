//! Rows of accounts, organisations and tokens.

use super::actor::Actor;
use crate::platform::http::paging::Window;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::{accounts, api_tokens, memberships, organisations, owners};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use wearbook_domain::ids::{AccountId, OrganisationId, OwnerId, TokenId};

#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = accounts)]
pub struct AccountRow {
    pub id: Uuid,
    pub display_name: String,
    pub created_at: DateTime<Utc>,
}

#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = organisations)]
pub struct OrganisationRow {
    pub id: Uuid,
    pub kind: String,
    pub name: String,
    pub created_at: DateTime<Utc>,
}

#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = api_tokens)]
pub struct TokenRow {
    pub id: Uuid,
    pub account_id: Uuid,
    pub name: String,
    pub secret_sha256: Vec<u8>,
    pub scopes: Vec<String>,
    pub created_at: DateTime<Utc>,
    pub expires_at: DateTime<Utc>,
    pub revoked_at: Option<DateTime<Utc>>,
}

pub async fn actor_of(
    connection: &mut Connection,
    digest: &[u8; 32],
) -> Result<Option<Actor>, Problem> {
    let found: Option<(Uuid, Uuid, Vec<String>)> = api_tokens::table
        .filter(api_tokens::secret_sha256.eq(digest.as_slice()))
        .filter(api_tokens::revoked_at.is_null())
        .filter(api_tokens::expires_at.gt(diesel::dsl::now))
        .select((api_tokens::id, api_tokens::account_id, api_tokens::scopes))
        .first(connection)
        .await
        .optional()?;
    let Some((token, account, scopes)) = found else {
        return Ok(None);
    };
    let organisations: Vec<Uuid> = memberships::table
        .filter(memberships::account_id.eq(account))
        .select(memberships::organisation_id)
        .load(connection)
        .await?;
    let account = AccountId::from_uuid(account);
    let mut owners = vec![OwnerId::Account(account)];
    owners.extend(
        organisations
            .into_iter()
            .map(|id| OwnerId::Organisation(OrganisationId::from_uuid(id))),
    );
    let scopes = scopes
        .iter()
        .map(|code| code.parse())
        .collect::<Result<_, _>>()
        .map_err(Problem::internal)?;
    Ok(Some(Actor {
        account,
        token: TokenId::from_uuid(token),
        scopes,
        owners,
    }))
}

async fn insert_owner(connection: &mut Connection, id: Uuid, kind: &str) -> Result<(), Problem> {
    diesel::insert_into(owners::table)
        .values((owners::id.eq(id), owners::kind.eq(kind)))
        .execute(connection)
        .await?;
    Ok(())
}

pub async fn insert_account(connection: &mut Connection, row: &AccountRow) -> Result<(), Problem> {
    insert_owner(connection, row.id, "account").await?;
    diesel::insert_into(accounts::table)
        .values(row)
        .execute(connection)
        .await?;
    Ok(())
}

pub async fn insert_organisation(
    connection: &mut Connection,
    row: &OrganisationRow,
    members: &[AccountId],
) -> Result<(), Problem> {
    insert_owner(connection, row.id, "organisation").await?;
    diesel::insert_into(organisations::table)
        .values(row)
        .execute(connection)
        .await?;
    let rows: Vec<_> = members
        .iter()
        .map(|member| {
            (
                memberships::organisation_id.eq(row.id),
                memberships::account_id.eq(member.uuid()),
            )
        })
        .collect();
    diesel::insert_into(memberships::table)
        .values(rows)
        .execute(connection)
        .await?;
    Ok(())
}

pub async fn unknown_accounts(
    connection: &mut Connection,
    ids: &[AccountId],
) -> Result<Vec<AccountId>, Problem> {
    let wanted: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
    let found: Vec<Uuid> = accounts::table
        .filter(accounts::id.eq_any(&wanted))
        .select(accounts::id)
        .load(connection)
        .await?;
    Ok(ids
        .iter()
        .copied()
        .filter(|id| !found.contains(&id.uuid()))
        .collect())
}

pub async fn account(
    connection: &mut Connection,
    id: AccountId,
) -> Result<Option<AccountRow>, Problem> {
    Ok(accounts::table
        .find(id.uuid())
        .select(AccountRow::as_select())
        .first(connection)
        .await
        .optional()?)
}

pub async fn accounts_after(
    connection: &mut Connection,
    window: &Window,
) -> Result<Vec<AccountRow>, Problem> {
    let mut query = accounts::table
        .select(AccountRow::as_select())
        .order(accounts::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(accounts::id.gt(after));
    }
    Ok(query.load(connection).await?)
}

pub async fn organisation(
    connection: &mut Connection,
    id: OrganisationId,
) -> Result<Option<OrganisationRow>, Problem> {
    Ok(organisations::table
        .find(id.uuid())
        .select(OrganisationRow::as_select())
        .first(connection)
        .await
        .optional()?)
}

pub async fn organisations_after(
    connection: &mut Connection,
    window: &Window,
    only: Option<&[Uuid]>,
) -> Result<Vec<OrganisationRow>, Problem> {
    let mut query = organisations::table
        .select(OrganisationRow::as_select())
        .order(organisations::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(organisations::id.gt(after));
    }
    if let Some(only) = only {
        query = query.filter(organisations::id.eq_any(only));
    }
    Ok(query.load(connection).await?)
}

pub async fn insert_token(connection: &mut Connection, row: &TokenRow) -> Result<(), Problem> {
    diesel::insert_into(api_tokens::table)
        .values(row)
        .execute(connection)
        .await?;
    Ok(())
}

pub async fn token(
    connection: &mut Connection,
    account: AccountId,
    id: TokenId,
) -> Result<Option<TokenRow>, Problem> {
    Ok(api_tokens::table
        .filter(
            api_tokens::id
                .eq(id.uuid())
                .and(api_tokens::account_id.eq(account.uuid())),
        )
        .select(TokenRow::as_select())
        .for_update()
        .first(connection)
        .await
        .optional()?)
}

pub async fn tokens_after(
    connection: &mut Connection,
    account: AccountId,
    window: &Window,
) -> Result<Vec<TokenRow>, Problem> {
    let mut query = api_tokens::table
        .filter(api_tokens::account_id.eq(account.uuid()))
        .select(TokenRow::as_select())
        .order(api_tokens::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(api_tokens::id.gt(after));
    }
    Ok(query.load(connection).await?)
}

pub async fn revoke(
    connection: &mut Connection,
    id: TokenId,
    at: DateTime<Utc>,
) -> Result<(), Problem> {
    diesel::update(api_tokens::table.find(id.uuid()))
        .set(api_tokens::revoked_at.eq(at))
        .execute(connection)
        .await?;
    Ok(())
}
