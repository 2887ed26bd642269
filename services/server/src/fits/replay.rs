//! Makes a stored fit again from its stored inputs, and compares byte for byte.

use super::inputs::{About, FitInputs, engine_version};
use super::store;
use crate::platform::http::problem::Problem;
use crate::platform::http::reply::bytes_of;
use crate::platform::postgres::Connection;
use wearbook_domain::catalogue;
use wearbook_domain::ids::FitId;

/// How one fit compares with its replay.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replay {
    /// The fit.
    pub fit: FitId,
    /// The engine that made it; another version may rightly differ.
    pub engine_version: String,
    /// Whether this is the engine that runs now.
    pub same_engine: bool,
    /// Whether digest, report and advice came out the same, byte for byte.
    pub identical: bool,
}

/// Replays one fit, or all of them.
///
/// # Errors
/// `not-found` for an unknown fit; when the database is away.
pub async fn replay(
    connection: &mut Connection,
    only: Option<FitId>,
) -> Result<Vec<Replay>, Problem> {
    let ids = match only {
        Some(id) => vec![id.uuid()],
        None => store::ids(connection).await?,
    };
    let mut results = Vec::with_capacity(ids.len());
    for id in ids {
        let row = store::fit(connection, id)
            .await?
            .ok_or_else(Problem::not_found)?;
        let inputs: FitInputs = serde_json::from_str(&row.inputs).map_err(Problem::internal)?;
        let key = row.part_type_key.parse().map_err(Problem::internal)?;
        let part_type = catalogue().part_type(&key).ok_or_else(Problem::not_found)?;
        let scale = row.scale.parse().map_err(Problem::internal)?;
        let fit = FitId::from_uuid(id);
        let sample = inputs.sample()?;
        let about = About {
            fit: Some(fit),
            data_as_of: row.data_as_of,
        };
        let identical = sample.digest() == row.data_digest
            && bytes_of(&FitInputs::report(&sample))? == row.report
            && bytes_of(&inputs.advice(part_type, scale, &sample, &about, None))? == row.advice;
        results.push(Replay {
            fit,
            same_engine: row.engine_version == engine_version(),
            engine_version: row.engine_version,
            identical,
        });
    }
    Ok(results)
}
