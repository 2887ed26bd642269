//! Rows of fits.

use crate::platform::http::paging::Window;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::fits;
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

/// A fit as stored; the documents are texts, so that they can be compared byte for byte.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = fits)]
#[expect(missing_docs, reason = "columns, described in the migration")]
pub struct FitRow {
    pub id: Uuid,
    pub part_type_key: String,
    pub scale: String,
    pub engine_version: String,
    pub data_digest: String,
    pub data_as_of: DateTime<Utc>,
    pub inputs: String,
    pub report: String,
    pub advice: String,
    pub created_at: DateTime<Utc>,
}

/// The newest fit of a population.
///
/// # Errors
/// When the database is away.
pub async fn newest(
    connection: &mut Connection,
    part_type: &str,
    scale: &str,
) -> Result<Option<FitRow>, Problem> {
    Ok(fits::table
        .filter(fits::part_type_key.eq(part_type).and(fits::scale.eq(scale)))
        .select(FitRow::as_select())
        .order(fits::id.desc())
        .first(connection)
        .await
        .optional()?)
}

/// Part type, scale and advice of the newest fit of every population.
///
/// # Errors
/// When the database is away.
pub async fn newest_of_all(
    connection: &mut Connection,
) -> Result<Vec<(String, String, String)>, Problem> {
    Ok(fits::table
        .distinct_on((fits::part_type_key, fits::scale))
        .select((fits::part_type_key, fits::scale, fits::advice))
        .order((fits::part_type_key, fits::scale, fits::id.desc()))
        .load(connection)
        .await?)
}

pub(super) async fn insert(connection: &mut Connection, row: &FitRow) -> Result<(), Problem> {
    diesel::insert_into(fits::table)
        .values(row)
        .execute(connection)
        .await?;
    Ok(())
}

/// One fit by its id.
///
/// # Errors
/// When the database is away.
pub(super) async fn fit(connection: &mut Connection, id: Uuid) -> Result<Option<FitRow>, Problem> {
    Ok(fits::table
        .find(id)
        .select(FitRow::as_select())
        .first(connection)
        .await
        .optional()?)
}

/// Ids of all fits, oldest first.
pub(super) async fn ids(connection: &mut Connection) -> Result<Vec<Uuid>, Problem> {
    Ok(fits::table
        .select(fits::id)
        .order(fits::id)
        .load(connection)
        .await?)
}

/// Id, part type, scale, engine, digest and times of a fit.
pub(super) type FitHead = (
    Uuid,
    String,
    String,
    String,
    String,
    DateTime<Utc>,
    DateTime<Utc>,
);

pub(super) async fn heads_after(
    connection: &mut Connection,
    part_type: Option<&str>,
    scale: Option<&str>,
    window: &Window,
) -> Result<Vec<FitHead>, Problem> {
    let mut query = fits::table
        .select((
            fits::id,
            fits::part_type_key,
            fits::scale,
            fits::engine_version,
            fits::data_digest,
            fits::data_as_of,
            fits::created_at,
        ))
        .order(fits::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(fits::id.gt(after));
    }
    if let Some(part_type) = part_type {
        query = query.filter(fits::part_type_key.eq(part_type));
    }
    if let Some(scale) = scale {
        query = query.filter(fits::scale.eq(scale));
    }
    Ok(query.load(connection).await?)
}
