//! Which database a command works on: the one that the environment names, or a private one in the data folder.

use super::CommandError;
use crate::catalogue::synchronise;
use crate::platform::config::default_data_folder;
use crate::platform::postgres::cluster::{
    Cluster, ClusterConfig, Origin, ensure_application_database,
};
use crate::platform::postgres::{MigrationSummary, Pool, migrate};
use clap::Args;
use std::path::PathBuf;

/// Where the data are.
#[derive(Debug, Clone, Args)]
pub struct DatabaseOptions {
    /// Folder of the private PostgreSQL server. Not used when WEARBOOK_DATABASE_URL or DATABASE_URL is set.
    #[arg(long, env = "WEARBOOK_DATA", value_name = "DIR")]
    pub data: Option<PathBuf>,
}

/// A database that can be reached, and the server behind it when it is ours.
pub struct Database {
    /// Where it is; holds a password, so it is never printed.
    pub url: String,
    cluster: Option<Cluster>,
}

impl Database {
    /// Finds or starts the database. `folder` is the name below the default data folder.
    ///
    /// # Errors
    /// When the private server cannot be started; the text says what to install or change.
    pub fn open(options: &DatabaseOptions, folder: &str) -> Result<Self, CommandError> {
        let named = ["WEARBOOK_DATABASE_URL", "DATABASE_URL"]
            .into_iter()
            .find_map(|name| {
                std::env::var(name)
                    .ok()
                    .filter(|url| !url.is_empty())
                    .map(|url| (name, url))
            });
        if let Some((name, url)) = named {
            eprintln!("database: the one that {name} names");
            return Ok(Self { url, cluster: None });
        }
        let data = options
            .data
            .clone()
            .unwrap_or_else(|| default_data_folder().join(folder));
        let cluster = Cluster::start(&ClusterConfig {
            data: data.clone(),
            durable: true,
            max_connections: 40,
        })?;
        let how = match cluster.origin() {
            Origin::Created => "made",
            Origin::Started => "started",
            Origin::TakenOver => "taken over from a run that ended without stopping it",
        };
        eprintln!("database: private PostgreSQL in {}, {how}", data.display());
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        let url = runtime.block_on(ensure_application_database(&cluster))?;
        Ok(Self {
            url,
            cluster: Some(cluster),
        })
    }

    /// Connections, after the schema and the catalogue were brought up to date.
    ///
    /// # Errors
    /// When the database is away or its schema is newer than this program.
    pub async fn prepare(
        &self,
        connections: usize,
    ) -> Result<(Pool, MigrationSummary), CommandError> {
        let summary = migrate(&self.url).await?;
        let pool = Pool::new(&self.url, connections)?;
        synchronise(&pool).await?;
        Ok((pool, summary))
    }

    /// Stops the server if it is ours.
    ///
    /// # Errors
    /// When PostgreSQL does not stop.
    pub fn close(self) -> Result<(), CommandError> {
        if let Some(cluster) = self.cluster {
            cluster.stop()?;
        }
        Ok(())
    }
}
