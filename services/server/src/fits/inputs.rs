//! Everything a fit and its advice depend on, kept as text beside them.

use crate::platform::http::problem::Problem;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use wearbook_analysis::ENGINE;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::report::{Options, Report, analyse};
use wearbook_analysis::sample::Sample;
use wearbook_domain::advice::{Advice, AdviceInput, ModeCount, advise};
use wearbook_domain::catalogue::PartType;
use wearbook_domain::ids::FitId;
use wearbook_domain::lives::{Life, to_sample};
use wearbook_domain::units::{Share, WearScale};

/// Raised whenever the advice drawn from the same fit changes.
const ADVICE: u32 = 2;

/// The engine that made a fit, and the rules that drew advice from it: a change of either makes a new fit.
pub fn engine_version() -> String {
    format!("{ENGINE}, advice {ADVICE}")
}

/// Shares failed at which every model states its age, close enough for a smooth band on a plot.
const SHARES: [f64; 12] = [
    0.001, 0.003, 0.01, 0.03, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9, 0.98,
];

/// What goes in. The same inputs give the same report and advice, byte for byte.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FitInputs {
    /// The lives, in the order of their components' ids.
    pub lives: Vec<Life>,
    /// Lives of each contributor, largest first.
    pub lives_per_contributor: Vec<u64>,
    /// Mean wear of one flight on the scale, if anything was logged.
    pub mean_wear_per_flight: Option<f64>,
    /// Share of the components whose age is on record.
    pub ages_known: Option<f64>,
}

impl FitInputs {
    /// The lives as the statistics take them.
    ///
    /// # Errors
    /// When a stored life breaks a rule of the sample, which is our fault.
    pub fn sample(&self) -> Result<Sample, Problem> {
        to_sample(&self.lives).map_err(Problem::internal)
    }

    /// The report of the engine on these lives.
    #[must_use]
    pub fn report(sample: &Sample) -> Report {
        analyse(
            sample,
            &Options {
                shares: SHARES.to_vec(),
                ..Options::at(Level::TWO_SIDED_90)
            },
        )
    }

    /// The advice that follows, in general or at one component's age.
    #[must_use]
    pub fn advice(
        &self,
        part_type: &PartType,
        scale: WearScale,
        sample: &Sample,
        about: &About,
        age: Option<f64>,
    ) -> Advice {
        let mut counts: BTreeMap<_, u64> = BTreeMap::new();
        for mode in self.lives.iter().filter_map(|life| life.end.mode()) {
            *counts.entry(mode.clone()).or_default() += 1;
        }
        let modes: Vec<ModeCount> = counts
            .into_iter()
            .map(|(mode, failures)| ModeCount { mode, failures })
            .collect();
        advise(&AdviceInput {
            lives_per_contributor: &self.lives_per_contributor,
            modes: &modes,
            age,
            mean_wear_per_flight: self.mean_wear_per_flight,
            ages_known: self.ages_known.and_then(|share| Share::new(share).ok()),
            fit_id: about.fit,
            ..AdviceInput::new(part_type, scale, sample, about.data_as_of)
        })
    }
}

/// Which fit the advice belongs to, and how fresh its data are.
#[derive(Debug, Clone, Copy)]
pub struct About {
    /// The stored fit, if there is one.
    pub fit: Option<FitId>,
    /// The moment up to which records were read.
    pub data_as_of: DateTime<Utc>,
}
