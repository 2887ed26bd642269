//! The targets: one table, read by people, edited by people.
//!
//! Every number is a judgement, not a measurement. The four severities and their names follow MIL-STD-882E (from
//! memory); that standard sets no targets for hobby aircraft. The targets here are a proposal of this project, meant
//! to be discussed and changed by those who fly under them. Whoever changes one changes the version too: advice
//! carries it, so that an old answer can be told from a new one.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::vocabulary::Severity;

/// What may be risked with parts of one severity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Target {
    /// The worst the part can do when it fails.
    pub severity: Severity,
    /// Most chance of failure per flight, as the mean over the time a part is fitted. Absent: no target.
    pub per_flight: Option<f64>,
    /// Most chance of failure from one renewal to the next, or from one look to the next. Absent: no target.
    pub per_interval: Option<f64>,
    /// One-sided confidence with which the target must be met: 0.9 lets one answer in ten be too long.
    pub level: f64,
}

/// The targets for all severities, with the other numbers that advice depends on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Policy {
    /// Changes whenever a number changes.
    pub version: u32,
    /// Loss of control: one failure in 100 000 flights, one part in 1000 before its renewal, and a higher confidence,
    /// because nobody can correct the error afterwards.
    pub catastrophic: Target,
    /// A forced landing: one failure in 5000 flights, one part in 50 before its renewal.
    pub critical: Target,
    /// A degraded flight: one failure in 500 flights, one part in 10 before its renewal.
    pub marginal: Target,
    /// Looks and comfort: renew when found.
    pub negligible: Target,
    /// Failures from which on both numbers of a Weibull are fitted; below, its shape is assumed from like parts.
    pub fewest_failures_for_a_fit: u64,
    /// The target per flight decides the renewal age only down to this share of the age that the target per interval
    /// gives; below it no renewal anybody would keep can meet the target per flight, and looks have to carry the rest.
    pub least_share_of_interval_age: f64,
    /// Failures below which the answers for the assumed shapes are shown beside the fit.
    pub few_failures: u64,
    /// Two-sided confidence of the limits shown beside estimates.
    pub shown_level: f64,
    /// Days after which advice should be asked for anew.
    pub valid_for_days: u16,
    /// By how much evidence graded fair may lengthen what is commonly done, as a share of it.
    pub fair_may_lengthen_by: f64,
}

impl Policy {
    /// The policy as shipped.
    pub const DEFAULT: Self = Self {
        version: 1,
        catastrophic: Target {
            severity: Severity::Catastrophic,
            per_flight: Some(1e-5),
            per_interval: Some(1e-3),
            level: 0.95,
        },
        critical: Target {
            severity: Severity::Critical,
            per_flight: Some(2e-4),
            per_interval: Some(2e-2),
            level: 0.90,
        },
        marginal: Target {
            severity: Severity::Marginal,
            per_flight: Some(2e-3),
            per_interval: Some(0.10),
            level: 0.90,
        },
        negligible: Target {
            severity: Severity::Negligible,
            per_flight: None,
            per_interval: None,
            level: 0.90,
        },
        fewest_failures_for_a_fit: 3,
        least_share_of_interval_age: 0.5,
        few_failures: 10,
        shown_level: 0.90,
        valid_for_days: 90,
        fair_may_lengthen_by: 0.15,
    };

    /// The row of one severity.
    #[must_use]
    pub const fn target(&self, severity: Severity) -> Target {
        match severity {
            Severity::Catastrophic => self.catastrophic,
            Severity::Critical => self.critical,
            Severity::Marginal => self.marginal,
            Severity::Negligible => self.negligible,
        }
    }
}

impl Default for Policy {
    fn default() -> Self {
        Self::DEFAULT
    }
}

/// The policy as shipped.
#[must_use]
pub const fn policy() -> Policy {
    Policy::DEFAULT
}
