//! What truly happened, counted; to be held against what the records say.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::keys::PartTypeKey;
use crate::vocabulary::{Discovery, FailureRole, RemovalReason};

use super::log::{Effect, Happening};
use super::scenario::Part;

/// Counts over the whole period and fleet, before the reporting layer.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Truth {
    /// Flights flown.
    pub flights: u32,
    /// Crashes of any cause.
    pub crashes: u32,
    /// Crashes begun by a part.
    pub crashes_by_part: u32,
    /// Helicopters given up.
    pub written_off: u32,
    /// Ends of stays by part type.
    pub parts: BTreeMap<PartTypeKey, PartTruth>,
}

/// How the items of one part type truly ended.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct PartTruth {
    /// Items that sat in a position at some time.
    pub items: u32,
    /// Lost their function in the air and were noticed.
    pub failed_in_flight: u32,
    /// Found failed on the ground.
    pub found_failed: u32,
    /// Taken out for a defect, in time.
    pub defects_found: u32,
    /// Damaged by the failure of another part.
    pub secondary: u32,
    /// Renewed at their planned age.
    pub planned_renewals: u32,
    /// Broken in a crash they had not begun.
    pub crash_damage: u32,
    /// Taken out in good order.
    pub precaution: u32,
    /// Gone with the helicopter.
    pub written_off: u32,
}

impl PartTruth {
    /// Failures and findings together.
    #[must_use]
    pub fn events(&self) -> u32 {
        self.failed_in_flight + self.found_failed + self.defects_found
    }
}

impl Truth {
    pub(super) fn count(&mut self, parts: &[&Part], happening: &Happening) {
        match happening {
            Happening::Flew(_) => self.flights += 1,
            Happening::FoundSound { .. } => {}
            Happening::Fitted(fitted) => {
                if let Some(part) = parts.get(fitted.slot) {
                    self.parts.entry(part.part_type.clone()).or_default().items += 1;
                }
            }
            Happening::Ended(ended) => {
                let Some(part) = parts.get(ended.slot) else {
                    return;
                };
                let part = self.parts.entry(part.part_type.clone()).or_default();
                match (&ended.failure, ended.reason) {
                    (Some(failed), _) if failed.role == FailureRole::Secondary => {
                        part.secondary += 1
                    }
                    (Some(failed), _) => {
                        match failed.discovery {
                            Discovery::InFlight => part.failed_in_flight += 1,
                            Discovery::FoundFailedAtCheck => part.found_failed += 1,
                            Discovery::DefectFoundAtCheck => part.defects_found += 1,
                        }
                        if failed.effect == Effect::Crash {
                            self.crashes_by_part += 1;
                        }
                    }
                    (None, RemovalReason::PlannedRenewal) => part.planned_renewals += 1,
                    (None, RemovalReason::CrashDamage) => part.crash_damage += 1,
                    (None, RemovalReason::WriteOff) => part.written_off += 1,
                    (None, _) => part.precaution += 1,
                }
            }
        }
    }
}
