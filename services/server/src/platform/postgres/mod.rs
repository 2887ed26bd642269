//! The database: pool, transactions, migrations, and the private server that a first start brings up.

pub mod cluster;
pub mod faults;
mod migrate;
pub mod schema;

pub use migrate::{MigrateError, MigrationSummary, migrate, migration_names};

use crate::platform::http::problem::Problem;
use diesel_async::pooled_connection::deadpool::{Object, Pool as DeadPool};
use diesel_async::pooled_connection::{AsyncDieselConnectionManager, ManagerConfig};
use diesel_async::{AnsiTransactionManager, AsyncPgConnection, TransactionManager};
use std::time::Duration;

/// One connection to PostgreSQL, as every store function takes it. The caller owns the transaction.
pub type Connection = AsyncPgConnection;

/// How long a request waits for a free connection before it is told to come back, unless the pool was told otherwise.
const WAIT_FOR_CONNECTION: Duration = Duration::from_secs(2);

/// A bounded set of connections, shared by requests and the worker.
#[derive(Clone)]
pub struct Pool {
    inner: DeadPool<AsyncPgConnection>,
}

/// The pool's settings were not usable.
#[derive(Debug, thiserror::Error)]
#[error("the connection pool could not be set up: {0}")]
pub struct PoolError(String);

impl Pool {
    /// Connects lazily: a database that is away shows at the first use, not here.
    ///
    /// # Errors
    /// When the pool's settings contradict each other.
    pub fn new(url: &str, connections: usize) -> Result<Self, PoolError> {
        Self::with_patience(url, connections, WAIT_FOR_CONNECTION)
    }

    /// As [`Pool::new`], with the time that a request waits for a free connection.
    ///
    /// # Errors
    /// When the pool's settings contradict each other.
    pub fn with_patience(url: &str, connections: usize, wait: Duration) -> Result<Self, PoolError> {
        let manager = AsyncDieselConnectionManager::<AsyncPgConnection>::new_with_config(
            url,
            ManagerConfig::default(),
        );
        let inner = DeadPool::builder(manager)
            .max_size(connections)
            .wait_timeout(Some(wait))
            .create_timeout(Some(Duration::from_secs(5)))
            .runtime(deadpool::Runtime::Tokio1)
            .build()
            .map_err(|error| PoolError(error.to_string()))?;
        Ok(Self { inner })
    }

    /// A connection for reading, outside any transaction.
    ///
    /// # Errors
    /// `unavailable` when none is free in time or the database is away.
    pub async fn get(&self) -> Result<Object<AsyncPgConnection>, Problem> {
        self.inner.get().await.map_err(|error| {
            tracing::warn!(%error, "no database connection");
            Problem::unavailable()
        })
    }

    /// Runs `work` in one transaction: committed when it succeeds, undone when it fails.
    ///
    /// # Errors
    /// What `work` answers, or `unavailable`.
    pub async fn transaction<R>(
        &self,
        work: impl AsyncFnOnce(&mut Connection) -> Result<R, Problem>,
    ) -> Result<R, Problem> {
        self.finish(work, |_| true).await
    }

    /// As [`Pool::transaction`], but `keep` may still undo a success (a dry run).
    ///
    /// # Errors
    /// What `work` answers, or `unavailable`.
    pub async fn finish<R>(
        &self,
        work: impl AsyncFnOnce(&mut Connection) -> Result<R, Problem>,
        keep: impl FnOnce(&R) -> bool,
    ) -> Result<R, Problem> {
        let mut connection = self.get().await?;
        let connection: &mut Connection = &mut connection;
        AnsiTransactionManager::begin_transaction(connection).await?;
        match work(connection).await {
            Ok(result) if keep(&result) => {
                AnsiTransactionManager::commit_transaction(connection).await?;
                Ok(result)
            }
            outcome => {
                AnsiTransactionManager::rollback_transaction(connection).await?;
                outcome
            }
        }
    }
}
