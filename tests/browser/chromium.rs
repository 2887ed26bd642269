//! A browser without a window, started for one test and ended with it.

use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};

const BROWSER: &str = "/usr/bin/chromium";
const DRIVER: &str = "/usr/bin/chromedriver";
/// How often the driver's port is tried, with a tenth of a second between.
const TRIES: u32 = 150;

/// A browser under remote control.
pub struct Chromium {
    /// Gives it orders.
    pub client: Client,
    driver: Child,
    profile: PathBuf,
}

/// What the pages are looked at on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    /// A window on a desk.
    Desk,
    /// A phone of [`PHONE_WIDTH`] by 844 points.
    Phone,
}

/// Width of the phone in CSS pixels.
pub const PHONE_WIDTH: u32 = 390;

impl Chromium {
    /// Starts a browser with an empty profile.
    ///
    /// # Panics
    /// If browser or driver are missing, or do not start: the test cannot go on.
    pub async fn start(screen: Screen) -> Self {
        for program in [BROWSER, DRIVER] {
            assert!(
                Path::new(program).exists(),
                "{program} is missing: run deploy/setup --tests"
            );
        }
        let port = free_port();
        let profile = std::env::temp_dir().join(format!(
            "wearbook-browser-{}",
            uuid::Uuid::now_v7().simple()
        ));
        let driver = Command::new(DRIVER)
            .arg(format!("--port={port}"))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the driver starts");
        let mut driver = Started(Some(driver));
        wait_for(port).await;
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(capabilities(&profile, screen))
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .expect("the browser starts; if not, run deploy/setup --tests");
        Self {
            client,
            driver: driver.0.take().expect("it was put there above"),
            profile,
        }
    }

    /// Ends the session, which closes the browser; the driver ends with this value.
    pub async fn close(self) {
        // A browser that is gone already is as good.
        let _ = self.client.clone().close().await;
    }

    /// What a script in the page answers.
    ///
    /// # Panics
    /// If the script fails.
    pub async fn run(&self, script: &str) -> Value {
        self.client
            .execute(script, Vec::new())
            .await
            .expect("a script of ours")
    }
}

impl Drop for Chromium {
    fn drop(&mut self) {
        end(&mut self.driver);
        let _ = std::fs::remove_dir_all(&self.profile);
    }
}

/// Ends the driver if the browser does not start.
struct Started(Option<Child>);

impl Drop for Started {
    fn drop(&mut self) {
        if let Some(driver) = &mut self.0 {
            end(driver);
        }
    }
}

fn end(driver: &mut Child) {
    // One that ended by itself needs no killing.
    let _ = driver.kill();
    let _ = driver.wait();
}

fn capabilities(profile: &Path, screen: Screen) -> fantoccini::wd::Capabilities {
    let arguments = [
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        // Smooth scrolling would be under way when the next order comes.
        "--force-prefers-reduced-motion",
        &format!("--user-data-dir={}", profile.display()),
    ]
    .map(|argument| json!(argument));
    let screen = match screen {
        Screen::Desk => json!({}),
        Screen::Phone => {
            json!({"deviceMetrics": {"width": PHONE_WIDTH, "height": 844, "pixelRatio": 2.0}})
        }
    };
    let options = json!({"binary": BROWSER, "args": arguments, "mobileEmulation": screen});
    let mut capabilities = fantoccini::wd::Capabilities::new();
    capabilities.insert("goog:chromeOptions".to_owned(), options);
    capabilities
}

/// Another process may take it before the driver does; then the driver does not answer and the test says so.
fn free_port() -> u16 {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a free port");
    listener
        .local_addr()
        .expect("a bound listener has an address")
        .port()
}

async fn wait_for(port: u16) {
    for _ in 0..TRIES {
        if TcpStream::connect((Ipv4Addr::LOCALHOST, port)).is_ok() {
            return;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    panic!("{DRIVER} does not listen on port {port}");
}
