//! Derives the lives of components anew. Replaced, never added to: a correction just runs this again.

use super::history::history_of;
use super::store::{self, ExclusionRow, LifeRow};
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use crate::usage::ledgers_of;
use std::collections::{BTreeSet, HashMap};
use std::hash::Hash;
use uuid::Uuid;
use wearbook_domain::PartTypeKey;
use wearbook_domain::ids::{AirframeId, ComponentId};
use wearbook_domain::lives::derive;
use wearbook_domain::units::WearScale;

/// Derives one component; answers its part type, whose population is stale now.
///
/// # Errors
/// When the database is away.
pub async fn derive_one(
    connection: &mut Connection,
    id: ComponentId,
) -> Result<BTreeSet<PartTypeKey>, Problem> {
    derive_some(connection, &[id.uuid()]).await
}

/// Derives every component that ever sat in an airframe.
///
/// # Errors
/// When the database is away.
pub async fn derive_of_airframe(
    connection: &mut Connection,
    id: AirframeId,
) -> Result<BTreeSet<PartTypeKey>, Problem> {
    let components = store::on_airframe(connection, id.uuid()).await?;
    derive_some(connection, &components).await
}

/// Derives every component there is.
///
/// # Errors
/// When the database is away.
pub async fn derive_all(connection: &mut Connection) -> Result<BTreeSet<PartTypeKey>, Problem> {
    let mut stale = BTreeSet::new();
    for piece in store::all_components(connection).await?.chunks(1000) {
        stale.extend(derive_some(connection, piece).await?);
    }
    Ok(stale)
}

fn grouped<K: Hash + Eq, V>(rows: Vec<V>, key: impl Fn(&V) -> K) -> HashMap<K, Vec<V>> {
    let mut groups: HashMap<K, Vec<V>> = HashMap::new();
    for row in rows {
        groups.entry(key(&row)).or_default().push(row);
    }
    groups
}

async fn derive_some(
    connection: &mut Connection,
    ids: &[Uuid],
) -> Result<BTreeSet<PartTypeKey>, Problem> {
    let components = store::components(connection, ids).await?;
    let stays = store::stays(connection, ids).await?;
    let airframes: BTreeSet<Uuid> = stays.iter().map(|stay| stay.airframe_id).collect();
    let ledgers = ledgers_of(connection, &airframes.into_iter().collect::<Vec<_>>()).await?;
    let stays = grouped(stays, |stay| stay.component_id);
    let failures = grouped(store::failures(connection, ids).await?, |failure| {
        failure.component_id
    });
    let (mut found, mut excluded, mut stale) = (Vec::new(), Vec::new(), BTreeSet::new());
    for component in &components {
        let own_stays = stays.get(&component.id).map_or(&[][..], Vec::as_slice);
        if own_stays.is_empty() {
            continue;
        }
        let own_failures = failures.get(&component.id).map_or(&[][..], Vec::as_slice);
        let history = history_of(component, own_stays, own_failures, &ledgers)?;
        for scale in WearScale::ALL {
            let derivation = derive(&history, scale);
            if let Some(life) = derivation.life {
                found.push(LifeRow {
                    component_id: component.id,
                    scale: scale.code(),
                    part_type_key: component.part_type_key.clone(),
                    owner_id: component.owner_id,
                    entry: life.entry,
                    life: serde_json::to_value(&life).map_err(Problem::internal)?,
                });
            }
            if let Some(exclusion) = derivation.exclusion {
                excluded.push(ExclusionRow {
                    component_id: component.id,
                    scale: scale.code(),
                    part_type_key: component.part_type_key.clone(),
                    exclusion: serde_json::to_value(&exclusion).map_err(Problem::internal)?,
                });
            }
        }
        stale.insert(history.part_type);
    }
    store::replace(connection, ids, &found, &excluded).await?;
    Ok(stale)
}
