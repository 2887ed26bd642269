//! `wearbook serve`: the service, until it is told to stop.

use super::database::{Database, DatabaseOptions};
use super::{CommandError, Exit};
use crate::app::Shared;
use crate::platform::http::middleware::surround;
use crate::platform::postgres::Pool;
use crate::platform::telemetry;
use crate::worker::Worker;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceFactory, ServiceRequest, ServiceResponse};
use actix_web::middleware::{Compress, from_fn};
use actix_web::{App, HttpServer};
use clap::Args;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};

/// Where the data are and where to listen.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: wearbook serve --port 8080 --data /var/lib/wearbook\n\
    The first account and token: wearbook admin account and wearbook admin token (see there)."
)]
pub struct ServeOptions {
    #[command(flatten)]
    database: DatabaseOptions,
    #[command(flatten)]
    listen: ListenOptions,
}

/// Where to listen.
#[derive(Debug, Clone, Args)]
pub struct ListenOptions {
    /// Port on the loopback address.
    #[arg(long, env = "WEARBOOK_PORT", default_value_t = 8080)]
    pub port: u16,
    /// Address to listen on. Anything but loopback belongs behind a proxy that adds TLS.
    #[arg(long, env = "WEARBOOK_ADDRESS", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    pub address: IpAddr,
}

/// Connections of the request handlers: twice the cores and one.
pub fn connections() -> usize {
    std::thread::available_parallelism().map_or(2, usize::from) * 2 + 1
}

/// Serves.
pub fn run(options: &ServeOptions) -> Result<Exit, CommandError> {
    telemetry::start();
    let database = Database::open(&options.database, "service")?;
    let outcome = actix_web::rt::System::new().block_on(async {
        let (pool, summary) = database.prepare(connections()).await?;
        if !summary.applied.is_empty() {
            eprintln!("schema: {} steps applied", summary.applied.len());
        }
        serve_until_stopped(&database.url, pool, &options.listen, |address| {
            eprintln!("ready: http://{address}");
        })
        .await
    });
    database.close()?;
    outcome?;
    Ok(Exit::Done)
}

/// The application with all that surrounds a request, as every worker thread and every test runs it.
pub fn application(
    shared: &Shared,
) -> App<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<impl MessageBody + use<>>,
        Error = actix_web::Error,
        InitError = (),
    > + use<>,
> {
    let shared = shared.clone();
    App::new()
        .wrap(Compress::default())
        .wrap(from_fn(surround))
        .configure(move |config| shared.configure(config))
}

/// Listens and works until SIGTERM or SIGINT. `ready` is told the address.
pub async fn serve_until_stopped(
    url: &str,
    pool: Pool,
    listen: &ListenOptions,
    ready: impl FnOnce(SocketAddr),
) -> Result<(), CommandError> {
    let shared = Shared::load(pool).await?;
    let address = SocketAddr::new(listen.address, listen.port);
    let server = HttpServer::new(move || application(&shared))
        .shutdown_timeout(10)
        .bind(address)
        .map_err(|error| {
            CommandError::Other(format!(
                "cannot listen on {address}: {error}; choose another with --port"
            ))
        })?;
    let bound = server.addrs().first().copied().unwrap_or(address);
    let worker = Worker::start(url)?;
    ready(bound);
    let outcome = server.run().await;
    worker.stop();
    Ok(outcome?)
}
