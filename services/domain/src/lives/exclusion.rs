use serde::{Deserialize, Serialize};
use thiserror::Error;
use utoipa::ToSchema;

use crate::ids::{ComponentId, FailureReportId, InstallationId, RemovalId};
use crate::units::WearScale;

/// Why a component gives no life on a scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema, Error)]
#[error("{component} gives no life on {scale}: {reason}")]
pub struct Exclusion {
    /// The physical item.
    pub component: ComponentId,
    /// The scale that was asked for.
    pub scale: WearScale,
    /// The rule that was met, with the records that met it.
    pub reason: ExclusionReason,
}

/// A record of a history, named in an exclusion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case", tag = "kind", content = "id")]
pub enum HistoryEvent {
    /// The component went in.
    Fitted(InstallationId),
    /// The component came off.
    Removed(RemovalId),
    /// A failure or a defect was reported.
    Reported(FailureReportId),
    /// The last clean look before a report.
    LastLookBefore(FailureReportId),
    /// The latest reading of the airframe it sits in.
    LatestReading(InstallationId),
}

impl std::fmt::Display for HistoryEvent {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Fitted(id) => write!(f, "fitting {id}"),
            Self::Removed(id) => write!(f, "removal {id}"),
            Self::Reported(id) => write!(f, "report {id}"),
            Self::LastLookBefore(id) => write!(f, "the last clean look before report {id}"),
            Self::LatestReading(id) => write!(f, "the latest reading under fitting {id}"),
        }
    }
}

/// The rules that keep a history out of the statistics.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema, Error)]
#[serde(rename_all = "kebab-case", tag = "rule")]
pub enum ExclusionReason {
    /// The component was never in an airframe, so it was never exposed.
    #[error("it was never fitted")]
    NeverFitted,
    /// It was used when we first saw it, and nobody knows how much.
    #[error("its age at {event} is unknown")]
    UnknownAge {
        /// Where the age is missing.
        event: HistoryEvent,
    },
    /// The scale was not kept at one of the events.
    #[error("usage on this scale is unknown at {event}")]
    UnknownUsage {
        /// Where the usage is missing.
        event: HistoryEvent,
    },
    /// The first fitting says the age is carried on, and there is nothing to carry on from.
    #[error("{event} carries an age on, and no earlier stay is on record")]
    NothingToCarryOn {
        /// The fitting that says so.
        event: HistoryEvent,
    },
    /// A later fitting calls the component new.
    #[error("{later} calls it new after {earlier}")]
    NewAgain {
        /// The earlier stay.
        earlier: HistoryEvent,
        /// The fitting that calls it new.
        later: HistoryEvent,
    },
    /// Two stays overlap: the earlier had not ended when the later began.
    #[error("{later} begins before the stay of {earlier} has ended")]
    OverlappingFittings {
        /// The stay that began first.
        earlier: HistoryEvent,
        /// The stay that began before the first ended.
        later: HistoryEvent,
    },
    /// A removal is dated before the fitting it ends.
    #[error("{removal} is dated before {fitting}")]
    RemovedBeforeFitting {
        /// The fitting.
        fitting: HistoryEvent,
        /// The removal.
        removal: HistoryEvent,
    },
    /// A failure report belongs before the stay it names began.
    #[error("{report} lies before {fitting}")]
    FailedBeforeFitting {
        /// The fitting.
        fitting: HistoryEvent,
        /// The report.
        report: HistoryEvent,
    },
    /// A failure report belongs after the stay it names had ended.
    #[error("{report} lies after {removal}")]
    FailedAfterRemoval {
        /// The removal.
        removal: HistoryEvent,
        /// The report.
        report: HistoryEvent,
    },
    /// A failure report names a stay that is not in this history.
    #[error("{report} names {fitting}, which is not a stay of this component")]
    ReportElsewhere {
        /// The report.
        report: HistoryEvent,
        /// The stay it names.
        fitting: HistoryEvent,
    },
    /// It failed at the very usage at which our watch over it began, so no usage of ours led to the failure.
    #[error("{event} lies at the age at which the component joined, with no usage in between")]
    FailedAtEntry {
        /// The report or the removal that says it failed.
        event: HistoryEvent,
    },
    /// Usage became smaller from one event to a later one.
    #[error("usage runs backwards from {earlier} ({before}) to {later} ({after})")]
    UsageBackwards {
        /// The event that should carry the smaller usage.
        earlier: HistoryEvent,
        /// The event that should carry the larger usage.
        later: HistoryEvent,
        /// Usage at the earlier event, on this scale.
        before: f64,
        /// Usage at the later event, on this scale.
        after: f64,
    },
}

impl ExclusionReason {
    /// The rule as a word, the same as in JSON.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NeverFitted => "never-fitted",
            Self::UnknownAge { .. } => "unknown-age",
            Self::UnknownUsage { .. } => "unknown-usage",
            Self::NothingToCarryOn { .. } => "nothing-to-carry-on",
            Self::NewAgain { .. } => "new-again",
            Self::OverlappingFittings { .. } => "overlapping-fittings",
            Self::RemovedBeforeFitting { .. } => "removed-before-fitting",
            Self::FailedBeforeFitting { .. } => "failed-before-fitting",
            Self::FailedAfterRemoval { .. } => "failed-after-removal",
            Self::ReportElsewhere { .. } => "report-elsewhere",
            Self::FailedAtEntry { .. } => "failed-at-entry",
            Self::UsageBackwards { .. } => "usage-backwards",
        }
    }
}
