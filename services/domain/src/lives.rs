//! Lives: what a history says about how long a component kept its function, on one wear scale.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{ComponentId, FailureReportId, InstallationId, RemovalId};
use crate::keys::FailureModeKey;
use crate::units::WearScale;
use crate::vocabulary::RemovalReason;

mod derive;
mod exclusion;
mod sampling;
mod stays;

pub use derive::{HALF_A_FLIGHT, derive};
pub use exclusion::{Exclusion, ExclusionReason, HistoryEvent};
pub use sampling::to_sample;

/// One life on one wear scale; all ages are in that scale's unit and count from new.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Life {
    /// The physical item.
    pub component: ComponentId,
    /// The clock its ages are on.
    pub scale: WearScale,
    /// Age at which we began to watch it: 0 if seen from new. Parts that failed younger would not be in our records.
    pub entry: f64,
    /// How the watch ended.
    pub end: LifeEnd,
    /// The records it was derived from, in the order of events.
    pub sources: Vec<LifeSource>,
    /// What was decided on the way, one sentence each; empty for a plain life.
    pub remarks: Vec<String>,
}

/// How the watch over a life ended; ages are never below the entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum LifeEnd {
    /// It lost its function at a known age.
    Failed {
        /// The age.
        at: f64,
        /// The manner.
        mode: FailureModeKey,
    },
    /// It was found to have lost its function after one age and by another.
    FailedBetween {
        /// The last age at which it was known to be sound.
        after: f64,
        /// The age at which it was found failed.
        by: f64,
        /// The manner.
        mode: FailureModeKey,
    },
    /// It left our sight with its function intact, or its function was still there when a defect was found.
    Removed {
        /// The age.
        at: f64,
        /// Why.
        reason: RemovalReason,
    },
    /// Another failure damaged it.
    SecondaryDamage {
        /// The age.
        at: f64,
    },
    /// It is still in an airframe.
    StillFitted {
        /// The age by the latest reading.
        at: f64,
    },
    /// It came off to be used again and waits.
    OnShelf {
        /// The age it keeps.
        at: f64,
    },
}

impl LifeEnd {
    /// The last age at which the component was known to keep its function.
    #[must_use]
    pub const fn last_sound(&self) -> f64 {
        match self {
            Self::FailedBetween { after, .. } => *after,
            Self::Failed { at, .. }
            | Self::Removed { at, .. }
            | Self::SecondaryDamage { at }
            | Self::StillFitted { at }
            | Self::OnShelf { at } => *at,
        }
    }

    /// The age by which it had failed; `None` if it was never seen to fail.
    #[must_use]
    pub const fn failed_by(&self) -> Option<f64> {
        match self {
            Self::Failed { at, .. } => Some(*at),
            Self::FailedBetween { by, .. } => Some(*by),
            _ => None,
        }
    }

    /// The last age that is on record for the component.
    #[must_use]
    pub fn last_age(&self) -> f64 {
        self.failed_by().unwrap_or_else(|| self.last_sound())
    }

    /// The manner of the failure, if it failed.
    #[must_use]
    pub const fn mode(&self) -> Option<&FailureModeKey> {
        match self {
            Self::Failed { mode, .. } | Self::FailedBetween { mode, .. } => Some(mode),
            _ => None,
        }
    }

    /// Word for the kind of end, as in tables and files: failed, removed or running.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Failed { .. } | Self::FailedBetween { .. } => "failed",
            Self::Removed { .. } | Self::SecondaryDamage { .. } => "removed",
            Self::StillFitted { .. } | Self::OnShelf { .. } => "running",
        }
    }
}

/// A record a life was derived from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case", tag = "kind", content = "id")]
pub enum LifeSource {
    /// A stay in an airframe.
    Installation(InstallationId),
    /// The end of a stay.
    Removal(RemovalId),
    /// A failure report.
    FailureReport(FailureReportId),
}

impl LifeSource {
    /// Word for the kind of record.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Installation(_) => "installation",
            Self::Removal(_) => "removal",
            Self::FailureReport(_) => "failure-report",
        }
    }

    /// The record's identifier as the API writes it; a text because the kinds have different types.
    #[must_use]
    pub fn id(&self) -> String {
        match self {
            Self::Installation(id) => id.to_string(),
            Self::Removal(id) => id.to_string(),
            Self::FailureReport(id) => id.to_string(),
        }
    }
}

/// What a history gave: exactly one of the two members is present.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Derivation {
    /// The life, if one could be derived.
    pub life: Option<Life>,
    /// Why none could be derived.
    pub exclusion: Option<Exclusion>,
}

impl From<Result<Life, Exclusion>> for Derivation {
    fn from(outcome: Result<Life, Exclusion>) -> Self {
        match outcome {
            Ok(life) => Self {
                life: Some(life),
                exclusion: None,
            },
            Err(exclusion) => Self {
                life: None,
                exclusion: Some(exclusion),
            },
        }
    }
}

#[cfg(test)]
mod tests;
