use std::env;
use std::net::TcpStream;
use std::os::unix::net::UnixStream;

use testcontainers::core::IntoContainerPort;
use testcontainers::runners::AsyncRunner;
use testcontainers::{ContainerAsync, GenericImage, ImageExt, TestcontainersError};
use uuid::Uuid;

use super::janitor::Janitor;
use super::{Address, HarnessError, Hold, Server};

const USUAL_SOCKET: &str = "/var/run/docker.sock";
const PORT: u16 = 5432;
/// A container takes connections only once its own first start is over.
const ATTEMPTS: u32 = 300;

/// Removes the container when this process is gone, however it went.
const REMOVE: &str = "cat >/dev/null; docker rm --force --volumes \"$1\"";

/// A container, and whoever removes it.
pub(super) struct Running {
    _container: ContainerAsync<GenericImage>,
    _janitor: Janitor,
}

/// Asks the socket alone, so that an absent engine costs nothing.
pub(super) fn engine_answers() -> bool {
    match env::var("DOCKER_HOST") {
        Ok(host) => {
            if let Some(path) = host.strip_prefix("unix://") {
                UnixStream::connect(path).is_ok()
            } else if let Some(address) = host.strip_prefix("tcp://") {
                TcpStream::connect(address).is_ok()
            } else {
                false
            }
        }
        Err(_) => UnixStream::connect(USUAL_SOCKET).is_ok(),
    }
}

pub(super) async fn start() -> Result<Server, HarnessError> {
    let password = Uuid::now_v7().simple().to_string();
    let container = GenericImage::new("postgres", "15")
        .with_exposed_port(PORT.tcp())
        .with_env_var("POSTGRES_PASSWORD", &password)
        .with_cmd([
            "postgres",
            "-c",
            "fsync=off",
            "-c",
            "synchronous_commit=off",
            "-c",
            "full_page_writes=off",
            "-c",
            "max_connections=200",
        ])
        .start()
        .await
        .map_err(failed)?;
    let administrator = Address {
        host: container.get_host().await.map_err(failed)?.to_string(),
        port: container.get_host_port_ipv4(PORT).await.map_err(failed)?,
        user: "postgres".to_owned(),
        password,
    };
    let janitor = Janitor::start(REMOVE, &[container.id().as_ref()])?;
    wait_for(&administrator).await?;
    Ok(Server {
        administrator,
        maintenance: "postgres".to_owned(),
        freshly_started: true,
        _hold: Hold::Container(Box::new(Running {
            _container: container,
            _janitor: janitor,
        })),
    })
}

async fn wait_for(administrator: &Address) -> Result<(), HarnessError> {
    let mut attempts = 0;
    loop {
        match administrator.connect("postgres").await {
            Ok(_) => return Ok(()),
            Err(error) if attempts == ATTEMPTS => {
                return Err(HarnessError::database("reach the container")(error));
            }
            Err(_) => attempts += 1,
        }
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
}

fn failed(error: TestcontainersError) -> HarnessError {
    HarnessError::Container {
        reason: error.to_string(),
    }
}
