//! `wearbook openapi`: print the API description, for the committed copy and for clients.

use super::Exit;
use std::io::Write;

/// Prints the description.
pub fn run() -> Exit {
    match std::io::stdout().write_all(crate::openapi::text().as_bytes()) {
        Ok(()) => Exit::Done,
        Err(_) => Exit::Failed,
    }
}
