//! Events, written with the change they report, and read once by the worker.

use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::outbox::dsl;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::Serialize;
use serde::de::DeserializeOwned;

/// Writes one event.
///
/// # Errors
/// When the database is away.
pub async fn record(connection: &mut Connection, event: &impl Serialize) -> Result<(), Problem> {
    let event = serde_json::to_value(event).map_err(Problem::internal)?;
    diesel::insert_into(dsl::outbox)
        .values(dsl::event.eq(event))
        .execute(connection)
        .await?;
    Ok(())
}

/// Takes up to `limit` events out, oldest first. An event that this version cannot read is logged and dropped.
///
/// # Errors
/// When the database is away.
pub async fn take<E: DeserializeOwned>(
    connection: &mut Connection,
    limit: i64,
) -> Result<Vec<E>, Problem> {
    let rows: Vec<(i64, serde_json::Value)> = dsl::outbox
        .select((dsl::id, dsl::event))
        .order(dsl::id)
        .limit(limit)
        .for_update()
        .skip_locked()
        .load(connection)
        .await?;
    let ids: Vec<i64> = rows.iter().map(|(id, _)| *id).collect();
    diesel::delete(dsl::outbox.filter(dsl::id.eq_any(&ids)))
        .execute(connection)
        .await?;
    Ok(rows
        .into_iter()
        .filter_map(|(id, event)| {
            serde_json::from_value(event)
                .inspect_err(
                    |error| tracing::error!(id, %error, "an event that this version cannot read"),
                )
                .ok()
        })
        .collect())
}
