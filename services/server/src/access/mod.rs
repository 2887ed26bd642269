//! Who is asking, and what may they do: accounts, organisations, API tokens.
//!
//! A token acts for one account and for the organisations that account belongs to. What it may do stands in its scopes;
//! what it may see follows from the owners it acts for. Handlers name the permission they need as an argument.

mod account;
mod accounts;
mod actor;
mod create_account;
mod create_organisation;
mod create_token;
mod import_people;
mod organisations;
mod revoke_token;
mod store;
mod token_secret;
mod tokens;
mod view;

pub use actor::{
    Acting, Actor, Administer, EditCatalogue, Permission, ReadAdvice, ReadOwn, WriteRecords,
    authenticate,
};
pub use create_account::{AccountDraft, create_account};
pub use create_organisation::{OrganisationDraft, create_organisation};
pub use create_token::{TokenDraft, create_token};
pub use import_people::{AccountImport, OrganisationImport, import_people};
pub use view::{AccountView, IssuedToken, OrganisationView, TokenView};

use actix_web::web::{self, ServiceConfig, delete, get, head, post};
use utoipa::OpenApi;

/// Addresses of this slice.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(
            web::resource("/v1/account")
                .route(get().to(account::get))
                .route(head().to(account::get)),
        )
        .service(
            web::resource("/v1/accounts")
                .route(get().to(accounts::list))
                .route(head().to(accounts::list))
                .route(post().to(create_account::post)),
        )
        .service(
            web::resource("/v1/accounts/{id}")
                .route(get().to(accounts::get))
                .route(head().to(accounts::get)),
        )
        .service(
            web::resource("/v1/organisations")
                .route(get().to(organisations::list))
                .route(head().to(organisations::list))
                .route(post().to(create_organisation::post)),
        )
        .service(
            web::resource("/v1/organisations/{id}")
                .route(get().to(organisations::get))
                .route(head().to(organisations::get)),
        )
        .service(
            web::resource("/v1/tokens")
                .route(get().to(tokens::list))
                .route(head().to(tokens::list))
                .route(post().to(create_token::post)),
        )
        .service(
            web::resource("/v1/tokens/{id}")
                .route(get().to(tokens::get))
                .route(head().to(tokens::get))
                .route(delete().to(revoke_token::delete)),
        );
}

/// Descriptions of this slice.
#[derive(OpenApi)]
#[openapi(paths(
    account::get,
    accounts::list,
    accounts::get,
    create_account::post,
    organisations::list,
    organisations::get,
    create_organisation::post,
    tokens::list,
    tokens::get,
    create_token::post,
    revoke_token::delete
))]
pub struct Description;
