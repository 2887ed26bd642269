//! The way every write takes: retry check, one transaction, dry run, answer.

use super::etag;
use super::idempotency::{IdempotencyKey, StoredAnswer, recall, remember};
use super::problem::Problem;
use super::query;
use super::reply::bytes_of;
use crate::platform::postgres::{Connection, Pool};
use actix_web::http::{StatusCode, header};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::IntoParams;
use uuid::Uuid;

/// The parameters that every POST takes.
#[derive(Debug, Clone, Copy, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct WriteParameters {
    /// Check everything and answer what would happen, but change nothing.
    #[serde(default)]
    pub dry_run: bool,
}

/// A new record: what to show, and where it lives.
#[derive(Debug)]
pub struct Created<T> {
    /// The representation.
    pub view: T,
    /// The path of the record.
    pub location: String,
}

/// Runs `work` once, whatever the client repeats.
///
/// A dry run does the same work and undoes it; its answer is 200 without `Location`.
///
/// # Errors
/// What `work` answers, and the faults of idempotency keys.
pub async fn create<T: Serialize>(
    pool: &Pool,
    request: &HttpRequest,
    token: Uuid,
    fingerprint: &[u8; 32],
    work: impl AsyncFnOnce(&mut Connection) -> Result<Created<T>, Problem>,
) -> Result<HttpResponse, Problem> {
    let parameters: WriteParameters = query::read(request.query_string())?;
    // A dry run leaves nothing behind, so there is nothing to remember it by.
    let key = IdempotencyKey::of(request)?.filter(|_| !parameters.dry_run);
    let (answer, replayed) = pool
        .finish(
            async |connection: &mut Connection| {
                if let Some(key) = &key
                    && let Some(answer) = recall(connection, token, key, fingerprint).await?
                {
                    return Ok((answer, true));
                }
                let created = work(connection).await?;
                let body = bytes_of(&created.view)?;
                let answer = StoredAnswer {
                    status: if parameters.dry_run { 200 } else { 201 },
                    location: (!parameters.dry_run).then_some(created.location),
                    etag: Some(etag::of(body.as_bytes())),
                    body,
                };
                if let Some(key) = &key {
                    remember(connection, token, key, fingerprint, &answer).await?;
                }
                Ok((answer, false))
            },
            |_| !parameters.dry_run,
        )
        .await?;
    Ok(respond(answer, replayed))
}

fn respond(answer: StoredAnswer, replayed: bool) -> HttpResponse {
    let status = u16::try_from(answer.status)
        .ok()
        .and_then(|status| StatusCode::from_u16(status).ok());
    let mut response = HttpResponse::build(status.unwrap_or(StatusCode::OK));
    if let Some(location) = answer.location {
        response.insert_header((header::LOCATION, location));
    }
    if let Some(tag) = answer.etag {
        response.insert_header((header::ETAG, tag));
    }
    if replayed {
        response.insert_header(("idempotency-replayed", "true"));
    }
    response
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .content_type("application/json")
        .body(answer.body)
}
