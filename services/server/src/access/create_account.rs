//! Make an account.

use super::actor::{Acting, Administer};
use super::store::{self, AccountRow};
use super::view::AccountView;
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::problem::Problem;
use crate::platform::http::text::Line;
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::AccountId;

/// A new account.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AccountDraft {
    /// The name that others see; a pseudonym is fine.
    #[schema(example = "Pilot 001 (invented)")]
    pub display_name: Line<120>,
}

/// Makes an account in the caller's transaction.
///
/// # Errors
/// When the database is away.
pub async fn create_account(
    connection: &mut Connection,
    draft: AccountDraft,
    now: DateTime<Utc>,
) -> Result<AccountView, Problem> {
    let row = AccountRow {
        id: AccountId::new_at(now).uuid(),
        display_name: draft.display_name.into(),
        created_at: now,
    };
    store::insert_account(connection, &row).await?;
    Ok(row.into())
}

/// Makes an account.
#[utoipa::path(
    post, path = "/v1/accounts", operation_id = "create_account", tag = "access",
    summary = "Make an account", description = "Makes an account; give it a token with the tokens address.",
    params(WriteParameters),
    request_body = AccountDraft,
    responses((status = 201, description = "The new account", body = AccountView)),
    security(("token" = ["administer"]))
)]
pub async fn post(
    acting: Acting<Administer>,
    body: Body<AccountDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = create_account(connection, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/accounts/{}", view.id),
                view,
            })
        },
    )
    .await
}
