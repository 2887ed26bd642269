//! Retried writes. The answer is stored in the transaction of the write, so a crash in between loses neither or both.

use super::codes::ProblemCode;
use super::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::idempotency_keys::dsl;
use actix_web::HttpRequest;
use actix_web::http::header;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool};
use diesel_async::RunQueryDsl;
use sha2::{Digest, Sha256};
use uuid::Uuid;

/// The key that a client chose for one logical write.
#[derive(Debug, Clone)]
pub struct IdempotencyKey(String);

impl IdempotencyKey {
    /// The header, if it was sent.
    ///
    /// # Errors
    /// `invalid-parameter` when it is empty, longer than 200 characters or not visible ASCII.
    pub fn of(request: &HttpRequest) -> Result<Option<Self>, Problem> {
        let Some(value) = request.headers().get("idempotency-key") else {
            return Ok(None);
        };
        match value.to_str() {
            Ok(text)
                if (1..=200).contains(&text.len())
                    && text.bytes().all(|byte| byte.is_ascii_graphic()) =>
            {
                Ok(Some(Self(text.to_owned())))
            }
            _ => Err(Problem::new(
                ProblemCode::InvalidParameter,
                "Idempotency-Key: 1 to 200 visible ASCII characters, for example a UUID",
            )),
        }
    }
}

/// An answer as it was given the first time.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = crate::platform::postgres::schema::idempotency_keys)]
pub struct StoredAnswer {
    /// HTTP status.
    pub status: i16,
    /// The `Location` header.
    pub location: Option<String>,
    /// The `ETag` header.
    pub etag: Option<String>,
    /// The body, byte for byte.
    pub body: String,
}

#[derive(QueryableByName)]
struct Locked {
    #[diesel(sql_type = Bool)]
    locked: bool,
}

/// Looks for an earlier answer and holds the key until the transaction ends.
///
/// # Errors
/// `request-in-flight` while another request holds the key, `idempotency-key-reused` for another body.
pub async fn recall(
    connection: &mut Connection,
    token: Uuid,
    key: &IdempotencyKey,
    fingerprint: &[u8; 32],
) -> Result<Option<StoredAnswer>, Problem> {
    let digest = Sha256::new()
        .chain_update(token.as_bytes())
        .chain_update(&key.0)
        .finalize();
    let lock = digest
        .first_chunk::<8>()
        .map_or(0, |bytes| i64::from_be_bytes(*bytes));
    let held: Locked = diesel::sql_query("SELECT pg_try_advisory_xact_lock($1) AS locked")
        .bind::<BigInt, _>(lock)
        .get_result(connection)
        .await?;
    if !held.locked {
        return Err(Problem::new(
            ProblemCode::RequestInFlight,
            "The first request with this key is still running.",
        )
        .with_header(header::RETRY_AFTER, "1"));
    }
    let found: Option<(Vec<u8>, StoredAnswer)> = dsl::idempotency_keys
        .filter(dsl::token_id.eq(token).and(dsl::key.eq(&key.0)))
        .select((dsl::fingerprint, StoredAnswer::as_select()))
        .first(connection)
        .await
        .optional()?;
    match found {
        Some((before, _)) if before != fingerprint => Err(Problem::new(
            ProblemCode::IdempotencyKeyReused,
            "This key was used with another body or address.",
        )),
        other => Ok(other.map(|(_, answer)| answer)),
    }
}

/// Keeps an answer for later retries.
///
/// # Errors
/// When the database is away.
pub async fn remember(
    connection: &mut Connection,
    token: Uuid,
    key: &IdempotencyKey,
    fingerprint: &[u8; 32],
    answer: &StoredAnswer,
) -> Result<(), Problem> {
    diesel::insert_into(dsl::idempotency_keys)
        .values((
            dsl::token_id.eq(token),
            dsl::key.eq(&key.0),
            dsl::fingerprint.eq(fingerprint.as_slice()),
            answer,
        ))
        .execute(connection)
        .await?;
    Ok(())
}
