use std::fs;
use std::io::ErrorKind;
use std::path::Path;

use super::ClusterError;
use super::layout::{Layout, replace_file};
use super::operating_user::OperatingUser;

/// Linux never gives out a process number this high.
const NOBODYS_PID: &str = "2147483647";

/// What `postmaster.pid` and the process it names say together.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Postmaster {
    /// No such file: nothing runs, nothing crashed.
    Absent,
    /// The file names no process, a dead one, a zombie, or somebody else's.
    Stale,
    /// Ours, and the port it listens on.
    Ready { port: u16 },
    /// Ours, on its way up or down.
    Changing,
}

/// The server works in its own folder, which tells it from a stranger who was given its number.
/// A zombie has no working folder any more.
pub(super) fn observe(layout: &Layout) -> Result<Postmaster, ClusterError> {
    let file = layout.pid_file();
    let text = match fs::read_to_string(&file) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Postmaster::Absent),
        Err(error) => return Err(ClusterError::file("read", &file)(error)),
    };
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let Some(pid) = lines.first().and_then(|line| line.parse::<u32>().ok()) else {
        return Ok(Postmaster::Stale);
    };
    if !works_in(pid, &layout.server) {
        return Ok(Postmaster::Stale);
    }
    let port = lines.get(3).and_then(|line| line.parse().ok());
    Ok(match (lines.get(7), port) {
        (Some(&"ready"), Some(port)) => Postmaster::Ready { port },
        _ => Postmaster::Changing,
    })
}

/// Makes a stale file harmless. A server refuses to start while the named process exists, be it a
/// zombie or a stranger. Only the number is changed: the rest leads the next server to the shared
/// memory of a dead postmaster's surviving children, whom it must not overtake.
pub(super) fn retire(layout: &Layout, user: &OperatingUser) -> Result<(), ClusterError> {
    let file = layout.pid_file();
    let text = fs::read_to_string(&file).map_err(ClusterError::file("read", &file))?;
    match text.split_once('\n') {
        Some((_, rest)) if !rest.trim().is_empty() => {
            replace_file(&file, &format!("{NOBODYS_PID}\n{rest}"), user)
        }
        _ => fs::remove_file(&file).map_err(ClusterError::file("remove", &file)),
    }
}

fn works_in(pid: u32, folder: &Path) -> bool {
    fs::read_link(format!("/proc/{pid}/cwd")).is_ok_and(|working| working == folder)
}
