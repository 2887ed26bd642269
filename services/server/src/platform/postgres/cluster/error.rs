use std::io;
use std::path::{Path, PathBuf};

/// Why the private server could not be had. Every text names the file or folder and what to do.
#[derive(Debug, thiserror::Error)]
pub enum ClusterError {
    /// Neither `PATH` nor the usual folders hold a server of a release that is new enough.
    #[error(
        "no PostgreSQL server programs (initdb, pg_ctl, postgres; release 15 or later) on PATH \
         or under /usr/lib/postgresql. Install them with `apt-get install postgresql` or run deploy/setup"
    )]
    NoServerBinaries,
    /// The data folder needs the server release that wrote it; another cannot read it.
    #[error(
        "{} was written by PostgreSQL {written_by}, and no programs of that release are installed. \
         Install postgresql-{written_by}, or dump and restore",
        .folder.display()
    )]
    WrongRelease {
        /// The server's own folder.
        folder: PathBuf,
        /// The release named in its `PG_VERSION`.
        written_by: String,
    },
    /// The data folder is locked.
    #[error(
        "another program{} already uses the data folder {}. Stop it, or choose another data folder",
        .holder.map(|pid| format!(" (process {pid})")).unwrap_or_default(),
        .data.display()
    )]
    InUse {
        /// The folder both want.
        data: PathBuf,
        /// The process that holds it, if it left its number.
        holder: Option<u32>,
    },
    /// PostgreSQL refuses to run as root, and the user it runs under cannot reach its files.
    #[error(
        "PostgreSQL will run as the user {user}, who may not pass through {}. Allow it with \
         `chmod o+x {}`, or choose a data folder elsewhere (not {})",
        .folder.display(), .folder.display(), .data.display()
    )]
    NotTraversable {
        /// The outermost folder that is closed.
        folder: PathBuf,
        /// The data folder asked for.
        data: PathBuf,
        /// Name of the user.
        user: String,
    },
    /// An ordinary user met somebody else's cluster.
    #[error(
        "{} belongs to user number {owner}, not to you. Start as that user or as root, or choose another data folder",
        .folder.display()
    )]
    OwnedByAnother {
        /// The server's own folder.
        folder: PathBuf,
        /// Its owner.
        owner: u32,
    },
    /// Started as root, with no lesser user to run PostgreSQL under.
    #[error(
        "PostgreSQL does not run as root, and there is neither a user `postgres` nor a user `nobody` to run it under"
    )]
    NoOperatingUser,
    /// A path that cannot be written into PostgreSQL's settings or a URL.
    #[error("the data folder {} cannot be used: its path must be {rule}", .path.display())]
    UnusablePath {
        /// The path asked for.
        path: PathBuf,
        /// What it breaks.
        rule: &'static str,
    },
    /// The path of the socket would be too long, and the stand-in below the temporary folder is not ours.
    #[error("{} exists, but is not a folder of ours. Remove it, or choose a data folder with a shorter path", .folder.display())]
    SocketFolderTaken {
        /// The stand-in.
        folder: PathBuf,
    },
    /// A cluster without its password cannot be spoken to.
    #[error("{} is missing, but the cluster beside it needs it. Restore the file from a backup of the data folder", .file.display())]
    PasswordMissing {
        /// Where it should be.
        file: PathBuf,
    },
    /// A server runs on our data, but was given another password.
    #[error("the PostgreSQL server of {} refuses the password in {}", .data.display(), .file.display())]
    PasswordRefused {
        /// The data folder.
        data: PathBuf,
        /// The password file.
        file: PathBuf,
    },
    /// One of PostgreSQL's own programs failed.
    #[error("{program} failed ({status}): {output}")]
    ProgramFailed {
        /// Which one.
        program: String,
        /// How it ended.
        status: String,
        /// The end of what it said, and of the server's log.
        output: String,
    },
    /// The file system said no.
    #[error("cannot {action} {}: {source}", .path.display())]
    File {
        /// A verb, such as "read".
        action: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// The operating system would not look up a user or give random bytes.
    #[error("cannot {action}: {reason}")]
    System {
        /// What was attempted.
        action: &'static str,
        /// Its words.
        reason: String,
    },
    /// The server answered, but would not make the application's role or database.
    #[error("cannot {action}: {source}")]
    Database {
        /// What was attempted.
        action: &'static str,
        /// The cause.
        source: tokio_postgres::Error,
    },
}

impl ClusterError {
    /// For `map_err` on anything that touches a path.
    pub(super) fn file(action: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_path_buf();
        move |source| Self::File {
            action,
            path,
            source,
        }
    }
}
