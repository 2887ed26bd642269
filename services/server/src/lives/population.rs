//! The lives of one part type on one scale, with who contributed them.

use super::store;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use std::collections::BTreeMap;
use wearbook_domain::PartTypeKey;
use wearbook_domain::lives::Life;
use wearbook_domain::units::WearScale;

/// Lives that are fitted as one.
#[derive(Debug, Clone, PartialEq)]
pub struct Population {
    /// In the order of their components' ids.
    pub lives: Vec<Life>,
    /// Lives of each contributor, largest first; no names.
    pub lives_per_contributor: Vec<u64>,
    /// Components that give no life on this scale.
    pub excluded: u64,
}

/// Loads a population.
///
/// # Errors
/// When the database is away.
pub async fn population(
    connection: &mut Connection,
    part_type: &PartTypeKey,
    scale: WearScale,
) -> Result<Population, Problem> {
    let (rows, excluded) = store::population(connection, part_type.as_str(), scale.code()).await?;
    let mut counts: BTreeMap<uuid::Uuid, u64> = BTreeMap::new();
    let mut lives = Vec::with_capacity(rows.len());
    for (owner, life) in rows {
        *counts.entry(owner).or_default() += 1;
        lives.push(serde_json::from_value(life).map_err(Problem::internal)?);
    }
    let mut lives_per_contributor: Vec<u64> = counts.into_values().collect();
    lives_per_contributor.sort_unstable_by(|a, b| b.cmp(a));
    Ok(Population {
        lives,
        lives_per_contributor,
        excluded: u64::try_from(excluded).unwrap_or(0),
    })
}
