use std::fmt;
use std::path::PathBuf;

use tokio_postgres::Config;

/// How to reach the server: a Unix socket in a folder closed to other users, and a password besides.
/// The same password works over TCP on `127.0.0.1` and the same port.
#[derive(Clone, PartialEq, Eq)]
pub struct ConnectionParameters {
    /// Holds the socket `.s.PGSQL.<port>`.
    pub socket_dir: PathBuf,
    /// Also the TCP port on the loopback address.
    pub port: u16,
    /// Name of the role.
    pub user: String,
    /// Kept out of `Debug`; mind where a URL made from it goes.
    pub password: String,
}

impl ConnectionParameters {
    /// A URL with the socket's folder percent-encoded in place of the host, as libpq and
    /// tokio-postgres read it. It contains the password: never log it.
    #[must_use]
    pub fn url(&self, database: &str) -> String {
        format!(
            "postgresql://{}:{}@{}:{}/{}",
            percent_encoded(&self.user),
            percent_encoded(&self.password),
            percent_encoded(&self.socket_dir.to_string_lossy()),
            self.port,
            percent_encoded(database),
        )
    }

    /// The same as [`Self::url`] for tokio-postgres, without a detour over text.
    #[must_use]
    pub fn config(&self, database: &str) -> Config {
        let mut config = Config::new();
        config
            .host_path(&self.socket_dir)
            .port(self.port)
            .user(&self.user)
            .password(&self.password)
            .dbname(database);
        config
    }
}

impl fmt::Debug for ConnectionParameters {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter
            .debug_struct("ConnectionParameters")
            .field("socket_dir", &self.socket_dir)
            .field("port", &self.port)
            .field("user", &self.user)
            .finish_non_exhaustive()
    }
}

fn percent_encoded(text: &str) -> String {
    let mut encoded = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.' | b'~') {
            encoded.push(char::from(byte));
        } else {
            encoded.push_str(&format!("%{byte:02X}"));
        }
    }
    encoded
}
