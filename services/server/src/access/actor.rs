//! The caller, as an argument: a handler that takes `Acting<WriteRecords>` is only reached with that scope.

use super::store;
use super::token_secret::TokenSecret;
use crate::platform::http::admission::Admission;
use crate::platform::http::codes::ProblemCode;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::{Connection, Pool};
use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{FromRequest, HttpRequest};
use futures_util::future::LocalBoxFuture;
use std::marker::PhantomData;
use uuid::Uuid;
use wearbook_domain::ids::{AccountId, OwnerId, TokenId};
use wearbook_domain::vocabulary::Scope;

/// Who asks.
#[derive(Debug, Clone)]
pub struct Actor {
    /// The account the token acts for.
    pub account: AccountId,
    /// The token.
    pub token: TokenId,
    /// What the token may do.
    pub scopes: Vec<Scope>,
    /// The account itself and its organisations.
    pub owners: Vec<OwnerId>,
}

impl Actor {
    /// Owners as the database keeps them, for `= ANY(..)`.
    #[must_use]
    pub fn owner_uuids(&self) -> Vec<Uuid> {
        self.owners.iter().map(|owner| owner.uuid()).collect()
    }

    /// The owner of a new record: the one that was named, or the account itself.
    ///
    /// # Errors
    /// `invalid-record` when the caller does not act for the named owner.
    pub fn owner_or_self(&self, named: Option<OwnerId>) -> Result<OwnerId, Problem> {
        match named {
            None => Ok(OwnerId::Account(self.account)),
            Some(owner) if self.owners.contains(&owner) => Ok(owner),
            Some(owner) => Err(Problem::invalid(
                "/owner",
                "acting-owner",
                "an owner that this token acts for",
                owner,
            )),
        }
    }

    /// The typed id of an owner this caller acts for.
    ///
    /// # Errors
    /// When a row of somebody else came this far, which is our fault.
    pub fn owner_of(&self, id: Uuid) -> Result<OwnerId, Problem> {
        self.owners
            .iter()
            .copied()
            .find(|owner| owner.uuid() == id)
            .ok_or_else(|| Problem::internal("a row of another owner reached a view"))
    }

    /// Whether the token has a scope.
    #[must_use]
    pub fn may(&self, scope: Scope) -> bool {
        self.scopes.contains(&scope)
    }
}

/// A scope as a type.
pub trait Permission: 'static {
    /// The scope that a token must have.
    const SCOPE: Scope;
}

macro_rules! permissions {
    ($($(#[$doc:meta])* $name:ident)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy)]
        pub struct $name;
        impl Permission for $name {
            const SCOPE: Scope = Scope::$name;
        }
    )+};
}

permissions! {
    /// Read what its owners own.
    ReadOwn
    /// Add and change records of its owners.
    WriteRecords
    /// Read advice and pooled results.
    ReadAdvice
    /// Change the catalogue.
    EditCatalogue
    /// Manage accounts, organisations and tokens.
    Administer
}

/// A caller with the permission `P`.
#[derive(Debug, Clone)]
pub struct Acting<P> {
    /// Who it is.
    pub actor: Actor,
    permission: PhantomData<P>,
}

impl<P> std::ops::Deref for Acting<P> {
    type Target = Actor;

    fn deref(&self) -> &Actor {
        &self.actor
    }
}

fn missing() -> Problem {
    Problem::new(
        ProblemCode::TokenMissing,
        "Send the header Authorization: Bearer with your token.",
    )
    .with_header(header::WWW_AUTHENTICATE, "Bearer")
}

fn invalid() -> Problem {
    Problem::new(
        ProblemCode::TokenInvalid,
        "The token is mistyped, revoked or past its date.",
    )
    .with_header(header::WWW_AUTHENTICATE, "Bearer error=\"invalid_token\"")
}

/// Finds the caller behind a token.
///
/// # Errors
/// `token-invalid` when no live token has this text.
pub async fn authenticate(connection: &mut Connection, text: &str) -> Result<Actor, Problem> {
    let secret = TokenSecret::parse(text).ok_or_else(invalid)?;
    store::actor_of(connection, &secret.digest())
        .await?
        .ok_or_else(invalid)
}

impl<P: Permission> FromRequest for Acting<P> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        let admission = Admission::demand(&request);
        Box::pin(async move {
            let value = request
                .headers()
                .get(header::AUTHORIZATION)
                .ok_or_else(missing)?;
            let text = value.to_str().map_err(|_| invalid())?;
            let (scheme, token) = text.split_once(' ').ok_or_else(missing)?;
            if !scheme.eq_ignore_ascii_case("bearer") {
                return Err(missing());
            }
            let pool = request
                .app_data::<Data<Pool>>()
                .ok_or_else(|| Problem::internal("no pool"))?;
            let mut connection = pool.get().await?;
            let actor = authenticate(&mut connection, token.trim()).await?;
            if !actor.may(P::SCOPE) {
                let scope = P::SCOPE.code();
                return Err(Problem::new(
                    ProblemCode::ScopeMissing,
                    format!("This needs a token with the scope {scope}."),
                )
                .with_header(
                    header::WWW_AUTHENTICATE,
                    format!("Bearer error=\"insufficient_scope\", scope=\"{scope}\""),
                ));
            }
            admission.grant();
            Ok(Self {
                actor,
                permission: PhantomData,
            })
        })
    }
}
