use std::path::Path;
use std::{fs, io};

use sha2::{Digest, Sha256};
use tokio_postgres::Client;
use wearbook::platform::postgres::{migrate, migration_names};

use super::{Address, HarnessError};

/// Begins the name of every template; the digest of the migrations follows.
const PREFIX: &str = "wearbook_template_";
/// Begins the name of every test's database.
const TEST_PREFIX: &str = "t_";
/// Any number, the same in all processes: one of them makes roles and templates, the others wait.
const LOCK: i64 = 0x7765_6172_7465_7374;

/// Makes sure that there is a template with the present migrations, and gives back its name.
/// `administrator` is connected as the role that makes databases, `application` will own them.
pub(super) async fn ensure(
    administrator: &Client,
    application: &Address,
    sweep_first: bool,
) -> Result<String, HarnessError> {
    let name = format!("{PREFIX}{}", migrations_digest());
    if sweep_first {
        sweep(administrator, &name).await?;
    }
    let found = administrator
        .query_opt(
            "SELECT datistemplate FROM pg_database WHERE datname = $1",
            &[&name],
        )
        .await
        .map_err(HarnessError::database("look for the template"))?
        .map(|row| row.get::<_, bool>(0));
    match found {
        Some(true) => return Ok(name),
        // Its maker did not get to the end.
        Some(false) => drop_database(administrator, &name).await?,
        None => {}
    }
    let owner = &application.user;
    administrator
        .batch_execute(&format!("CREATE DATABASE {name} OWNER \"{owner}\""))
        .await
        .map_err(HarnessError::database("make the template"))?;
    migrate(&application.url(&name))
        .await
        .map_err(|error| HarnessError::Migrations {
            reason: error.to_string(),
        })?;
    administrator
        .batch_execute(&format!(
            "ALTER DATABASE {name} WITH IS_TEMPLATE true ALLOW_CONNECTIONS false"
        ))
        .await
        .map_err(HarnessError::database("close the template"))?;
    Ok(name)
}

/// Until `unlock`, or until the connection ends.
pub(super) async fn lock(administrator: &Client) -> Result<(), HarnessError> {
    administrator
        .execute("SELECT pg_advisory_lock($1)", &[&LOCK])
        .await
        .map(|_| ())
        .map_err(HarnessError::database("wait for other test processes"))
}

pub(super) async fn unlock(administrator: &Client) -> Result<(), HarnessError> {
    administrator
        .execute("SELECT pg_advisory_unlock($1)", &[&LOCK])
        .await
        .map(|_| ())
        .map_err(HarnessError::database("let other test processes go on"))
}

/// The default strategy copies through the log, much faster here than file by file.
pub(super) async fn clone(
    administrator: &Client,
    template: &str,
    owner: &str,
) -> Result<String, HarnessError> {
    let name = format!("{TEST_PREFIX}{}", uuid::Uuid::now_v7().simple());
    administrator
        .batch_execute(&format!(
            "CREATE DATABASE {name} TEMPLATE {template} OWNER \"{owner}\""
        ))
        .await
        .map_err(HarnessError::database("make a test's database"))?;
    Ok(name)
}

/// Ends its sessions too.
pub(super) async fn drop_database(administrator: &Client, name: &str) -> Result<(), HarnessError> {
    administrator
        .batch_execute(&format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)"))
        .await
        .map_err(HarnessError::database("drop a database"))
}

/// Removes what killed runs and earlier migrations left.
async fn sweep(administrator: &Client, keep: &str) -> Result<(), HarnessError> {
    let leftovers = administrator
        .query(
            "SELECT datname, datistemplate FROM pg_database \
             WHERE (starts_with(datname, $1) OR starts_with(datname, $2)) AND datname <> $3",
            &[&PREFIX, &TEST_PREFIX, &keep],
        )
        .await
        .map_err(HarnessError::database("look for leftovers"))?;
    for row in leftovers {
        let name: &str = row.get(0);
        if row.get(1) {
            administrator
                .batch_execute(&format!("ALTER DATABASE {name} WITH IS_TEMPLATE false"))
                .await
                .map_err(HarnessError::database("open an old template"))?;
        }
        drop_database(administrator, name).await?;
    }
    Ok(())
}

/// Over the names the binary knows and, where the sources are at hand, over the text, so that a
/// migration edited during development makes a new template.
fn migrations_digest() -> String {
    let mut digest = Sha256::new();
    for name in migration_names() {
        digest.update(name.as_bytes());
        digest.update([0]);
    }
    let sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations");
    // Without sources the names have to do.
    let _ = digest_folder(&sources, &mut digest);
    digest
        .finalize()
        .iter()
        .take(8)
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

fn digest_folder(folder: &Path, digest: &mut Sha256) -> io::Result<()> {
    let mut entries: Vec<_> = fs::read_dir(folder)?
        .collect::<io::Result<Vec<_>>>()?
        .into_iter()
        .map(|entry| entry.path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            digest_folder(&path, digest)?;
        } else {
            digest.update(fs::read(&path)?);
        }
        digest.update([0]);
    }
    Ok(())
}
