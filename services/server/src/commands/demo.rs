//! `wearbook demo`: the whole service on an invented fleet, with nothing to set up.

use super::admin::issue;
use super::database::{Database, DatabaseOptions};
use super::demo_fleet::{DemoState, demo_state, load_fleet};
use super::serve::{ListenOptions, connections, serve_until_stopped};
use super::{CommandError, Exit};
use crate::access::TokenDraft;
use crate::fits::refit;
use crate::lives::derive_all;
use crate::platform::clock;
use crate::platform::http::text::Line;
use crate::platform::postgres::{Connection, Pool};
use crate::platform::telemetry;
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use std::time::Instant;
use wearbook_domain::catalogue;
use wearbook_domain::demo::{Scenario, generate};
use wearbook_domain::units::WearScale;
use wearbook_domain::vocabulary::Scope;

/// Where the data are and where to listen.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: wearbook demo --port 8090\nEverything in the demo is invented. It keeps its data in a folder of its own; delete the folder to start anew."
)]
pub struct DemoOptions {
    #[command(flatten)]
    database: DatabaseOptions,
    #[command(flatten)]
    listen: ListenOptions,
}

fn bar(length: usize, what: &'static str) -> ProgressBar {
    let style = ProgressStyle::with_template("{msg:<24} [{bar:32}] {pos}/{len}")
        .unwrap_or_else(|_| ProgressStyle::default_bar())
        .progress_chars("=> ");
    ProgressBar::new(u64::try_from(length).unwrap_or(u64::MAX))
        .with_style(style)
        .with_message(what)
}

/// Serves the demo.
pub fn run(options: &DemoOptions) -> Result<Exit, CommandError> {
    telemetry::start();
    let started = Instant::now();
    let database = Database::open(&options.database, "demo")?;
    let outcome = actix_web::rt::System::new().block_on(async {
        let (pool, _) = database.prepare(connections()).await?;
        prepare_fleet(&pool).await?;
        let secret = demo_token(&pool).await?;
        serve_until_stopped(&database.url, pool, &options.listen, |address| {
            eprintln!("ready after {:.1} s", started.elapsed().as_secs_f64());
            println!("{}", greeting(&format!("http://{address}"), &secret));
        })
        .await
    });
    database.close()?;
    outcome?;
    Ok(Exit::Done)
}

/// Loads and fits the fleet on the first start. The mark that it is there is the last thing written.
async fn prepare_fleet(pool: &Pool) -> Result<(), CommandError> {
    match demo_state(pool).await? {
        DemoState::Loaded => return Ok(()),
        DemoState::OtherData => {
            return Err(CommandError::Other(
                "this database holds records that are not the demo's; the demo starts only on an empty one".into(),
            ));
        }
        DemoState::Empty => {}
    }
    let scenario = Scenario::embedded();
    let loaded = Instant::now();
    let fleet = generate(scenario, catalogue());
    let rows = fleet.flights.len()
        + fleet.components.len()
        + fleet.installations.len()
        + fleet.failures.len();
    let progress = bar(rows, "loading the fleet");
    pool.transaction(async |connection: &mut Connection| {
        load_fleet(connection, &fleet, |done| {
            progress.inc(u64::try_from(done).unwrap_or(0))
        })
        .await?;
        progress.finish();
        eprintln!(
            "{rows} records made and loaded in {:.1} s",
            loaded.elapsed().as_secs_f64()
        );
        let derived = Instant::now();
        derive_all(connection).await?;
        eprintln!("lives derived in {:.1} s", derived.elapsed().as_secs_f64());
        let part_types = &catalogue().part_types;
        let progress = bar(
            part_types.len() * WearScale::ALL.len(),
            "fitting part types",
        );
        let now = clock::now();
        let fitted = Instant::now();
        for part_type in part_types {
            for scale in WearScale::ALL {
                refit(connection, &part_type.key, scale, now).await?;
                progress.inc(1);
            }
        }
        progress.finish();
        eprintln!(
            "{} part types fitted on {} scales in {:.1} s",
            part_types.len(),
            WearScale::ALL.len(),
            fitted.elapsed().as_secs_f64()
        );
        super::demo_fleet::mark_loaded(connection).await
    })
    .await?;
    Ok(())
}

async fn demo_token(pool: &Pool) -> Result<String, CommandError> {
    let account = super::demo_fleet::demo_pilot(pool).await?;
    let name = Line::try_from("demo".to_owned())
        .map_err(|fault| CommandError::Other(fault.to_string()))?;
    let draft = TokenDraft {
        name,
        scopes: Scope::ALL.to_vec(),
        days: 30,
        account_id: None,
    };
    Ok(issue(pool, account, &draft).await?)
}

fn greeting(address: &str, token: &str) -> String {
    format!(
        "
Wearbook is ready at {address} (demo: every person, aircraft and part in it is invented)

  demo token, good for 30 days:
  export TOKEN={token}

Three things to try:
  1. open {address}/part-types/tail-belt
  2. curl -s -H \"Authorization: Bearer $TOKEN\" \"{address}/v1/part-types/tail-belt/advice?age=143\"
  3. curl -s -H \"Authorization: Bearer $TOKEN\" \"{address}/v1/airframes?limit=3\"

API reference: {address}/reference/   Stop with Ctrl-C.
Statistics of reported cases, not an inspection of an aircraft. The maker's instructions, the club's rules and the law go first."
    )
}
