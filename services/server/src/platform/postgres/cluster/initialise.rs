use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::Path;

use super::binaries::Binaries;
use super::layout::{Layout, create_private_folder};
use super::operating_user::OperatingUser;
use super::{ADMINISTRATOR, ClusterConfig, ClusterError, programs, secret, settings};

/// Where a cluster grows before it gets its name; a random ending follows.
const UNFINISHED: &str = "postgres.unfinished-";

/// Makes the cluster unless it is there; says whether it did.
///
/// It grows under another name and is renamed when complete, so an `initdb` cut short leaves
/// nothing that looks like a cluster. Leftovers are cleared away by the next attempt. Their names
/// differ, since an orphaned `initdb` may still be at work in the last one.
pub(super) fn unless_present(
    config: &ClusterConfig,
    layout: &Layout,
    binaries: &Binaries,
    user: &OperatingUser,
) -> Result<bool, ClusterError> {
    if layout.server.join("PG_VERSION").exists() {
        if !layout.password.exists() {
            return Err(ClusterError::PasswordMissing {
                file: layout.password.clone(),
            });
        }
        return Ok(false);
    }
    clear_leftovers(&layout.data);
    secret::read_or_create(&layout.password, user)?;
    let unfinished = layout
        .data
        .join(format!("{UNFINISHED}{}", secret::random_text(4)?));
    create_private_folder(&unfinished, user)?;
    let mut initdb = user.command(&binaries.program("initdb"));
    initdb
        .arg("--pgdata")
        .arg(&unfinished)
        .arg("--pwfile")
        .arg(&layout.password)
        .args(["--username", ADMINISTRATOR])
        .args(["--auth", "scram-sha-256"])
        .args(["--encoding", "UTF8", "--locale", "C"])
        .args(["--data-checksums", "--no-instructions"]);
    if !config.durable {
        initdb.arg("--no-sync");
    }
    programs::run(&mut initdb, None)?;
    include_settings(&unfinished)?;
    fs::rename(&unfinished, &layout.server).map_err(ClusterError::file("name", &unfinished))?;
    if config.durable {
        File::open(&layout.data)
            .and_then(|folder| folder.sync_all())
            .map_err(ClusterError::file("write out", &layout.data))?;
    }
    Ok(true)
}

fn include_settings(server: &Path) -> Result<(), ClusterError> {
    let file = server.join("postgresql.conf");
    let append = || {
        let mut handle = OpenOptions::new().append(true).open(&file)?;
        writeln!(handle, "\ninclude_if_exists = '{}'", settings::FILE)?;
        handle.sync_all()
    };
    append().map_err(ClusterError::file("write", &file))
}

fn clear_leftovers(data: &Path) {
    let Ok(entries) = fs::read_dir(data) else {
        return;
    };
    for entry in entries.flatten() {
        if entry.file_name().to_string_lossy().starts_with(UNFINISHED) {
            // What cannot be removed now only takes room, and is tried again next time.
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}
