use std::fmt;

use tokio_postgres::config::Host;
use tokio_postgres::{Client, Config, NoTls};

use super::HarnessError;

/// A server and a role on it.
#[derive(Clone)]
pub(super) struct Address {
    /// A name, a number, or the folder of a Unix socket.
    pub(super) host: String,
    pub(super) port: u16,
    pub(super) user: String,
    pub(super) password: String,
}

impl Address {
    /// Reads a URL, and the database it names.
    pub(super) fn parse(url: &str) -> Result<(Self, Option<String>), HarnessError> {
        let unusable = |reason: &str| HarnessError::Url {
            reason: reason.to_owned(),
        };
        let config: Config = url
            .parse()
            .map_err(|error: tokio_postgres::Error| unusable(&error.to_string()))?;
        let host = match config.get_hosts().first() {
            Some(Host::Tcp(name)) => name.clone(),
            Some(Host::Unix(folder)) => folder.to_string_lossy().into_owned(),
            None => return Err(unusable("it names no host")),
        };
        let user = config
            .get_user()
            .ok_or_else(|| unusable("it names no user"))?;
        let password = config.get_password().unwrap_or_default();
        let address = Self {
            host,
            port: config.get_ports().first().copied().unwrap_or(5432),
            user: user.to_owned(),
            password: String::from_utf8_lossy(password).into_owned(),
        };
        Ok((address, config.get_dbname().map(str::to_owned)))
    }

    pub(super) fn url(&self, database: &str) -> String {
        format!(
            "postgresql://{}:{}@{}:{}/{}",
            encoded(&self.user),
            encoded(&self.password),
            encoded(&self.host),
            self.port,
            encoded(database),
        )
    }

    /// Call it inside a runtime, which will drive the connection.
    pub(super) async fn connect(&self, database: &str) -> Result<Client, tokio_postgres::Error> {
        let (client, connection) = tokio_postgres::connect(&self.url(database), NoTls).await?;
        tokio::spawn(connection);
        Ok(client)
    }
}

impl fmt::Debug for Address {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}@{}:{}", self.user, self.host, self.port)
    }
}

fn encoded(text: &str) -> String {
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
