use std::fs;
use std::net::{Ipv4Addr, TcpListener};
use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};

use super::binaries::Binaries;
use super::layout::{Layout, replace_file};
use super::operating_user::OperatingUser;
use super::postmaster::{self, Postmaster};
use super::programs::{self, LogMark};
use super::{ClusterConfig, ClusterError, settings};

/// `pg_ctl` waits this long; replaying the log after a crash can take minutes.
const START_SECONDS: &str = "300";
const STOP_SECONDS: &str = "60";

/// A dead postmaster's children notice and go within moments.
const PATIENCE_WITH_REMAINS: Duration = Duration::from_secs(10);
const BETWEEN_ATTEMPTS: Duration = Duration::from_millis(200);

/// What the server says when such children still hold the shared memory, or a pid file came back.
const REMAINS: [&str; 2] = ["shared memory block", "lock file \"postmaster.pid\""];
/// What it says when somebody took the port between our look and its own.
const PORT_TAKEN: &str = "could not create any TCP/IP sockets";

/// The log is set aside at a start once it is this long.
const LONGEST_LOG: u64 = 8 * 1024 * 1024;

/// Starts the server and waits until it takes connections; gives back its port.
pub(super) fn start(
    config: &ClusterConfig,
    layout: &Layout,
    binaries: &Binaries,
    user: &OperatingUser,
) -> Result<u16, ClusterError> {
    set_log_aside(layout);
    let begun = Instant::now();
    let mut avoid = None;
    loop {
        clear_sockets(&layout.sockets)?;
        let port = choose_port(layout, avoid)?;
        settings::write(config, layout, user, port)?;
        let failure = match start_once(layout, binaries, user) {
            Ok(()) => {
                replace_file(&layout.port, &format!("{port}\n"), user)?;
                return Ok(port);
            }
            Err(failure) => failure,
        };
        let said = match &failure {
            ClusterError::ProgramFailed { output, .. } => output.as_str(),
            _ => "",
        };
        let passing = if said.contains(PORT_TAKEN) {
            avoid = Some(port);
            true
        } else {
            REMAINS.iter().any(|text| said.contains(text))
        };
        if !passing || begun.elapsed() > PATIENCE_WITH_REMAINS {
            return Err(failure);
        }
        if postmaster::observe(layout)? == Postmaster::Stale {
            postmaster::retire(layout, user)?;
        }
        thread::sleep(BETWEEN_ATTEMPTS);
    }
}

/// Ends all sessions and waits until the server is gone.
pub(super) fn stop(
    layout: &Layout,
    binaries: &Binaries,
    user: &OperatingUser,
) -> Result<(), ClusterError> {
    let log = layout.log_file();
    let mark = LogMark::at_end_of(&log);
    let mut pg_ctl = user.command(&binaries.program("pg_ctl"));
    pg_ctl
        .args(["stop", "-w", "-s", "-m", "fast", "-t", STOP_SECONDS, "-D"])
        .arg(&layout.server);
    programs::run(&mut pg_ctl, Some(mark))
}

/// `pg_ctl` gives the server a session of its own, so that neither Ctrl-C nor our end reaches it.
fn start_once(
    layout: &Layout,
    binaries: &Binaries,
    user: &OperatingUser,
) -> Result<(), ClusterError> {
    let log = layout.log_file();
    let mark = LogMark::at_end_of(&log);
    let mut pg_ctl = user.command(&binaries.program("pg_ctl"));
    pg_ctl
        .args(["start", "-w", "-s", "-t", START_SECONDS, "-D"])
        .arg(&layout.server)
        .arg("-l")
        .arg(&log);
    programs::run(&mut pg_ctl, Some(mark))
}

/// The port of last time if it is free, else any that is.
fn choose_port(layout: &Layout, avoid: Option<u16>) -> Result<u16, ClusterError> {
    let last = fs::read_to_string(&layout.port)
        .ok()
        .and_then(|text| text.trim().parse::<u16>().ok())
        .filter(|port| *port != 0 && Some(*port) != avoid)
        .filter(|port| TcpListener::bind((Ipv4Addr::LOCALHOST, *port)).is_ok());
    if let Some(port) = last {
        return Ok(port);
    }
    TcpListener::bind((Ipv4Addr::LOCALHOST, 0))
        .and_then(|listener| listener.local_addr())
        .map(|address| address.port())
        .map_err(|error| ClusterError::System {
            action: "find a free port on 127.0.0.1",
            reason: error.to_string(),
        })
}

/// A socket's lock file names a process too, and would block a start as a stale pid file does. The
/// folder is ours alone, and no server of ours runs.
fn clear_sockets(folder: &Path) -> Result<(), ClusterError> {
    let entries = fs::read_dir(folder).map_err(ClusterError::file("read", folder))?;
    for entry in entries.flatten() {
        let name = entry.file_name();
        if name.to_string_lossy().starts_with(".s.PGSQL.") {
            let path = entry.path();
            fs::remove_file(&path).map_err(ClusterError::file("remove", &path))?;
        }
    }
    Ok(())
}

fn set_log_aside(layout: &Layout) {
    let log = layout.log_file();
    if fs::metadata(&log).is_ok_and(|metadata| metadata.len() > LONGEST_LOG) {
        // A log that stays long is no reason not to start.
        let _ = fs::rename(&log, log.with_extension("log.old"));
    }
}
