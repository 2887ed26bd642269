use std::fs::{self, File};
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;
use std::process::{Command, Stdio};

use super::ClusterError;

/// How much of a log is worth showing.
const SHOWN_BYTES: u64 = 2_000;

/// Runs one of PostgreSQL's programs to its end; what it said comes back if it failed.
pub(super) fn run(command: &mut Command, log: Option<LogMark<'_>>) -> Result<(), ClusterError> {
    let path = Path::new(command.get_program()).to_path_buf();
    let output = command
        .stdin(Stdio::null())
        .output()
        .map_err(ClusterError::file("run", &path))?;
    if output.status.success() {
        return Ok(());
    }
    let mut said = String::from_utf8_lossy(&output.stderr).trim().to_owned();
    if let Some(log) = log {
        said.push('\n');
        said.push_str(log.since().trim());
    }
    let program = path.file_name().unwrap_or_default().to_string_lossy();
    Err(ClusterError::ProgramFailed {
        program: program.into_owned(),
        status: output.status.to_string(),
        output: said,
    })
}

/// A place in the server's log, to quote what came after it.
#[derive(Debug, Clone, Copy)]
pub(super) struct LogMark<'log> {
    file: &'log Path,
    length: u64,
}

impl<'log> LogMark<'log> {
    pub(super) fn at_end_of(file: &'log Path) -> Self {
        Self {
            file,
            length: fs::metadata(file).map_or(0, |metadata| metadata.len()),
        }
    }

    /// The last lines written since; empty if the log cannot be read, for it only illustrates.
    fn since(self) -> String {
        let read = || -> std::io::Result<Vec<u8>> {
            let mut file = File::open(self.file)?;
            let end = file.metadata()?.len();
            file.seek(SeekFrom::Start(
                self.length.max(end.saturating_sub(SHOWN_BYTES)),
            ))?;
            let mut bytes = Vec::new();
            file.take(SHOWN_BYTES).read_to_end(&mut bytes)?;
            Ok(bytes)
        };
        read().map_or_else(
            |_| String::new(),
            |bytes| String::from_utf8_lossy(&bytes).into_owned(),
        )
    }
}
