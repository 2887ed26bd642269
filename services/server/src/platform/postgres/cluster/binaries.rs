use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

use super::ClusterError;

/// The oldest release the migrations are tried on; `ClusterError::NoServerBinaries` names it too.
const MINIMUM_RELEASE: u32 = 15;

/// Folders whose children are named by release, each with the server programs below.
const RELEASE_FOLDERS: [(&str, &str); 2] = [("/usr/lib/postgresql", ""), ("/usr", "pgsql-")];

const PROGRAMS: [&str; 3] = ["initdb", "pg_ctl", "postgres"];

/// The folder that holds PostgreSQL's server programs.
#[derive(Debug, Clone)]
pub(super) struct Binaries {
    folder: PathBuf,
}

impl Binaries {
    /// Looks on `PATH`, then takes the newest installed release. An existing cluster (`server_folder`
    /// holds `PG_VERSION`) needs the release that wrote it.
    pub(super) fn find(server_folder: &Path) -> Result<Self, ClusterError> {
        let written_by = fs::read_to_string(server_folder.join("PG_VERSION")).ok();
        let search = env::var_os("PATH").unwrap_or_default();
        let candidates: Vec<(u32, PathBuf)> = on_path(&search)
            .into_iter()
            .chain(by_release())
            .filter_map(|folder| release_of(&folder).map(|release| (release, folder)))
            .filter(|(release, _)| *release >= MINIMUM_RELEASE)
            .collect();
        if candidates.is_empty() {
            return Err(ClusterError::NoServerBinaries);
        }
        let written_by = written_by.map(|text| text.trim().to_owned());
        candidates
            .into_iter()
            .find(|(release, _)| {
                written_by
                    .as_ref()
                    .is_none_or(|wanted| *wanted == release.to_string())
            })
            .map(|(_, folder)| Self { folder })
            .ok_or_else(|| ClusterError::WrongRelease {
                folder: server_folder.to_path_buf(),
                written_by: written_by.unwrap_or_default(),
            })
    }

    pub(super) fn program(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }
}

fn is_complete(folder: &Path) -> bool {
    PROGRAMS.iter().all(|name| folder.join(name).is_file())
}

fn on_path(search: &OsStr) -> Vec<PathBuf> {
    env::split_paths(search)
        .filter(|folder| folder.is_absolute() && is_complete(folder))
        .collect()
}

fn by_release() -> Vec<PathBuf> {
    let mut found: Vec<(u32, PathBuf)> = Vec::new();
    for (parent, prefix) in RELEASE_FOLDERS {
        let Ok(entries) = fs::read_dir(parent) else {
            continue;
        };
        for entry in entries.flatten() {
            let name = entry.file_name();
            let release = name
                .to_str()
                .and_then(|name| name.strip_prefix(prefix))
                .and_then(|digits| digits.parse().ok());
            let folder = entry.path().join("bin");
            if let Some(release) = release
                && is_complete(&folder)
            {
                found.push((release, folder));
            }
        }
    }
    found.sort_by_key(|(release, _)| std::cmp::Reverse(*release));
    found.into_iter().map(|(_, folder)| folder).collect()
}

/// The major release, from `postgres (PostgreSQL) 15.18 (Debian ..)`.
fn release_of(folder: &Path) -> Option<u32> {
    let output = Command::new(folder.join("postgres"))
        .arg("--version")
        .env_clear()
        .output()
        .ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let version = text.split_once("(PostgreSQL) ")?.1;
    let digits: String = version
        .chars()
        .take_while(|character| character.is_ascii_digit())
        .collect();
    digits.parse().ok()
}
