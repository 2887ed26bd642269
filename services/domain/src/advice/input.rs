use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_analysis::sample::Sample;

use super::policy::{Policy, Target};
use crate::catalogue::PartType;
use crate::ids::FitId;
use crate::keys::FailureModeKey;
use crate::populations::Withheld;
use crate::units::{Share, WearScale};

/// Everything one piece of advice depends on; the same input gives the same advice.
#[derive(Debug, Clone)]
pub struct AdviceInput<'a> {
    /// What the catalogue says of the part type.
    pub part_type: &'a PartType,
    /// Whose records these are, as a noun phrase, for instance "all tail drive belts on record".
    pub population: &'a str,
    /// The clock of all ages here.
    pub scale: WearScale,
    /// The lives of the population on that scale.
    pub sample: &'a Sample,
    /// How many lives each contributing owner brought, in any order.
    pub lives_per_contributor: &'a [u64],
    /// The failure modes behind the failures, with their counts.
    pub modes: &'a [ModeCount],
    /// Age of the component asked about, on the scale; `None` for the part type in general.
    pub age: Option<f64>,
    /// Mean wear of one flight on the scale, to turn targets per flight and common practice into it. Not read on the
    /// scale of flights; without it on another scale, targets per flight and common practice stay out.
    pub mean_wear_per_flight: Option<f64>,
    /// Share of the population's components whose age is on record; `None` if nobody counted.
    pub ages_known: Option<Share>,
    /// Share of what happened that was recorded, for instance of airframes with a recent reading; `None` if nobody
    /// measured it, which keeps the grade at weak.
    pub records_complete: Option<Share>,
    /// Whether a test of the fit rejected the Weibull; `None` if none was made.
    pub fit_rejected: Option<bool>,
    /// Whether a bad lot or a notice lies inside the window of the data without having been split out.
    pub lot_or_notice_inside: bool,
    /// The moment up to which records were read.
    pub data_as_of: DateTime<Utc>,
    /// The stored fit these lives belong to, if there is one.
    pub fit_id: Option<FitId>,
    /// Set when the population is too small or too one-sided to be shown.
    pub withheld: Option<Withheld>,
    /// The targets to meet.
    pub policy: Policy,
}

impl<'a> AdviceInput<'a> {
    /// Input with nothing known but the lives: no age, no wear per flight, the shipped policy.
    #[must_use]
    pub const fn new(
        part_type: &'a PartType,
        scale: WearScale,
        sample: &'a Sample,
        data_as_of: DateTime<Utc>,
    ) -> Self {
        Self {
            part_type,
            population: "all records of this part type",
            scale,
            sample,
            lives_per_contributor: &[],
            modes: &[],
            age: None,
            mean_wear_per_flight: None,
            ages_known: None,
            records_complete: None,
            fit_rejected: None,
            lot_or_notice_inside: false,
            data_as_of,
            fit_id: None,
            withheld: None,
            policy: Policy::DEFAULT,
        }
    }

    /// The row of the policy for this part type.
    #[must_use]
    pub const fn target(&self) -> Target {
        self.policy.target(self.part_type.criticality)
    }

    /// Wear of one flight on the scale, if known: one on the scale of flights.
    #[must_use]
    pub fn wear_per_flight(&self) -> Option<f64> {
        match self.scale {
            WearScale::Flights => Some(1.0),
            _ => self
                .mean_wear_per_flight
                .filter(|wear| wear.is_finite() && *wear > 0.0),
        }
    }

    /// The common renewal interval on the scale, if practice names one and it can be converted.
    #[must_use]
    pub fn practice_on_scale(&self) -> Option<[f64; 2]> {
        let wear = self.wear_per_flight()?;
        self.part_type
            .renewal_in_flights()
            .map(|[low, high]| [low * wear, high * wear])
    }
}

/// How often one failure mode was seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ModeCount {
    /// The manner of failure.
    pub mode: FailureModeKey,
    /// How many of the failures.
    pub failures: u64,
}
