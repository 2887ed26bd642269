//! The command line: one file a subcommand, over the front doors of the slices only.

mod admin;
mod analyse;
mod analyse_plots;
mod database;
mod demo;
mod demo_fleet;
mod migrate;
mod openapi;
mod read_events;
mod read_lives;
mod read_table;
mod serve;
mod summary;
mod summary_events;
mod summary_figures;

pub use serve::application;

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// How a command ended, as the shell sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done,
    /// Something failed that the input could not help, such as a database that is away.
    Failed,
    /// The input is not valid. Clap uses the same code for wrong options.
    BadInput,
    /// Done, but the answer is no: a replay differs.
    Differs,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(match exit {
            Exit::Done => 0,
            Exit::Failed => 1,
            Exit::BadInput => 2,
            Exit::Differs => 3,
        })
    }
}

/// Lifetimes of helicopter components: records in, survival models fitted, intervals out.
#[derive(Debug, Parser)]
#[command(
    name = "wearbook",
    version,
    about,
    after_help = "Exit codes: 0 done, 1 failed, 2 input not valid, 3 done but the answer is no (a replay differs).\n\
    Settings: WEARBOOK_DATABASE_URL or DATABASE_URL (use that PostgreSQL instead of a private one), WEARBOOK_DATA, WEARBOOK_PORT, WEARBOOK_LOG.\n\
    Advice is statistics of reported cases, not an inspection of your aircraft."
)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Start the service with the invented demo fleet.
    Demo(demo::DemoOptions),
    /// Start the service.
    Serve(serve::ServeOptions),
    /// Bring the database to the schema of this program.
    Migrate(migrate::MigrateOptions),
    /// Fit lives from a CSV file; needs no database.
    Analyse(analyse::AnalyseOptions),
    /// Make accounts and tokens, replay fits.
    Admin(admin::AdminOptions),
    /// Print the API description.
    Openapi,
}

/// Runs the command line.
#[must_use]
pub fn run() -> Exit {
    let cli = Cli::parse();
    let outcome = match cli.command {
        Command::Analyse(options) => return analyse::run(&options),
        Command::Openapi => return openapi::run(),
        Command::Demo(options) => demo::run(&options),
        Command::Serve(options) => serve::run(&options),
        Command::Migrate(options) => migrate::run(&options),
        Command::Admin(options) => admin::run(&options),
    };
    outcome.unwrap_or_else(|failure| {
        eprintln!("wearbook: {failure}");
        Exit::Failed
    })
}

/// Why a command could not do its work.
#[derive(Debug, thiserror::Error)]
pub enum CommandError {
    /// The private server.
    #[error(transparent)]
    Cluster(#[from] crate::platform::postgres::cluster::ClusterError),
    /// The schema.
    #[error(transparent)]
    Migrate(#[from] crate::platform::postgres::MigrateError),
    /// The connections.
    #[error(transparent)]
    Pool(#[from] crate::platform::postgres::PoolError),
    /// A fault as the API would answer it.
    #[error(transparent)]
    Problem(#[from] crate::platform::http::problem::Problem),
    /// The system.
    #[error("{0}")]
    System(#[from] std::io::Error),
    /// Something else, in a sentence.
    #[error("{0}")]
    Other(String),
}
