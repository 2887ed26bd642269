use std::io::ErrorKind;
use std::os::unix::fs::MetadataExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

use nix::unistd::{Uid, User, geteuid};

use super::ClusterError;

/// Preferred in this order when root owns the data folder.
const SERVICE_USERS: [&str; 2] = ["postgres", "nobody"];

/// What of our environment PostgreSQL's programs get to see; secrets stay with us.
const PASSED_ON: [&str; 2] = ["PATH", "LD_LIBRARY_PATH"];

/// The user PostgreSQL runs under: ourselves, unless we are root.
#[derive(Debug, Clone)]
pub(super) struct OperatingUser {
    uid: u32,
    gid: u32,
    name: String,
    /// We are root and step down to this user.
    lesser: bool,
}

impl OperatingUser {
    /// `folders` are asked for their owner in turn; those that do not exist are passed over.
    pub(super) fn choose(folders: &[&Path]) -> Result<Self, ClusterError> {
        let me = geteuid();
        if !me.is_root() {
            return Ok(Self {
                uid: me.as_raw(),
                gid: nix::unistd::getegid().as_raw(),
                name: name_of(me.as_raw())?,
                lesser: false,
            });
        }
        for folder in folders {
            if let Ok(metadata) = fs::symlink_metadata(folder)
                && metadata.uid() != 0
            {
                let user = user_of(metadata.uid())?;
                return Ok(Self {
                    uid: metadata.uid(),
                    gid: user.map_or(metadata.gid(), |user| user.gid.as_raw()),
                    name: name_of(metadata.uid())?,
                    lesser: true,
                });
            }
        }
        for name in SERVICE_USERS {
            if let Some(user) = User::from_name(name).map_err(lookup_failed)? {
                return Ok(Self {
                    uid: user.uid.as_raw(),
                    gid: user.gid.as_raw(),
                    name: user.name,
                    lesser: true,
                });
            }
        }
        Err(ClusterError::NoOperatingUser)
    }

    pub(super) fn uid(&self) -> u32 {
        self.uid
    }

    pub(super) fn gid(&self) -> u32 {
        self.gid
    }

    /// Whether files we make have to be handed over.
    pub(super) fn is_lesser(&self) -> bool {
        self.lesser
    }

    /// A command that will run as this user, in a place every user may be, with next to no environment.
    pub(super) fn command(&self, program: &Path) -> Command {
        let mut command = Command::new(program);
        command.env_clear().env("LC_ALL", "C").current_dir("/");
        for name in PASSED_ON {
            if let Some(value) = env::var_os(name) {
                command.env(name, value);
            }
        }
        if self.lesser {
            command.uid(self.uid).gid(self.gid);
        }
        command
    }

    /// Checks that this user reaches `data` through all its parents. `program` is any harmless
    /// program: it is run there to settle what the mode bits alone leave open (access lists).
    pub(super) fn check_passage(&self, data: &Path, program: &Path) -> Result<(), ClusterError> {
        if !self.lesser {
            return Ok(());
        }
        let Some(closed) = self.closed_folder(data) else {
            return Ok(());
        };
        let attempt = self
            .command(program)
            .arg("--version")
            .current_dir(data)
            .output();
        match attempt {
            Err(error) if error.kind() == ErrorKind::PermissionDenied => {
                Err(ClusterError::NotTraversable {
                    folder: closed,
                    data: data.to_path_buf(),
                    user: self.name.clone(),
                })
            }
            _ => Ok(()),
        }
    }

    /// The outermost folder whose mode does not let this user through.
    fn closed_folder(&self, data: &Path) -> Option<PathBuf> {
        let mut ancestors: Vec<&Path> = data.ancestors().collect();
        ancestors.reverse();
        ancestors
            .into_iter()
            .find(|folder| {
                fs::metadata(folder).is_ok_and(|metadata| {
                    let needed = if metadata.uid() == self.uid {
                        0o100
                    } else if metadata.gid() == self.gid {
                        0o010
                    } else {
                        0o001
                    };
                    metadata.mode() & needed == 0
                })
            })
            .map(Path::to_path_buf)
    }
}

fn user_of(uid: u32) -> Result<Option<User>, ClusterError> {
    User::from_uid(Uid::from_raw(uid)).map_err(lookup_failed)
}

fn name_of(uid: u32) -> Result<String, ClusterError> {
    Ok(user_of(uid)?.map_or_else(|| format!("number {uid}"), |user| user.name))
}

fn lookup_failed(error: nix::Error) -> ClusterError {
    ClusterError::System {
        action: "look up the user to run PostgreSQL under",
        reason: error.to_string(),
    }
}
