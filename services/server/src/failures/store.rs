//! Rows of failure reports.

use crate::platform::http::paging::Window;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::{components, failure_reports};
use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

/// A report as stored.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = failure_reports)]
#[expect(missing_docs, reason = "columns, described in the migration")]
pub struct FailureRow {
    pub id: Uuid,
    pub owner_id: Uuid,
    pub installation_id: Uuid,
    pub component_id: Uuid,
    pub part_type_key: String,
    pub mode_key: String,
    pub occurred_at: DateTime<Utc>,
    pub last_known_good_at: Option<DateTime<Utc>>,
    pub discovery: String,
    pub role: String,
    pub cause: String,
    pub severity: String,
    pub detail: Option<String>,
    pub created_at: DateTime<Utc>,
}

/// Writes reports; many at once go in pieces that fit into one statement.
///
/// # Errors
/// The faults of the constraints.
pub async fn insert_failures(
    connection: &mut Connection,
    rows: &[FailureRow],
) -> Result<(), Problem> {
    for piece in rows.chunks(2000) {
        diesel::insert_into(failure_reports::table)
            .values(piece)
            .execute(connection)
            .await?;
    }
    Ok(())
}

pub(super) async fn part_type_of(
    connection: &mut Connection,
    component: Uuid,
) -> Result<String, Problem> {
    Ok(components::table
        .find(component)
        .select(components::part_type_key)
        .first(connection)
        .await?)
}

pub(super) async fn report(
    connection: &mut Connection,
    owners: &[Uuid],
    id: Uuid,
) -> Result<Option<FailureRow>, Problem> {
    Ok(failure_reports::table
        .filter(
            failure_reports::id
                .eq(id)
                .and(failure_reports::owner_id.eq_any(owners)),
        )
        .select(FailureRow::as_select())
        .first(connection)
        .await
        .optional()?)
}

pub(super) async fn reports_after(
    connection: &mut Connection,
    owners: &[Uuid],
    component: Option<Uuid>,
    window: &Window,
) -> Result<Vec<FailureRow>, Problem> {
    let mut query = failure_reports::table
        .filter(failure_reports::owner_id.eq_any(owners))
        .select(FailureRow::as_select())
        .order(failure_reports::id)
        .limit(window.limit + 1)
        .into_boxed();
    if let Some(after) = window.after {
        query = query.filter(failure_reports::id.gt(after));
    }
    if let Some(component) = component {
        query = query.filter(failure_reports::component_id.eq(component));
    }
    Ok(query.load(connection).await?)
}

/// Reports that are there already.
///
/// # Errors
/// When the database is away.
pub async fn known_failures(
    connection: &mut Connection,
    owners: &[Uuid],
    ids: &[Uuid],
) -> Result<Vec<Uuid>, Problem> {
    Ok(failure_reports::table
        .filter(
            failure_reports::id
                .eq_any(ids)
                .and(failure_reports::owner_id.eq_any(owners)),
        )
        .select(failure_reports::id)
        .load(connection)
        .await?)
}
