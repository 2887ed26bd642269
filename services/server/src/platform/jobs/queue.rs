//! Work to do later. A job is safe to run twice; one that keeps failing is set aside where a person can see it.

use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::platform::postgres::schema::jobs::dsl;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Integer, Text};
use diesel_async::RunQueryDsl;

/// After this many failures a job is set aside.
const MOST_ATTEMPTS: i32 = 5;

/// One job as the queue knows it: a kind and what it is about.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct QueuedJob {
    /// Row.
    #[diesel(sql_type = BigInt)]
    pub id: i64,
    /// Kind of work.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// What it is about.
    #[diesel(sql_type = Text)]
    pub key: String,
    /// Tries before this one.
    #[diesel(sql_type = Integer)]
    pub attempts: i32,
}

/// A job to be queued.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    /// Kind of work.
    pub kind: &'static str,
    /// What it is about.
    pub key: String,
    /// Seconds to wait, so that a burst of changes is answered by one run.
    pub delay_seconds: i32,
}

/// Queues `job`, unless the same is waiting already.
///
/// # Errors
/// When the database is away.
pub async fn enqueue(connection: &mut Connection, job: &Job) -> Result<(), Problem> {
    diesel::sql_query(
        "INSERT INTO jobs (kind, key, run_at) VALUES ($1, $2, now() + make_interval(secs => $3)) \
         ON CONFLICT (kind, key) WHERE state = 'pending' DO NOTHING",
    )
    .bind::<Text, _>(job.kind)
    .bind::<Text, _>(&job.key)
    .bind::<Integer, _>(job.delay_seconds)
    .execute(connection)
    .await?;
    Ok(())
}

/// Takes the next due job and leases it for a minute. A lease that ran out (the worker died) is taken again.
///
/// # Errors
/// When the database is away.
pub async fn lease(connection: &mut Connection) -> Result<Option<QueuedJob>, Problem> {
    Ok(diesel::sql_query(
        "UPDATE jobs SET state = 'running', leased_until = now() + interval '60 seconds', attempts = attempts + 1 \
         WHERE id = (SELECT id FROM jobs WHERE (state = 'pending' AND run_at <= now()) \
                       OR (state = 'running' AND leased_until < now()) \
                     ORDER BY run_at, id LIMIT 1 FOR UPDATE SKIP LOCKED) \
         RETURNING id, kind, key, attempts",
    )
    .get_result(connection)
    .await
    .optional()?)
}

/// The job is done.
///
/// # Errors
/// When the database is away.
pub async fn finish(connection: &mut Connection, job: &QueuedJob) -> Result<(), Problem> {
    diesel::delete(dsl::jobs.find(job.id))
        .execute(connection)
        .await?;
    Ok(())
}

/// The job failed: later again, or set aside after [`MOST_ATTEMPTS`].
///
/// # Errors
/// When the database is away.
pub async fn fail(
    connection: &mut Connection,
    job: &QueuedJob,
    cause: &str,
) -> Result<(), Problem> {
    if job.attempts >= MOST_ATTEMPTS {
        tracing::error!(kind = job.kind, key = job.key, cause, "a job is set aside");
    }
    diesel::sql_query(
        "WITH again AS (DELETE FROM jobs WHERE id = $1 AND $2 < $3 \
            AND EXISTS (SELECT 1 FROM jobs p WHERE p.state = 'pending' AND p.kind = $4 AND p.key = $5) RETURNING id) \
         UPDATE jobs SET state = CASE WHEN $2 >= $3 THEN 'dead' ELSE 'pending' END, last_error = left($6, 2000), \
                leased_until = NULL, run_at = now() + make_interval(secs => power(2, least($2, 10))) \
         WHERE id = $1 AND NOT EXISTS (SELECT 1 FROM again)",
    )
    .bind::<BigInt, _>(job.id)
    .bind::<Integer, _>(job.attempts)
    .bind::<Integer, _>(MOST_ATTEMPTS)
    .bind::<Text, _>(&job.kind)
    .bind::<Text, _>(&job.key)
    .bind::<Text, _>(cause)
    .execute(connection)
    .await?;
    Ok(())
}

/// Whether anything that was recorded is not worked in yet.
///
/// # Errors
/// When the database is away.
pub async fn is_busy(connection: &mut Connection) -> Result<bool, Problem> {
    let found: Busy = diesel::sql_query(
        "SELECT EXISTS (SELECT 1 FROM outbox) OR EXISTS (SELECT 1 FROM jobs WHERE state <> 'dead') AS busy",
    )
    .get_result(connection)
    .await?;
    Ok(found.busy)
}

#[derive(QueryableByName)]
struct Busy {
    #[diesel(sql_type = diesel::sql_types::Bool)]
    busy: bool,
}
