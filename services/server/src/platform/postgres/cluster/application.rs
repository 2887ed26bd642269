use tokio_postgres::{Client, NoTls};

use super::{Cluster, ClusterError, ConnectionParameters, secret};

/// Name of the application's role and of its database.
const APPLICATION: &str = "wearbook";

/// Keeps the statements that carry a password out of the server's log, even when they fail.
const DISCREET: &str = "SET log_statement = 'none'; SET log_min_error_statement = 'panic'; \
                        SET log_min_duration_statement = -1; SET log_min_duration_sample = -1";

/// Makes the role and the database `wearbook` where they are missing, and gives back the URL to
/// reach them by. It contains the password.
///
/// The role is an ordinary one: row-level security binds it (with `FORCE`, on tables it owns).
/// Its password is drawn at random and kept in the data folder. Call it inside a Tokio runtime.
///
/// # Errors
/// If the password file cannot be read or written, or the server refuses a step.
pub async fn ensure_application_database(cluster: &Cluster) -> Result<String, ClusterError> {
    let saved = secret::read(&cluster.layout.application_password)?;
    if let Some(password) = saved {
        let parameters = application(cluster, password);
        // The usual case costs one connection.
        if connect(&parameters, APPLICATION).await.is_ok() {
            return Ok(parameters.url(APPLICATION));
        }
    }
    let password = secret::read_or_create(&cluster.layout.application_password, &cluster.user)?;
    let administrator = connect(cluster.connection(), "postgres")
        .await
        .map_err(failed("connect to the private PostgreSQL server"))?;
    ensure_role(&administrator, &password)
        .await
        .map_err(failed("make the application's role"))?;
    ensure_database(&administrator)
        .await
        .map_err(failed("make the application's database"))?;
    Ok(application(cluster, password).url(APPLICATION))
}

/// The password is hexadecimal, so it needs no quoting beyond its quotes.
async fn ensure_role(client: &Client, password: &str) -> Result<(), tokio_postgres::Error> {
    client.batch_execute(DISCREET).await?;
    let verb = if exists(client, "SELECT FROM pg_roles WHERE rolname = $1").await? {
        "ALTER"
    } else {
        "CREATE"
    };
    client
        .batch_execute(&format!(
            "{verb} ROLE {APPLICATION} LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION \
             NOBYPASSRLS PASSWORD '{password}'"
        ))
        .await
}

async fn ensure_database(client: &Client) -> Result<(), tokio_postgres::Error> {
    if exists(client, "SELECT FROM pg_database WHERE datname = $1").await? {
        return Ok(());
    }
    client
        .batch_execute(&format!(
            "CREATE DATABASE {APPLICATION} OWNER {APPLICATION}"
        ))
        .await?;
    client
        .batch_execute(&format!("REVOKE ALL ON DATABASE {APPLICATION} FROM PUBLIC"))
        .await
}

async fn exists(client: &Client, query: &str) -> Result<bool, tokio_postgres::Error> {
    Ok(client.query_opt(query, &[&APPLICATION]).await?.is_some())
}

fn application(cluster: &Cluster, password: String) -> ConnectionParameters {
    ConnectionParameters {
        user: APPLICATION.to_owned(),
        password,
        ..cluster.connection().clone()
    }
}

async fn connect(
    parameters: &ConnectionParameters,
    database: &str,
) -> Result<Client, tokio_postgres::Error> {
    let (client, connection) = parameters.config(database).connect(NoTls).await?;
    // It ends when the client is dropped; an error reaches the client's next call.
    tokio::spawn(connection);
    Ok(client)
}

fn failed(action: &'static str) -> impl FnOnce(tokio_postgres::Error) -> ClusterError {
    move |source| ClusterError::Database { action, source }
}
