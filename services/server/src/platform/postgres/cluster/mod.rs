//! A PostgreSQL server of our own, for those who do not run one: made in the data folder on the
//! first start, woken on the next, stopped with us.
//!
//! It drives PostgreSQL's own `initdb` and `pg_ctl`. In the data folder lie `postgres/` (the
//! server's files), `run/` (the socket, or a folder below the temporary one if the path is too
//! long), `log/`, `password` (the administrator's), `application-password`, `port` and `lock`.
//! Everything blocks: call it before the runtime starts, or from a thread that may wait. Linux.

mod application;
mod binaries;
mod connection;
mod error;
mod initialise;
mod layout;
mod lock;
mod operating_user;
mod postmaster;
mod programs;
mod secret;
mod settings;
mod start;
mod takeover;
#[cfg(test)]
mod tests;

use std::fs::File;
use std::path::{Path, PathBuf};

pub use application::ensure_application_database;
pub use connection::ConnectionParameters;
pub use error::ClusterError;

use binaries::Binaries;
use layout::Layout;
use operating_user::OperatingUser;
use takeover::Predecessor;

/// The superuser of a private server. The application does not use it, see
/// [`ensure_application_database`].
const ADMINISTRATOR: &str = "wearbook_admin";

/// What the private server shall be.
#[derive(Debug, Clone)]
pub struct ClusterConfig {
    /// Made if missing. One program at a time.
    pub data: PathBuf,
    /// False leaves writes to the operating system: faster, and lost with it. For tests only.
    pub durable: bool,
    /// Of all roles together; a server taken over keeps the number it was started with.
    pub max_connections: u16,
}

/// How the server came to run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// The cluster is new.
    Created,
    /// The cluster was there, its server was not running.
    Started,
    /// An earlier run ended without stopping its server, and it answers.
    TakenOver,
}

/// A running server and the lock on its data folder.
///
/// Dropping it stops the server if this value started it, and keeps quiet about failures;
/// [`Cluster::stop`] reports them and stops a server taken over as well.
#[derive(Debug)]
pub struct Cluster {
    layout: Layout,
    binaries: Binaries,
    user: OperatingUser,
    connection: ConnectionParameters,
    origin: Origin,
    stop_on_drop: bool,
    /// Held, not read.
    _lock: File,
}

impl Cluster {
    /// Makes, starts or takes over the server, and returns once it takes connections.
    ///
    /// # Errors
    /// If PostgreSQL's programs are missing, the folder is in use, closed or foreign, or one of the
    /// programs fails. Every text says what to do.
    pub fn start(config: &ClusterConfig) -> Result<Self, ClusterError> {
        let binaries = Binaries::find(&config.data.join("postgres"))?;
        let layout = Layout::in_folder(&config.data)?;
        let user = OperatingUser::choose(&[&layout.server, &layout.data])?;
        user.check_passage(&layout.data, &binaries.program("postgres"))?;
        let lock = lock::take(&layout, &user)?;
        layout.furnish(&user)?;
        let created = initialise::unless_present(config, &layout, &binaries, &user)?;
        let mut connection = ConnectionParameters {
            socket_dir: layout.sockets.clone(),
            port: 0,
            user: ADMINISTRATOR.to_owned(),
            password: secret::read_or_create(&layout.password, &user)?,
        };
        let predecessor = takeover::seek(&layout, &user, &connection)?;
        let origin = match predecessor {
            Predecessor::Answers(_) => Origin::TakenOver,
            _ if created => Origin::Created,
            _ => Origin::Started,
        };
        connection.port = match predecessor {
            Predecessor::Answers(port) => port,
            Predecessor::Gone => start::start(config, &layout, &binaries, &user)?,
            Predecessor::Silent => {
                start::stop(&layout, &binaries, &user)?;
                start::start(config, &layout, &binaries, &user)?
            }
        };
        Ok(Self {
            layout,
            binaries,
            user,
            connection,
            origin,
            stop_on_drop: origin != Origin::TakenOver,
            _lock: lock,
        })
    }

    /// As the administrator, who may do everything.
    #[must_use]
    pub fn connection(&self) -> &ConnectionParameters {
        &self.connection
    }

    /// How the server came to run.
    #[must_use]
    pub fn origin(&self) -> Origin {
        self.origin
    }

    /// The server's own folder, where `postmaster.pid` lies while it runs.
    #[must_use]
    pub fn server_folder(&self) -> &Path {
        &self.layout.server
    }

    /// Ends all sessions, stops the server and waits until it is gone.
    ///
    /// # Errors
    /// If it does not stop within a minute.
    pub fn stop(mut self) -> Result<(), ClusterError> {
        self.stop_on_drop = false;
        start::stop(&self.layout, &self.binaries, &self.user)
    }

    /// Gives up the lock but leaves the server running, for the next [`Cluster::start`] to take over.
    #[must_use]
    pub fn leave_running(mut self) -> ConnectionParameters {
        self.stop_on_drop = false;
        self.connection.clone()
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        if self.stop_on_drop
            && let Err(error) = start::stop(&self.layout, &self.binaries, &self.user)
        {
            tracing::warn!(%error, "the private PostgreSQL server did not stop");
        }
    }
}
