//! `wearbook migrate`: bring the database to the schema of this program, and say what was done.

use super::database::{Database, DatabaseOptions};
use super::{CommandError, Exit};
use clap::Args;

/// Where the data are.
#[derive(Debug, Args)]
#[command(after_help = "Example: WEARBOOK_DATABASE_URL=postgres://... wearbook migrate")]
pub struct MigrateOptions {
    #[command(flatten)]
    database: DatabaseOptions,
}

/// Migrates.
pub fn run(options: &MigrateOptions) -> Result<Exit, CommandError> {
    let database = Database::open(&options.database, "service")?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let (_pool, summary) = runtime.block_on(database.prepare(1))?;
    for step in &summary.applied {
        println!("applied {step}");
    }
    println!(
        "{} of {} steps applied now",
        summary.applied.len(),
        summary.known
    );
    database.close()?;
    Ok(Exit::Done)
}
