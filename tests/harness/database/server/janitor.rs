use std::ffi::OsStr;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use super::HarnessError;

/// A shell that waits for the end of its input, which comes when this process ends in whatever
/// way, and tidies up then.
pub(super) struct Janitor {
    /// Keeps the input open. Never waited for: it outlives us.
    _shell: Child,
}

impl Janitor {
    /// `script` begins by reading its input to the end. Its words are `$1` and on.
    pub(super) fn start(script: &str, words: &[&OsStr]) -> Result<Self, HarnessError> {
        let shell = Path::new("/bin/sh");
        Command::new(shell)
            .arg("-c")
            .arg(script)
            .arg("janitor")
            .args(words)
            .current_dir("/")
            .stdin(Stdio::piped())
            // An inherited output would keep whoever runs the tests waiting.
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            // Ctrl-C ends the tests, not the tidying.
            .process_group(0)
            .spawn()
            .map(|child| Self { _shell: child })
            .map_err(|source| HarnessError::File {
                action: "run",
                path: shell.to_path_buf(),
                source,
            })
    }
}
