//! Where the databases live, in order of preference.

mod container;
mod given;
mod janitor;
mod local;

use super::{Address, HarnessError};

/// A server in reach for as long as this value lives, which is as long as the process does.
pub(super) struct Server {
    pub(super) administrator: Address,
    /// The database to give orders in.
    pub(super) maintenance: String,
    /// Nobody else uses the server yet: leftovers of killed runs may go.
    pub(super) freshly_started: bool,
    /// Held, not read: closing it is what lets the server go.
    _hold: Hold,
}

/// What keeps a server alive.
enum Hold {
    Given,
    Container(#[expect(dead_code, reason = "held, not read")] Box<container::Running>),
    Local(#[expect(dead_code, reason = "held, not read")] local::Share),
}

impl Server {
    /// Blocks while a local server starts, so it wants a thread of its own.
    pub(super) async fn open() -> Result<Self, HarnessError> {
        if let Some(server) = given::server()? {
            return Ok(server);
        }
        if container::engine_answers() {
            match container::start().await {
                Ok(server) => return Ok(server),
                Err(error) => eprintln!("{error}; trying PostgreSQL's own programs"),
            }
        }
        local::start()
    }
}
