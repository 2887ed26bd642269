//! Make an API token. The secret is in this one answer only, so a retry cannot be answered from memory.

use super::actor::{Acting, Actor, ReadOwn};
use super::store::{self, TokenRow};
use super::token_secret::TokenSecret;
use super::view::IssuedToken;
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::codes::ProblemCode;
use crate::platform::http::idempotency::IdempotencyKey;
use crate::platform::http::problem::{FieldFault, Problem};
use crate::platform::http::text::Line;
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Duration, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::{AccountId, TokenId};
use wearbook_domain::vocabulary::Scope;

/// A new token.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TokenDraft {
    /// What its owner calls it.
    #[schema(example = "field phone")]
    pub name: Line<120>,
    /// What it may do.
    #[schema(min_items = 1, max_items = 10)]
    pub scopes: Vec<Scope>,
    /// Days until it expires: 90 unless said.
    #[serde(default = "ninety")]
    #[schema(minimum = 1, maximum = 365, required = false)]
    pub days: u16,
    /// The account it acts for: the caller's own unless an administrator names another.
    #[schema(required = false)]
    pub account_id: Option<AccountId>,
}

fn ninety() -> u16 {
    90
}

/// Makes a token in the caller's transaction.
///
/// # Errors
/// When the system gives no random numbers or the database is away.
pub async fn create_token(
    connection: &mut Connection,
    account: AccountId,
    draft: &TokenDraft,
    now: DateTime<Utc>,
) -> Result<IssuedToken, Problem> {
    let secret = TokenSecret::random().map_err(Problem::internal)?;
    let mut scopes: Vec<String> = draft
        .scopes
        .iter()
        .map(|scope| scope.code().to_owned())
        .collect();
    scopes.sort();
    scopes.dedup();
    let row = TokenRow {
        id: TokenId::new_at(now).uuid(),
        account_id: account.uuid(),
        name: draft.name.to_string(),
        secret_sha256: secret.digest().to_vec(),
        scopes,
        created_at: now,
        expires_at: now + Duration::days(i64::from(draft.days)),
        revoked_at: None,
    };
    store::insert_token(connection, &row).await?;
    Ok(IssuedToken {
        token: row.try_into()?,
        secret: secret.reveal().to_owned(),
    })
}

/// A token cannot make a wider one.
fn check_scopes(actor: &Actor, draft: &TokenDraft) -> Result<(), Problem> {
    let wider: Vec<FieldFault> = draft
        .scopes
        .iter()
        .enumerate()
        .filter(|(_, scope)| !actor.may(**scope) && !actor.may(Scope::Administer))
        .map(|(index, scope)| {
            FieldFault::new(
                format!("/scopes/{index}"),
                "own-scope",
                "a scope that the calling token has",
                scope,
            )
        })
        .collect();
    if wider.is_empty() {
        Ok(())
    } else {
        Err(Problem::invalid_all(wider))
    }
}

/// Makes a token.
#[utoipa::path(
    post, path = "/v1/tokens", operation_id = "create_token", tag = "access",
    summary = "Make an API token",
    description = "Makes a token with at most the caller's own scopes. The secret is shown once; no Idempotency-Key is taken here, because the answer is not kept.",
    params(WriteParameters),
    request_body = TokenDraft,
    responses((status = 201, description = "The new token with its secret", body = IssuedToken)),
    security(("token" = ["read-own"]))
)]
pub async fn post(
    acting: Acting<ReadOwn>,
    body: Body<TokenDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    if IdempotencyKey::of(&request)?.is_some() {
        return Err(Problem::new(
            ProblemCode::InvalidParameter,
            "Idempotency-Key: not here, since a token's secret is never stored",
        ));
    }
    check_scopes(&acting, &body.value)?;
    let account = match body.value.account_id {
        Some(other) if other != acting.account && !acting.may(Scope::Administer) => {
            return Err(Problem::invalid(
                "/account_id",
                "own-account",
                "your own account",
                other,
            ));
        }
        named => named.unwrap_or(acting.account),
    };
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            if store::account(connection, account).await?.is_none() {
                return Err(Problem::invalid(
                    "/account_id",
                    "exists",
                    "an account that exists",
                    account,
                ));
            }
            let issued = create_token(connection, account, &body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/tokens/{}", issued.token.id),
                view: issued,
            })
        },
    )
    .await
}
