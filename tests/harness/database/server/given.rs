use std::env;

use super::{Address, HarnessError, Hold, Server};

const VARIABLE: &str = "TEST_DATABASE_URL";

/// The server the caller runs; its role must be allowed to make databases.
pub(super) fn server() -> Result<Option<Server>, HarnessError> {
    let Ok(url) = env::var(VARIABLE) else {
        return Ok(None);
    };
    let (administrator, database) = Address::parse(&url)?;
    Ok(Some(Server {
        administrator,
        maintenance: database.unwrap_or_else(|| "postgres".to_owned()),
        freshly_started: false,
        _hold: Hold::Given,
    }))
}
