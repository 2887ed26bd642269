//! What can sit on a helicopter, how it fails, how it is checked and what people commonly do about it.
//!
//! The contents are planning defaults from common practice or from memory and say so row by row; the manual of
//! the design goes first.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::keys::{CheckKey, FailureModeKey, FamilyKey, PartTypeKey, SystemKey};
use crate::units::WearScale;
use crate::vocabulary::Severity;

/// The whole catalogue as shipped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Catalogue {
    /// Where the figures come from, in one sentence.
    pub note: String,
    /// The systems of a helicopter, in the order a person walks round it.
    pub systems: Vec<System>,
    /// Groups of part types that wear alike.
    pub families: Vec<Family>,
    /// What is commonly done on any helicopter.
    pub general_practice: Vec<Practice>,
    /// Every part type.
    pub part_types: Vec<PartType>,
}

/// A system of the helicopter.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct System {
    /// Its key.
    pub key: SystemKey,
    /// Its name on a page.
    pub name: String,
}

/// Part types that wear alike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Family {
    /// Its key.
    pub key: FamilyKey,
    /// Its name on a page.
    pub name: String,
    /// Middle of what the Weibull shape of such parts is thought to be.
    pub shape_prior_median: f64,
    /// Least and greatest of that shape; about nine in ten parts are thought to lie between.
    pub shape_prior_range: [f64; 2],
    /// Where that belief comes from.
    pub source: String,
}

/// One population of parts until data shows otherwise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PartType {
    /// Its key.
    pub key: PartTypeKey,
    /// Its name on a page.
    pub name: String,
    /// The system it belongs to.
    pub system: SystemKey,
    /// The family whose wear it shares.
    pub family: FamilyKey,
    /// Where it sits, for instance "inboard, blade 1".
    pub positions: Vec<String>,
    /// The scales it wears on, best first; never empty.
    pub wear_scales: Vec<WearScale>,
    /// The worst it can do when it fails.
    pub criticality: Severity,
    /// Whether a workshop can bring it back into order.
    pub repairable: bool,
    /// Least and greatest plausible Weibull shape; a belief, not data.
    pub plausible_shape: [f64; 2],
    /// Where that belief comes from.
    pub shape_source: String,
    /// What to bear in mind about its way of wearing.
    pub shape_note: String,
    /// How it fails.
    pub failure_modes: Vec<FailureMode>,
    /// How it is checked.
    pub checks: Vec<Check>,
    /// What people commonly do.
    pub common_practice: Vec<Practice>,
}

/// The manner in which a part type fails.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FailureMode {
    /// Its key, unique within the part type only.
    pub key: FailureModeKey,
    /// Its name on a page.
    pub name: String,
    /// The physical process behind it.
    pub mechanism: String,
    /// What commonly brings it about.
    pub typical_causes: Vec<String>,
    /// How it is noticed.
    pub detection: String,
    /// What the flight is like when it happens.
    pub usual_effect: String,
    /// How bad that is.
    pub severity: Severity,
}

/// A look or a measurement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Check {
    /// Its key, unique within the part type only.
    pub key: CheckKey,
    /// What is looked at.
    pub what: String,
    /// How it is done.
    pub how: String,
    /// When the part counts as sound.
    pub sound_if: String,
    /// Unit of the measured value, if there is one.
    pub unit: Option<String>,
    /// Whether a number is taken down.
    pub measured: bool,
    /// Where the limit comes from.
    pub source: String,
}

/// What people commonly do, with its interval or its trigger.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Practice {
    /// The job.
    pub task: String,
    /// Least and greatest of what is commonly done, in `unit`; absent where a trigger stands instead.
    pub interval: Option<[f64; 2]>,
    /// Unit of the interval: flights, days, charge-cycles, rpm, mm, or event.
    pub unit: String,
    /// The event that asks for the job.
    #[serde(default)]
    pub trigger: Option<String>,
    /// Where this comes from.
    pub source: String,
}

impl Practice {
    /// The least and greatest number of flights, where the interval is counted in flights and no trigger restarts it.
    #[must_use]
    pub fn in_flights(&self) -> Option<[f64; 2]> {
        self.interval
            .filter(|_| self.unit == "flights" && self.trigger.is_none())
    }

    /// Whether the job puts a new part in, judged by the task's first word.
    #[must_use]
    pub fn is_renewal(&self) -> bool {
        matches!(
            self.task.split_whitespace().next(),
            Some("Renew" | "Replace")
        )
    }
}

impl Catalogue {
    /// The part type of that key.
    #[must_use]
    pub fn part_type(&self, key: &PartTypeKey) -> Option<&PartType> {
        self.part_types.iter().find(|part| part.key == *key)
    }

    /// The family of that key.
    #[must_use]
    pub fn family(&self, key: &FamilyKey) -> Option<&Family> {
        self.families.iter().find(|family| family.key == *key)
    }

    /// The system of that key.
    #[must_use]
    pub fn system(&self, key: &SystemKey) -> Option<&System> {
        self.systems.iter().find(|system| system.key == *key)
    }
}

impl PartType {
    /// The failure mode of that key, if this part type has it.
    #[must_use]
    pub fn failure_mode(&self, key: &FailureModeKey) -> Option<&FailureMode> {
        self.failure_modes.iter().find(|mode| mode.key == *key)
    }

    /// The scale it is thought to wear on most plainly.
    #[must_use]
    pub fn first_scale(&self) -> WearScale {
        self.wear_scales
            .first()
            .copied()
            .unwrap_or(WearScale::Flights)
    }

    /// The smallest common renewal interval in flights, with its upper end; `None` where practice names none.
    #[must_use]
    pub fn renewal_in_flights(&self) -> Option<[f64; 2]> {
        self.common_practice
            .iter()
            .filter(|practice| practice.is_renewal())
            .filter_map(Practice::in_flights)
            .min_by(|[_, a], [_, b]| a.total_cmp(b))
    }
}

/// The embedded catalogue, read once.
///
/// # Panics
/// Never in a build whose tests passed: the file is embedded and a test reads it.
#[must_use]
pub fn catalogue() -> &'static Catalogue {
    static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| {
        serde_json::from_str(include_str!("../data/catalogue.json"))
            .expect("the embedded catalogue parses, as a test of this crate proves")
    });
    &CATALOGUE
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn the_embedded_catalogue_parses_and_holds_sixty_part_types() {
        assert_eq!(catalogue().part_types.len(), 60);
    }

    #[test]
    fn every_part_type_names_a_known_family_and_system() {
        for part in &catalogue().part_types {
            assert!(catalogue().family(&part.family).is_some(), "{}", part.key);
            assert!(catalogue().system(&part.system).is_some(), "{}", part.key);
        }
    }

    #[test]
    fn no_part_type_is_listed_twice_and_none_repeats_a_failure_mode() {
        let mut seen = HashSet::new();
        for part in &catalogue().part_types {
            assert!(seen.insert(&part.key), "{}", part.key);
            let modes: HashSet<_> = part.failure_modes.iter().map(|mode| &mode.key).collect();
            assert_eq!(modes.len(), part.failure_modes.len(), "{}", part.key);
        }
    }

    #[test]
    fn every_part_type_has_a_scale_a_mode_and_an_ordered_shape_range() {
        for part in &catalogue().part_types {
            assert!(
                !part.wear_scales.is_empty() && !part.failure_modes.is_empty(),
                "{}",
                part.key
            );
            let [low, high] = part.plausible_shape;
            assert!(0.0 < low && low < high && high < 10.0, "{}", part.key);
        }
    }

    #[test]
    fn every_practice_says_where_it_comes_from() {
        for practice in catalogue()
            .part_types
            .iter()
            .flat_map(|part| &part.common_practice)
        {
            assert!(!practice.source.is_empty());
            assert!(practice.interval.is_none_or(|[low, high]| low <= high));
        }
    }

    #[test]
    fn the_tail_belt_is_commonly_renewed_between_150_and_300_flights() {
        let belt = catalogue()
            .part_type(&PartTypeKey::new("tail-belt").unwrap())
            .unwrap();
        assert_eq!(belt.renewal_in_flights(), Some([150.0, 300.0]));
    }
}
