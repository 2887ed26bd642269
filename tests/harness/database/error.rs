use std::io;
use std::path::PathBuf;

use wearbook::platform::postgres::cluster::ClusterError;

/// Why there is no test database.
#[derive(Debug, thiserror::Error)]
pub enum HarnessError {
    /// `TEST_DATABASE_URL` could not be read.
    #[error("TEST_DATABASE_URL is not a usable PostgreSQL URL: {reason}")]
    Url {
        /// What is wrong with it; without the URL, which holds a password.
        reason: String,
    },
    /// A statement or a connection failed.
    #[error("cannot {action}: {source}")]
    Database {
        /// What was attempted.
        action: &'static str,
        /// The cause.
        source: tokio_postgres::Error,
    },
    /// The migrations did not run.
    #[error("the migrations failed: {reason}")]
    Migrations {
        /// Their own words.
        reason: String,
    },
    /// The local server did not start.
    #[error(transparent)]
    Cluster(#[from] ClusterError),
    /// A container did not start though an engine answered.
    #[error("the container did not start: {reason}")]
    Container {
        /// The engine's words.
        reason: String,
    },
    /// The file system said no.
    #[error("cannot {action} {}: {source}", .path.display())]
    File {
        /// A verb, such as "open".
        action: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// The shared folder below the temporary one is somebody else's.
    #[error("{} belongs to another user; remove it", .folder.display())]
    ForeignFolder {
        /// The folder.
        folder: PathBuf,
    },
    /// The thread that makes the databases is gone, or an earlier request already failed.
    #[error("{0}")]
    Desk(String),
}

impl HarnessError {
    pub(super) fn database(action: &'static str) -> impl FnOnce(tokio_postgres::Error) -> Self {
        move |source| Self::Database { action, source }
    }
}
