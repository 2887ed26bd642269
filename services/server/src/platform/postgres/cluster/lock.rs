use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::os::unix::fs::OpenOptionsExt;

use super::ClusterError;
use super::layout::{Layout, hand_over_open};
use super::operating_user::OperatingUser;

/// Held as long as the file is open; the kernel lets go of it when we die, however that happens.
pub(super) fn take(layout: &Layout, user: &OperatingUser) -> Result<File, ClusterError> {
    let failed = |action| ClusterError::file(action, &layout.lock);
    let mut file = OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .mode(0o600)
        .open(&layout.lock)
        .map_err(failed("open"))?;
    hand_over_open(&file, user).map_err(failed("hand over"))?;
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => {
            let mut text = String::new();
            // Only for the message: without it the holder goes unnamed.
            let _ = file.read_to_string(&mut text);
            return Err(ClusterError::InUse {
                data: layout.data.clone(),
                holder: text.trim().parse().ok(),
            });
        }
        Err(TryLockError::Error(error)) => return Err(failed("lock")(error)),
    }
    let sign = |file: &mut File| {
        file.set_len(0)?;
        file.rewind()?;
        writeln!(file, "{}", std::process::id())
    };
    sign(&mut file).map_err(failed("write"))?;
    Ok(file)
}
