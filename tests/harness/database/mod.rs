//! Databases cloned from one template that carries the migrations.

mod address;
mod desk;
mod error;
mod server;
mod template;

pub use error::HarnessError;

use address::Address;

/// An empty database with all migrations, dropped with this value.
#[derive(Debug)]
pub struct TestDatabase {
    /// Where it is, for a role that owns it and has no powers beyond it where the server allows that.
    pub url: String,
    name: String,
    administrator: Address,
}

impl TestDatabase {
    /// Needs no preparation and no particular runtime; 40 tests may call it at once.
    ///
    /// # Panics
    /// If no server can be had, or the migrations fail: the test cannot go on.
    pub async fn create() -> Self {
        match Self::try_create().await {
            Ok(database) => database,
            Err(error) => panic!("no test database: {error}"),
        }
    }

    async fn try_create() -> Result<Self, HarnessError> {
        let made = desk::create().await?;
        Ok(Self {
            url: made.application.url(&made.name),
            name: made.name,
            administrator: made.administrator,
        })
    }

    /// The same database for the role that made it, to look behind row-level security or to end
    /// other sessions.
    #[must_use]
    pub fn administrator_url(&self) -> String {
        self.administrator.url(&self.name)
    }

    /// The database's name on its server.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }
}

impl Drop for TestDatabase {
    /// Waits, so that the last test of a process leaves nothing behind.
    fn drop(&mut self) {
        desk::remove(&self.name);
    }
}
