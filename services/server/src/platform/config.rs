//! Settings by flags and environment. The environment variables stand in `--help`.

use std::path::PathBuf;

/// Where a private PostgreSQL cluster keeps its files when nothing is said: a system folder for root, the user's own else.
#[must_use]
pub fn default_data_folder() -> PathBuf {
    if nix::unistd::geteuid().is_root() {
        return PathBuf::from("/var/lib/wearbook");
    }
    std::env::var_os("XDG_DATA_HOME")
        .map(PathBuf::from)
        .or_else(|| std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".local/share")))
        .unwrap_or_else(std::env::temp_dir)
        .join("wearbook")
}
