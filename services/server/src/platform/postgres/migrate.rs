//! Brings a database to the schema this binary was built with.

use diesel::migration::{Migration, MigrationSource, MigrationVersion};
use diesel::pg::Pg;
use diesel_async::{
    AsyncConnection, AsyncMigrationHarness, AsyncPgConnection, SimpleAsyncConnection,
};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

const MIGRATIONS: EmbeddedMigrations = embed_migrations!("../../migrations");

/// Any number will do, as long as every Wearbook process asks for the same one.
const MIGRATION_LOCK: i64 = 0x7765_6172_626f_6f6b;

/// What one run of the migrations did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MigrationSummary {
    /// Names of the steps that this run applied, oldest first.
    pub applied: Vec<String>,
    /// How many steps this binary knows.
    pub known: usize,
}

/// Why a database could not be brought up to date.
#[derive(Debug, thiserror::Error)]
pub enum MigrateError {
    /// No connection, or it broke.
    #[error("the database does not answer: {0}")]
    Connection(String),
    /// A step failed; it was undone as a whole.
    #[error("a migration failed and was undone: {0}")]
    Step(String),
    /// The database has steps that this binary does not know.
    #[error(
        "the database was migrated by a newer Wearbook (step {newest}); start that version, this one would damage it"
    )]
    NewerSchema {
        /// The newest step that is unknown here.
        newest: String,
    },
}

/// Names of the embedded steps, oldest first.
#[must_use]
pub fn migration_names() -> Vec<String> {
    let migrations: Vec<Box<dyn Migration<Pg>>> = MIGRATIONS.migrations().unwrap_or_default();
    let mut names: Vec<String> = migrations
        .iter()
        .map(|step| step.name().to_string())
        .collect();
    names.sort();
    names
}

/// Applies what is missing. Several processes may call this at once: one works, the others wait and find nothing to do.
///
/// # Errors
/// When the database is away, a step fails, or the schema is newer than this binary.
pub async fn migrate(url: &str) -> Result<MigrationSummary, MigrateError> {
    let url = url.to_owned();
    // Diesel's migrations block, and their bridge needs a multi-threaded runtime: they get a thread and a runtime of their own.
    tokio::task::spawn_blocking(move || {
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(1)
            .enable_all()
            .build()
            .map_err(|error| MigrateError::Step(error.to_string()))?;
        runtime.block_on(async move {
            let mut connection = AsyncPgConnection::establish(&url)
                .await
                .map_err(|error| MigrateError::Connection(error.to_string()))?;
            // Held by the session and freed with it, however this function ends.
            connection
                .batch_execute(&format!("SELECT pg_advisory_lock({MIGRATION_LOCK})"))
                .await
                .map_err(|error| MigrateError::Connection(error.to_string()))?;
            run(&mut AsyncMigrationHarness::new(connection))
        })
    })
    .await
    .map_err(|error| MigrateError::Step(error.to_string()))?
}

fn run(
    harness: &mut AsyncMigrationHarness<AsyncPgConnection>,
) -> Result<MigrationSummary, MigrateError> {
    let step =
        |error: Box<dyn std::error::Error + Send + Sync>| MigrateError::Step(error.to_string());
    let known: Vec<Box<dyn Migration<Pg>>> = MIGRATIONS.migrations().map_err(step)?;
    let applied_before: Vec<MigrationVersion<'static>> =
        harness.applied_migrations().map_err(step)?;
    if let Some(newest) = applied_before.iter().find(|version| {
        !known
            .iter()
            .any(|migration| migration.name().version() == **version)
    }) {
        return Err(MigrateError::NewerSchema {
            newest: newest.to_string(),
        });
    }
    let applied = harness.run_pending_migrations(MIGRATIONS).map_err(step)?;
    Ok(MigrationSummary {
        applied: applied.iter().map(ToString::to_string).collect(),
        known: known.len(),
    })
}
