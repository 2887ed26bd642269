//! Fits a population anew. Nothing is written when nothing changed.

use super::inputs::{About, FitInputs, engine_version};
use super::store::{self, FitRow};
use crate::lives::population;
use crate::platform::http::problem::Problem;
use crate::platform::http::reply::bytes_of;
use crate::platform::postgres::Connection;
use crate::usage::wear_per_flight;
use chrono::{DateTime, Utc};
use wearbook_domain::ids::FitId;
use wearbook_domain::units::WearScale;
use wearbook_domain::{PartTypeKey, catalogue};

/// What a refit did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refitted {
    /// The population has no lives, and never had.
    NothingToFit,
    /// The newest fit was made from these very inputs.
    Unchanged(FitId),
    /// A new fit.
    New(FitId),
}

/// Three significant digits: the mean wear of a flight moves a little with every flight of anybody, and a fit should not.
fn steady(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

/// Fits a part type on one scale.
///
/// # Errors
/// When the part type is unknown or the database is away.
pub async fn refit(
    connection: &mut Connection,
    key: &PartTypeKey,
    scale: WearScale,
    now: DateTime<Utc>,
) -> Result<Refitted, Problem> {
    let part_type = catalogue().part_type(key).ok_or_else(Problem::not_found)?;
    let population = population(connection, key, scale).await?;
    let before = store::newest(connection, key.as_str(), scale.code()).await?;
    if population.lives.is_empty() && before.is_none() {
        return Ok(Refitted::NothingToFit);
    }
    let inputs = FitInputs {
        ages_known: share_known(population.lives.len(), population.excluded),
        lives: population.lives,
        lives_per_contributor: population.lives_per_contributor,
        mean_wear_per_flight: wear_per_flight(connection).await?.on(scale).map(steady),
    };
    let inputs_text = bytes_of(&inputs)?;
    if let Some(before) = before
        && before.inputs == inputs_text
        && before.engine_version == engine_version()
    {
        return Ok(Refitted::Unchanged(FitId::from_uuid(before.id)));
    }
    let id = FitId::new_at(now);
    let about = About {
        fit: Some(id),
        data_as_of: now,
    };
    let sample = inputs.sample()?;
    let row = FitRow {
        id: id.uuid(),
        part_type_key: key.to_string(),
        scale: scale.code().to_owned(),
        engine_version: engine_version(),
        data_digest: sample.digest(),
        data_as_of: now,
        report: bytes_of(&FitInputs::report(&sample))?,
        advice: bytes_of(&inputs.advice(part_type, scale, &sample, &about, None))?,
        inputs: inputs_text,
        created_at: now,
    };
    store::insert(connection, &row).await?;
    Ok(Refitted::New(id))
}

fn share_known(lives: usize, excluded: u64) -> Option<f64> {
    let lives = f64::from(u32::try_from(lives).ok()?);
    let excluded = f64::from(u32::try_from(excluded).ok()?);
    (lives + excluded > 0.0).then(|| lives / (lives + excluded))
}
