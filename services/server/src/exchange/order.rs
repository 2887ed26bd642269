//! The order in which an import is entered: what took a position leaves it before the next comes in.

use super::import::ImportDraft;
use chrono::{DateTime, Utc};

/// One step: which list, and which place in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FleetStep {
    /// A removal.
    Removal(usize),
    /// An installation.
    Installation(usize),
}

/// Removals and installations by time; at the same moment removals first.
pub fn fleet_steps(draft: &ImportDraft) -> Vec<FleetStep> {
    let removals = draft
        .removals
        .iter()
        .enumerate()
        .map(|(index, removal)| (removal.removed_at, FleetStep::Removal(index)));
    let installations = draft
        .installations
        .iter()
        .enumerate()
        .map(|(index, installation)| (installation.fitted_at, FleetStep::Installation(index)));
    let mut steps: Vec<(DateTime<Utc>, FleetStep)> = removals.chain(installations).collect();
    steps.sort_unstable();
    steps.into_iter().map(|(_, step)| step).collect()
}
