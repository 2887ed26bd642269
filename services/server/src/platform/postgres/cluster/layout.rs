use std::fs::{self, DirBuilder, File, OpenOptions, Permissions};
use std::io::{ErrorKind, Write};
use std::os::unix::fs::{
    DirBuilderExt, MetadataExt, OpenOptionsExt, PermissionsExt, fchown, lchown,
};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::ClusterError;
use super::operating_user::OperatingUser;
use super::secret;

/// Linux keeps the path of a socket in 108 bytes, the last of them zero.
const LONGEST_SOCKET_PATH: usize = 107;
/// The longest name PostgreSQL gives a socket, with the slash before it.
const LONGEST_SOCKET_NAME: &str = "/.s.PGSQL.65535";

/// Where everything lies in the data folder.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    pub(super) data: PathBuf,
    /// The server's own folder (`PGDATA`).
    pub(super) server: PathBuf,
    pub(super) sockets: PathBuf,
    pub(super) password: PathBuf,
    pub(super) application_password: PathBuf,
    pub(super) port: PathBuf,
    pub(super) lock: PathBuf,
    pub(super) logs: PathBuf,
}

impl Layout {
    /// Makes the data folder if need be; its parts follow in [`Self::furnish`].
    pub(super) fn in_folder(data: &Path) -> Result<Self, ClusterError> {
        create_data_folder(data)?;
        let data = fs::canonicalize(data).map_err(ClusterError::file("find", data))?;
        check_path(&data)?;
        Ok(Self {
            server: data.join("postgres"),
            sockets: socket_folder(&data),
            password: data.join("password"),
            application_password: data.join("application-password"),
            port: data.join("port"),
            lock: data.join("lock"),
            logs: data.join("log"),
            data,
        })
    }

    /// Makes the folders beside the server's own, or checks that they are ours.
    pub(super) fn furnish(&self, user: &OperatingUser) -> Result<(), ClusterError> {
        if let Ok(metadata) = fs::symlink_metadata(&self.server)
            && metadata.uid() != user.uid()
        {
            return Err(ClusterError::OwnedByAnother {
                folder: self.server.clone(),
                owner: metadata.uid(),
            });
        }
        create_private_folder(&self.logs, user)?;
        create_private_folder(&self.sockets, user)
    }

    pub(super) fn log_file(&self) -> PathBuf {
        self.logs.join("postgres.log")
    }

    pub(super) fn pid_file(&self) -> PathBuf {
        self.server.join("postmaster.pid")
    }
}

/// A folder only `user` (and root) may enter. One that exists must already be that.
pub(super) fn create_private_folder(
    folder: &Path,
    user: &OperatingUser,
) -> Result<(), ClusterError> {
    match DirBuilder::new().mode(0o700).create(folder) {
        Ok(()) => hand_over(folder, user),
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {
            let metadata =
                fs::symlink_metadata(folder).map_err(ClusterError::file("look at", folder))?;
            // Root may have been stopped between making the folder and handing it over.
            let ours = metadata.is_dir()
                && (metadata.uid() == user.uid() || (user.is_lesser() && metadata.uid() == 0));
            if !ours {
                return Err(ClusterError::SocketFolderTaken {
                    folder: folder.to_path_buf(),
                });
            }
            fs::set_permissions(folder, Permissions::from_mode(0o700))
                .map_err(ClusterError::file("close", folder))?;
            hand_over(folder, user)
        }
        Err(error) => Err(ClusterError::file("make", folder)(error)),
    }
}

/// Replaces `file` as a whole: readers and a crash see the old text or the new. The file is open
/// to `user` alone. Links are not followed, so that root may write into another user's folder.
pub(super) fn replace_file(
    file: &Path,
    text: &str,
    user: &OperatingUser,
) -> Result<(), ClusterError> {
    let mut name = file.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".{}", secret::random_text(4)?));
    let fresh = file.with_file_name(name);
    let write = || {
        let mut handle = OpenOptions::new()
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(&fresh)?;
        hand_over_open(&handle, user)?;
        handle.write_all(text.as_bytes())?;
        handle.sync_all()?;
        fs::rename(&fresh, file)
    };
    write().map_err(|error| {
        // The half-written file is of no use; the error that matters is the first.
        let _ = fs::remove_file(&fresh);
        ClusterError::file("write", file)(error)
    })
}

pub(super) fn hand_over_open(file: &File, user: &OperatingUser) -> std::io::Result<()> {
    if user.is_lesser() {
        fchown(file, Some(user.uid()), Some(user.gid()))?;
    }
    Ok(())
}

fn hand_over(folder: &Path, user: &OperatingUser) -> Result<(), ClusterError> {
    if user.is_lesser() {
        lchown(folder, Some(user.uid()), Some(user.gid()))
            .map_err(ClusterError::file("hand over", folder))?;
    }
    Ok(())
}

/// Folders made by root must let the operating user through whatever the umask; those of an
/// ordinary user concern nobody else.
fn create_data_folder(data: &Path) -> Result<(), ClusterError> {
    let mode = if nix::unistd::geteuid().is_root() {
        0o711
    } else {
        0o700
    };
    let mut missing: Vec<&Path> = data
        .ancestors()
        .take_while(|folder| !folder.as_os_str().is_empty() && !folder.exists())
        .collect();
    missing.reverse();
    for folder in missing {
        match fs::create_dir(folder) {
            Ok(()) => fs::set_permissions(folder, Permissions::from_mode(mode))
                .map_err(ClusterError::file("open up", folder))?,
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
            Err(error) => return Err(ClusterError::file("make", folder)(error)),
        }
    }
    Ok(())
}

fn check_path(data: &Path) -> Result<(), ClusterError> {
    let unusable = |rule| ClusterError::UnusablePath {
        path: data.to_path_buf(),
        rule,
    };
    let text = data.to_str().ok_or_else(|| unusable("valid UTF-8"))?;
    if text.chars().any(char::is_control) {
        return Err(unusable("free of control characters"));
    }
    // `pg_ctl` puts paths between double quotes and hands them to a shell.
    if text.contains(['"', '$', '`', '\\']) {
        return Err(unusable("free of the characters \" $ ` \\"));
    }
    Ok(())
}

fn socket_folder(data: &Path) -> PathBuf {
    let fits =
        |folder: &Path| folder.as_os_str().len() + LONGEST_SOCKET_NAME.len() <= LONGEST_SOCKET_PATH;
    let beside = data.join("run");
    if fits(&beside) {
        return beside;
    }
    let digest = Sha256::digest(data.as_os_str().as_encoded_bytes());
    let name: String = digest
        .iter()
        .take(8)
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let stand_in = std::env::temp_dir().join(format!("wearbook-{name}"));
    if fits(&stand_in) {
        stand_in
    } else {
        Path::new("/tmp").join(format!("wearbook-{name}"))
    }
}
