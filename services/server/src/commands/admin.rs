//! `wearbook admin`: what a person at the machine does: first accounts and tokens, and the replay of fits.

use super::database::{Database, DatabaseOptions};
use super::{CommandError, Exit};
use crate::access::{AccountDraft, TokenDraft, create_account, create_token};
use crate::fits::replay;
use crate::platform::clock;
use crate::platform::http::problem::Problem;
use crate::platform::http::text::Line;
use crate::platform::postgres::{Connection, Pool};
use clap::{Args, Subcommand};
use wearbook_domain::ids::{AccountId, FitId};
use wearbook_domain::vocabulary::Scope;

/// What to do.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  wearbook admin account \"Pilot 001\"\n  \
    wearbook admin token acc_... --scope read-own --scope write-records --name \"field phone\"\n  wearbook admin replay")]
pub struct AdminOptions {
    #[command(flatten)]
    database: DatabaseOptions,
    #[command(subcommand)]
    task: Task,
}

#[derive(Debug, Subcommand)]
enum Task {
    /// Make an account; prints its id.
    Account {
        /// The name that others see.
        display_name: String,
    },
    /// Make a token for an account; prints the secret once.
    Token {
        /// The account.
        account: AccountId,
        /// What it may do; repeat for several.
        #[arg(long = "scope", required = true)]
        scopes: Vec<Scope>,
        /// What its owner calls it.
        #[arg(long, default_value = "made at the command line")]
        name: String,
        /// Days until it expires.
        #[arg(long, default_value_t = 90, value_parser = clap::value_parser!(u16).range(1..=365))]
        days: u16,
    },
    /// Make stored fits again from their stored inputs and compare byte for byte.
    Replay {
        /// Only this fit; all when absent.
        fit: Option<FitId>,
    },
}

fn line(text: &str) -> Result<Line<120>, CommandError> {
    Line::try_from(text.to_owned())
        .map_err(|fault| CommandError::Other(format!("{text:?}: {fault}")))
}

/// Does the task.
pub fn run(options: &AdminOptions) -> Result<Exit, CommandError> {
    let database = Database::open(&options.database, "service")?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let outcome = runtime.block_on(async {
        let (pool, _) = database.prepare(1).await?;
        perform(&pool, &options.task).await
    });
    database.close()?;
    outcome
}

async fn perform(pool: &Pool, task: &Task) -> Result<Exit, CommandError> {
    match task {
        Task::Account { display_name } => {
            let draft = AccountDraft {
                display_name: line(display_name)?,
            };
            let account = pool
                .transaction(async |connection: &mut Connection| {
                    create_account(connection, draft, clock::now()).await
                })
                .await?;
            println!("{}", account.id);
            Ok(Exit::Done)
        }
        Task::Token {
            account,
            scopes,
            name,
            days,
        } => {
            let draft = TokenDraft {
                name: line(name)?,
                scopes: scopes.clone(),
                days: *days,
                account_id: None,
            };
            println!("{}", issue(pool, *account, &draft).await?);
            Ok(Exit::Done)
        }
        Task::Replay { fit } => {
            let results = replay(&mut *pool.get().await?, *fit).await?;
            let mut differs = 0;
            for result in &results {
                if !result.identical {
                    differs += 1;
                    let engine = if result.same_engine {
                        "this engine"
                    } else {
                        result.engine_version.as_str()
                    };
                    println!("{} differs (made by {engine})", result.fit);
                }
            }
            println!(
                "{} fits replayed, {} identical, {differs} differ",
                results.len(),
                results.len() - differs
            );
            Ok(if differs == 0 {
                Exit::Done
            } else {
                Exit::Differs
            })
        }
    }
}

/// Makes a token and answers its secret.
pub async fn issue(pool: &Pool, account: AccountId, draft: &TokenDraft) -> Result<String, Problem> {
    let issued = pool
        .transaction(async |connection: &mut Connection| {
            create_token(connection, account, draft, clock::now()).await
        })
        .await?;
    Ok(issued.secret)
}
