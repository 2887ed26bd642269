//! One thread of the process takes all orders for databases. It has a runtime of its own, because
//! each test brings another and takes it away, and one connection that outlives them all.

use std::sync::LazyLock;
use std::sync::mpsc::{Sender, channel};
use std::thread;
use std::time::Duration;

use sha2::{Digest, Sha256};
use tokio::sync::{mpsc, oneshot};
use tokio_postgres::Client;

use super::server::Server;
use super::{Address, HarnessError, template};

/// The role that owns the test databases, where we may make one.
const ROLE: &str = "wearbook_test";
/// Leaving a database behind is better than a test run that hangs.
const PATIENCE_WITH_REMOVAL: Duration = Duration::from_secs(10);

/// A database made to order.
pub(super) struct Made {
    pub(super) name: String,
    pub(super) application: Address,
    pub(super) administrator: Address,
}

enum Order {
    Create(oneshot::Sender<Result<Made, HarnessError>>),
    Remove(String, Sender<()>),
}

static ORDERS: LazyLock<mpsc::UnboundedSender<Order>> = LazyLock::new(|| {
    let (orders, incoming) = mpsc::unbounded_channel();
    thread::spawn(move || {
        // If there is no runtime, the orders go unanswered and each says so.
        if let Ok(runtime) = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(1)
            .enable_all()
            .build()
        {
            runtime.block_on(serve(incoming));
        }
    });
    orders
});

pub(super) async fn create() -> Result<Made, HarnessError> {
    let gone = || HarnessError::Desk("the thread that makes test databases is gone".to_owned());
    let (reply, answer) = oneshot::channel();
    ORDERS.send(Order::Create(reply)).map_err(|_| gone())?;
    answer.await.map_err(|_| gone())?
}

/// Returns when the database is gone, or after some seconds without an answer.
pub(super) fn remove(name: &str) {
    let (reply, answer) = channel();
    if ORDERS.send(Order::Remove(name.to_owned(), reply)).is_ok() {
        let _ = answer.recv_timeout(PATIENCE_WITH_REMOVAL);
    }
}

async fn serve(mut orders: mpsc::UnboundedReceiver<Order>) {
    let desk = Desk::open().await;
    let mut desk = match desk {
        Ok(desk) => desk,
        Err(error) => {
            let reason = error.to_string();
            while let Some(order) = orders.recv().await {
                if let Order::Create(reply) = order {
                    // The test that asked may be gone; so much the better.
                    let _ = reply.send(Err(HarnessError::Desk(reason.clone())));
                }
            }
            return;
        }
    };
    while let Some(order) = orders.recv().await {
        match order {
            Order::Create(reply) => {
                let _ = reply.send(desk.create().await);
            }
            Order::Remove(name, reply) => {
                if let Err(error) = desk.remove(&name).await {
                    eprintln!("{name} stays behind: {error}");
                }
                let _ = reply.send(());
            }
        }
    }
}

struct Desk {
    server: Server,
    client: Client,
    application: Address,
    template: String,
}

impl Desk {
    async fn open() -> Result<Self, HarnessError> {
        let server = Server::open().await?;
        let client = connect(&server).await?;
        template::lock(&client).await?;
        let application = ensure_role(&client, &server.administrator).await?;
        let template = template::ensure(&client, &application, server.freshly_started).await?;
        template::unlock(&client).await?;
        Ok(Self {
            server,
            client,
            application,
            template,
        })
    }

    async fn create(&mut self) -> Result<Made, HarnessError> {
        self.reconnect_if_cut().await?;
        let owner = &self.application.user;
        let name = template::clone(&self.client, &self.template, owner).await?;
        Ok(Made {
            name,
            application: self.application.clone(),
            administrator: self.server.administrator.clone(),
        })
    }

    async fn remove(&mut self, name: &str) -> Result<(), HarnessError> {
        self.reconnect_if_cut().await?;
        template::drop_database(&self.client, name).await
    }

    /// A test may have restarted the server to see what the service makes of it.
    async fn reconnect_if_cut(&mut self) -> Result<(), HarnessError> {
        if self.client.is_closed() {
            self.client = connect(&self.server).await?;
        }
        Ok(())
    }
}

async fn connect(server: &Server) -> Result<Client, HarnessError> {
    server
        .administrator
        .connect(&server.maintenance)
        .await
        .map_err(HarnessError::database("connect to the test server"))
}

/// An ordinary role like the one the service runs under, since a superuser passes by row-level
/// security. If we are not allowed to make it, our own has to do.
async fn ensure_role(client: &Client, administrator: &Address) -> Result<Address, HarnessError> {
    let may_make_roles: bool = client
        .query_one(
            "SELECT rolsuper FROM pg_roles WHERE rolname = current_user",
            &[],
        )
        .await
        .map_err(HarnessError::database("look up our own role"))?
        .get(0);
    if !may_make_roles {
        return Ok(administrator.clone());
    }
    // The same in every process that knows the administrator's, without being kept anywhere.
    let password: String = Sha256::digest(format!("{ROLE} {}", administrator.password))
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let verb = match client
        .query_opt("SELECT FROM pg_roles WHERE rolname = $1", &[&ROLE])
        .await
        .map_err(HarnessError::database("look for the test role"))?
    {
        Some(_) => "ALTER",
        None => "CREATE",
    };
    client
        .batch_execute(&format!(
            "{verb} ROLE {ROLE} LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS PASSWORD '{password}'"
        ))
        .await
        .map_err(HarnessError::database("make the test role"))?;
    Ok(Address {
        user: ROLE.to_owned(),
        password,
        ..administrator.clone()
    })
}
