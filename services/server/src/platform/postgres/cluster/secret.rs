use std::fs;
use std::io::ErrorKind;
use std::path::Path;

use rand::TryRngCore;
use rand::rngs::OsRng;

use super::ClusterError;
use super::layout::replace_file;
use super::operating_user::OperatingUser;

/// As many random bits as the hash the password is stored under.
const PASSWORD_BYTES: usize = 32;

/// `None` if there is no such file yet.
pub(super) fn read(file: &Path) -> Result<Option<String>, ClusterError> {
    match fs::read_to_string(file) {
        Ok(text) => Ok(Some(text.trim().to_owned())),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        Err(error) => Err(ClusterError::file("read", file)(error)),
    }
}

/// The password in `file`, which is made on first use.
pub(super) fn read_or_create(file: &Path, user: &OperatingUser) -> Result<String, ClusterError> {
    if let Some(password) = read(file)? {
        return Ok(password);
    }
    let password = random_text(PASSWORD_BYTES)?;
    replace_file(file, &password, user)?;
    Ok(password)
}

/// Lower-case hexadecimal digits, two a byte.
pub(super) fn random_text(bytes: usize) -> Result<String, ClusterError> {
    let mut buffer = vec![0_u8; bytes];
    OsRng
        .try_fill_bytes(&mut buffer)
        .map_err(|error| ClusterError::System {
            action: "draw random bytes",
            reason: error.to_string(),
        })?;
    Ok(buffer.iter().map(|byte| format!("{byte:02x}")).collect())
}
