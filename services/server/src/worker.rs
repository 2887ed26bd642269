//! The background worker: takes events out of the outbox, queues what follows, and does the jobs one at a time.
//!
//! It runs on a thread of its own, so that a long fit never holds up a request.

use crate::events::Event;
use crate::platform::http::problem::Problem;
use crate::platform::jobs::{outbox, queue};
use crate::platform::postgres::{Connection, Pool};
use crate::reactions::{job_after, perform};
use diesel::sql_types::Text;
use diesel_async::RunQueryDsl;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// How long an idle worker sleeps. A sleeping worker costs one short query a wake.
const IDLE: Duration = Duration::from_millis(500);
/// How many events one transaction takes out.
const BATCH: i64 = 500;

/// A running worker.
pub struct Worker {
    stop: Arc<AtomicBool>,
    thread: JoinHandle<()>,
}

impl Worker {
    /// Starts a worker with its own two connections.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(url: &str) -> std::io::Result<Self> {
        let stop = Arc::new(AtomicBool::new(false));
        let (seen, url) = (Arc::clone(&stop), url.to_owned());
        let thread = std::thread::Builder::new()
            .name("worker".into())
            .spawn(move || {
                let runtime = tokio::runtime::Builder::new_current_thread()
                    .enable_all()
                    .build();
                match (runtime, Pool::new(&url, 2)) {
                    (Ok(runtime), Ok(pool)) => runtime.block_on(run(&pool, &seen)),
                    (runtime, pool) => tracing::error!(?runtime, pool = pool.is_ok(), "no worker"),
                }
            })?;
        Ok(Self { stop, thread })
    }

    /// Lets the job in hand finish, then returns.
    pub fn stop(self) {
        self.stop.store(true, Ordering::Release);
        if self.thread.join().is_err() {
            tracing::error!("the worker had panicked");
        }
    }
}

async fn run(pool: &Pool, stop: &AtomicBool) {
    while !stop.load(Ordering::Acquire) {
        match step(pool).await {
            Ok(true) => {}
            Ok(false) => tokio::time::sleep(IDLE).await,
            Err(problem) => {
                tracing::warn!(%problem, "the worker waits");
                tokio::time::sleep(IDLE * 4).await;
            }
        }
    }
}

/// Does everything that is due now; for tests and for commands that must not return before the fits are fresh.
///
/// # Errors
/// When the database is away.
pub async fn settle(pool: &Pool) -> Result<(), Problem> {
    loop {
        while step(pool).await? {}
        if !queue::is_busy(&mut *pool.get().await?).await? {
            return Ok(());
        }
        tokio::time::sleep(IDLE / 5).await;
    }
}

/// One round; false when there was nothing to do.
async fn step(pool: &Pool) -> Result<bool, Problem> {
    let events = pool
        .transaction(async |connection: &mut Connection| {
            let events: Vec<Event> = outbox::take(connection, BATCH).await?;
            for event in &events {
                queue::enqueue(connection, &job_after(event)).await?;
            }
            Ok(events.len())
        })
        .await?;
    let leased = pool
        .transaction(async |connection: &mut Connection| queue::lease(connection).await)
        .await?;
    let Some(job) = leased else {
        return Ok(events > 0);
    };
    let outcome = pool
        .transaction(async |connection: &mut Connection| {
            // Two workers may hold the same work under two rows; they take turns.
            diesel::sql_query("SELECT pg_advisory_xact_lock(hashtextextended($1, 0))")
                .bind::<Text, _>(format!("{}/{}", job.kind, job.key))
                .execute(connection)
                .await?;
            perform(connection, &job).await?;
            queue::finish(connection, &job).await
        })
        .await;
    if let Err(problem) = outcome {
        let cause = problem.to_string();
        pool.transaction(async |connection: &mut Connection| {
            queue::fail(connection, &job, &cause).await
        })
        .await?;
    }
    Ok(true)
}
