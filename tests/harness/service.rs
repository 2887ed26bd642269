//! The real application on a free port, with a client for it.

use std::net::{Ipv4Addr, SocketAddr};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use actix_web::HttpServer;
use actix_web::dev::ServerHandle;
use chrono::Utc;
use reqwest::{Client, Method, RequestBuilder};
use serde_json::Value;
use tokio::sync::oneshot;
use wearbook::access::{AccountDraft, TokenDraft, create_account, create_token};
use wearbook::app::Shared;
use wearbook::catalogue::synchronise;
use wearbook::commands::application;
use wearbook::platform::postgres::{Connection, Pool};
use wearbook::worker;
use wearbook_domain::ids::AccountId;
use wearbook_domain::vocabulary::Scope;

use crate::{Reply, TestDatabase, conformance};

/// Connections of the service's handlers: fewer than the requests that some tests send at once.
const CONNECTIONS: usize = 5;

/// How long a request waits for one of them. Far longer than in use, so that on a machine with much else to do a test
/// of what wins and what loses does not meet a request that was told to come back.
const PATIENCE: Duration = Duration::from_secs(120);

/// The service on a port of its own, stopped with this value. No worker runs beside it: [`Service::settle`] does the
/// worker's part when the test wants it.
pub struct Service {
    /// Such as `http://127.0.0.1:40123`, without a slash at the end.
    pub base: String,
    /// The test's own connections, apart from those of the service.
    pub pool: Pool,
    client: Client,
    handle: ServerHandle,
    thread: Option<JoinHandle<()>>,
}

impl Service {
    /// Starts the service on a database that carries the migrations, after the catalogue was brought up to date.
    ///
    /// # Panics
    /// If it does not start: the test cannot go on.
    pub async fn start(database: &TestDatabase) -> Self {
        let pool = Pool::with_patience(&database.url, 3, PATIENCE).expect("the test's pool");
        synchronise(&pool)
            .await
            .expect("the catalogue enters an empty database");
        let (ready, started) = oneshot::channel();
        let url = database.url.clone();
        // The service has runtimes of its own, so that a test that waits cannot hold it up.
        let thread = thread::spawn(move || {
            actix_web::rt::System::new().block_on(serve(&url, ready));
        });
        let (address, handle) = started.await.expect("the service starts");
        Self {
            base: format!("http://{address}"),
            pool,
            client: Client::builder()
                .no_proxy()
                .build()
                .expect("a client without TLS needs nothing"),
            handle,
            thread: Some(thread),
        }
    }

    /// A request to be completed by hand; [`Service::send`] sends it.
    pub fn request(&self, method: Method, path: &str) -> RequestBuilder {
        self.client.request(method, format!("{}{path}", self.base))
    }

    /// Sends a request and reads the answer to its end. Every answer is held against the description of the API.
    ///
    /// # Panics
    /// If the service does not answer, or not as it describes.
    pub async fn send(&self, request: RequestBuilder) -> Reply {
        let request = request.build().expect("a request that can be sent");
        let method = request.method().clone();
        let response = self
            .client
            .execute(request)
            .await
            .expect("the service answers");
        let path = response.url().path().to_owned();
        let status = response.status().as_u16();
        let headers = response.headers().clone();
        let bytes = response
            .bytes()
            .await
            .expect("the answer arrives whole")
            .to_vec();
        conformance::check(&method, &path, status, &bytes);
        Reply {
            status,
            headers,
            bytes,
            path,
        }
    }

    /// GET with a token.
    pub async fn get(&self, token: &str, path: &str) -> Reply {
        self.send(self.request(Method::GET, path).bearer_auth(token))
            .await
    }

    /// POST of a JSON body with a token.
    pub async fn post(&self, token: &str, path: &str, body: &Value) -> Reply {
        self.send(
            self.request(Method::POST, path)
                .bearer_auth(token)
                .json(body),
        )
        .await
    }

    /// POST under an idempotency key.
    pub async fn post_once(&self, token: &str, path: &str, key: &str, body: &Value) -> Reply {
        let request = self.request(Method::POST, path).bearer_auth(token);
        self.send(request.header("idempotency-key", key).json(body))
            .await
    }

    /// PATCH of the record whose ETag was read before.
    pub async fn patch(&self, token: &str, path: &str, etag: &str, body: &Value) -> Reply {
        let request = self
            .request(Method::PATCH, path)
            .bearer_auth(token)
            .header("if-match", etag);
        let request = request
            .header("content-type", "application/merge-patch+json")
            .body(body.to_string());
        self.send(request).await
    }

    /// DELETE of the record whose ETag was read before.
    pub async fn delete(&self, token: &str, path: &str, etag: &str) -> Reply {
        self.send(
            self.request(Method::DELETE, path)
                .bearer_auth(token)
                .header("if-match", etag),
        )
        .await
    }

    /// POST that must succeed; the new record.
    ///
    /// # Panics
    /// If the answer is not 201.
    pub async fn create(&self, token: &str, path: &str, body: &Value) -> Value {
        self.post(token, path, body).await.expect(201)
    }

    /// A new account.
    ///
    /// # Panics
    /// If the database refuses it.
    pub async fn account(&self, name: &str) -> AccountId {
        let draft = AccountDraft {
            display_name: name.to_owned().try_into().expect("a name of one line"),
        };
        self.pool
            .transaction(async |connection: &mut Connection| {
                create_account(connection, draft, Utc::now()).await
            })
            .await
            .expect("a new account")
            .id
    }

    /// A new token of an account; its secret.
    ///
    /// # Panics
    /// If the database refuses it.
    pub async fn token_of(&self, account: AccountId, scopes: &[Scope]) -> String {
        let name = "of a test"
            .to_owned()
            .try_into()
            .expect("a name of one line");
        let draft = TokenDraft {
            name,
            scopes: scopes.to_vec(),
            days: 1,
            account_id: None,
        };
        self.pool
            .transaction(async |connection: &mut Connection| {
                create_token(connection, account, &draft, Utc::now()).await
            })
            .await
            .expect("a new token")
            .secret
    }

    /// A token of an account of its own.
    pub async fn token(&self, scopes: &[Scope]) -> String {
        self.token_of(self.account("Pilot of a test (invented)").await, scopes)
            .await
    }

    /// A token of an account of its own that may keep records and read everything, but not administer.
    pub async fn pilot(&self) -> String {
        self.token(&[Scope::ReadOwn, Scope::WriteRecords, Scope::ReadAdvice])
            .await
    }

    /// Does what the worker would do until nothing is left.
    ///
    /// # Panics
    /// If the database is away.
    pub async fn settle(&self) {
        worker::settle(&self.pool)
            .await
            .expect("the work that is due");
    }
}

async fn serve(url: &str, ready: oneshot::Sender<(SocketAddr, ServerHandle)>) {
    let pool = Pool::with_patience(url, CONNECTIONS, PATIENCE).expect("the service's pool");
    let shared = Shared::load(pool).await.expect("the instance's own row");
    let server = HttpServer::new(move || application(&shared))
        .workers(2)
        .disable_signals()
        .bind((Ipv4Addr::LOCALHOST, 0))
        .expect("a free port");
    let address = server
        .addrs()
        .first()
        .copied()
        .expect("one address was bound");
    let server = server.run();
    // A test that is gone needs no answer.
    let _ = ready.send((address, server.handle()));
    server.await.expect("the service ends in good order");
}

impl Drop for Service {
    fn drop(&mut self) {
        // The order to stop is given by the call itself; waiting is the thread's part.
        drop(self.handle.stop(false));
        if let Some(thread) = self.thread.take() {
            // Its panic was printed already.
            let _ = thread.join();
        }
    }
}
