//! What follows from what happened: one table from events to jobs, and one from jobs to work.

use crate::events::Event;
use crate::fits::refit;
use crate::lives::{derive_of_airframe, derive_one};
use crate::platform::clock;
use crate::platform::http::problem::Problem;
use crate::platform::jobs::Job;
use crate::platform::jobs::queue::{QueuedJob, enqueue};
use crate::platform::postgres::Connection;
use std::collections::BTreeSet;
use wearbook_domain::PartTypeKey;
use wearbook_domain::units::WearScale;

const DERIVE_COMPONENT: &str = "derive-component";
const DERIVE_AIRFRAME: &str = "derive-airframe";
const REFIT: &str = "refit";

/// A burst of changes to one population is answered by one refit.
const WAIT_FOR_MORE_CHANGES: i32 = 1;

/// The job that an event asks for.
#[must_use]
pub fn job_after(event: &Event) -> Job {
    match event {
        Event::ComponentHistoryChanged(id) => Job {
            kind: DERIVE_COMPONENT,
            key: id.to_string(),
            delay_seconds: 0,
        },
        Event::AirframeUsageChanged(id) => Job {
            kind: DERIVE_AIRFRAME,
            key: id.to_string(),
            delay_seconds: 0,
        },
    }
}

/// Does one job in the caller's transaction. Safe to run twice.
///
/// # Errors
/// What went wrong; the queue tries again.
pub async fn perform(connection: &mut Connection, job: &QueuedJob) -> Result<(), Problem> {
    match job.kind.as_str() {
        DERIVE_COMPONENT => {
            let stale = derive_one(connection, job.key.parse().map_err(Problem::internal)?).await?;
            enqueue_refits(connection, stale).await
        }
        DERIVE_AIRFRAME => {
            let stale =
                derive_of_airframe(connection, job.key.parse().map_err(Problem::internal)?).await?;
            enqueue_refits(connection, stale).await
        }
        REFIT => {
            let (part_type, scale) = job
                .key
                .split_once('/')
                .ok_or_else(|| Problem::internal("a refit without scale"))?;
            let part_type: PartTypeKey = part_type.parse().map_err(Problem::internal)?;
            let scale: WearScale = scale.parse().map_err(Problem::internal)?;
            let done = refit(connection, &part_type, scale, clock::now()).await?;
            tracing::debug!(%part_type, %scale, ?done, "refitted");
            Ok(())
        }
        other => Err(Problem::internal(format!("no such kind of job: {other}"))),
    }
}

async fn enqueue_refits(
    connection: &mut Connection,
    stale: BTreeSet<PartTypeKey>,
) -> Result<(), Problem> {
    for part_type in stale {
        for scale in WearScale::ALL {
            let key = format!("{part_type}/{scale}");
            enqueue(
                connection,
                &Job {
                    kind: REFIT,
                    key,
                    delay_seconds: WAIT_FOR_MORE_CHANGES,
                },
            )
            .await?;
        }
    }
    Ok(())
}
