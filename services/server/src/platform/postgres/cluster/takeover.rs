use std::time::{Duration, Instant};
use std::{io, thread};

use tokio_postgres::error::SqlState;
use tokio_postgres::{Config, NoTls};

use super::layout::Layout;
use super::operating_user::OperatingUser;
use super::postmaster::{self, Postmaster};
use super::{ClusterError, ConnectionParameters};

/// A server may be replaying its log after a crash.
const PATIENCE_WITH_CHANGE: Duration = Duration::from_mins(5);
/// One that says it is ready answers at once, or its socket is gone.
const PATIENCE_WITH_SILENCE: Duration = Duration::from_secs(3);
const BETWEEN_LOOKS: Duration = Duration::from_millis(20);

/// What became of a server that an earlier run left behind.
pub(super) enum Predecessor {
    /// Gone; its traces no longer stand in the way of a new one.
    Gone,
    /// Answers to our password on this port.
    Answers(u16),
    /// Runs on our data, yet cannot be spoken to.
    Silent,
}

pub(super) fn seek(
    layout: &Layout,
    user: &OperatingUser,
    parameters: &ConnectionParameters,
) -> Result<Predecessor, ClusterError> {
    let begun = Instant::now();
    loop {
        match postmaster::observe(layout)? {
            Postmaster::Absent => return Ok(Predecessor::Gone),
            Postmaster::Stale => {
                postmaster::retire(layout, user)?;
                return Ok(Predecessor::Gone);
            }
            Postmaster::Ready { port } => match ask(&ConnectionParameters {
                port,
                ..parameters.clone()
            })? {
                Answer::Welcome => return Ok(Predecessor::Answers(port)),
                Answer::Refused => {
                    return Err(ClusterError::PasswordRefused {
                        data: layout.data.clone(),
                        file: layout.password.clone(),
                    });
                }
                Answer::None if begun.elapsed() > PATIENCE_WITH_SILENCE => {
                    return Ok(Predecessor::Silent);
                }
                Answer::None => {}
            },
            Postmaster::Changing if begun.elapsed() > PATIENCE_WITH_CHANGE => {
                return Ok(Predecessor::Silent);
            }
            Postmaster::Changing => {}
        }
        thread::sleep(BETWEEN_LOOKS);
    }
}

enum Answer {
    Welcome,
    Refused,
    None,
}

/// Logs in once. A thread of its own, since the caller may or may not stand in a runtime.
fn ask(parameters: &ConnectionParameters) -> Result<Answer, ClusterError> {
    let config = parameters.config("postgres");
    let outcome = thread::spawn(move || log_in(&config))
        .join()
        .map_err(|_| not_asked("the asking thread broke down".to_owned()))?
        .map_err(|error| not_asked(error.to_string()))?;
    let Some(outcome) = outcome else {
        return Ok(Answer::None);
    };
    Ok(match outcome {
        Ok(()) => Answer::Welcome,
        Err(error) => match error.code() {
            Some(&SqlState::INVALID_PASSWORD) => Answer::Refused,
            Some(&SqlState::CANNOT_CONNECT_NOW) | None => Answer::None,
            // It knows us, and is only too busy.
            Some(_) => Answer::Welcome,
        },
    })
}

/// `None` if there is no answer in time.
fn log_in(config: &Config) -> io::Result<Option<Result<(), tokio_postgres::Error>>> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let answer = runtime.block_on(async {
        tokio::time::timeout(PATIENCE_WITH_SILENCE, config.connect(NoTls)).await
    });
    Ok(answer.ok().map(|connected| connected.map(|_| ())))
}

fn not_asked(reason: String) -> ClusterError {
    ClusterError::System {
        action: "ask the running PostgreSQL server",
        reason,
    }
}
