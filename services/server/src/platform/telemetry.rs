//! Logs: plain lines on standard error, filtered by `WEARBOOK_LOG` (for example `info,wearbook=debug`).

use std::io::IsTerminal;
use tracing_subscriber::EnvFilter;

/// Starts logging once. A second call changes nothing, so that tests may call it too.
pub fn start() {
    let filter = EnvFilter::try_from_env("WEARBOOK_LOG")
        .unwrap_or_else(|_| EnvFilter::new("warn,wearbook=info"));
    let _already_started = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .with_target(false)
        .with_ansi(std::io::stderr().is_terminal())
        .try_init();
}
