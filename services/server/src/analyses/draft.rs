//! The body of an analysis, and the rules that a schema cannot say.

use super::lives::{LifeFault, LifeRow, Lives};
use super::question::{Question, method_of};
use super::systems::{SystemDraft, read_systems};
use super::work::too_much;
use crate::platform::http::problem::{FieldFault, Problem};
use crate::platform::http::text::Line;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use utoipa::ToSchema;
use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::{Level, LevelError};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::recurrent::Histories;
use wearbook_analysis::report::LimitsKind;

/// More groups than this make no readable comparison, and each costs a report.
const MOST_GROUPS: usize = 50;

/// Lives, or systems with recurring events, and what is asked of them.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AnalysisDraft {
    /// The lives, in any order. A row is a life, or as many identical ones as its `count` says; what is bounded here and
    /// below is the number of rows. All ages are on one scale. Unless all failures are at known ages and all lives seen
    /// from new, rows times causes may be at most 20 000 with more than one cause. Either lives or systems.
    #[schema(min_items = 1, max_items = 5000, required = false)]
    pub lives: Option<Vec<LifeDraft>>,
    /// Units that are repaired and go on, in any order, each with the ages at its events. All ages are on one scale. At
    /// most 20 000 events in all. Either lives or systems; of the other members only the level goes with systems.
    #[schema(min_items = 1, max_items = 5000, required = false)]
    pub systems: Option<Vec<SystemDraft>>,
    /// Names of the covariates, in the order in which every life gives its numbers. Rows times covariates times families
    /// named may be at most 20 000.
    #[serde(default)]
    #[schema(max_items = 8, required = false)]
    pub covariates: Vec<Line<100>>,
    /// Count failures of this cause only: a failure of another cause then ends its life unfailed. All causes unless said.
    #[schema(required = false)]
    pub cause: Option<Line<100>>,
    /// Families to fit, each once, in the order of the answer: weibull, exponential, lognormal and loglogistic unless said.
    /// The three others take at most 500 rows. Where lives have covariates, accelerated life is fitted by the families
    /// named, by the Weibull unless said.
    #[schema(min_items = 1, max_items = 7, required = false)]
    pub families: Option<Vec<Family>>,
    /// Two-sided confidence level of all limits: 0.95 unless said.
    #[serde(default = "usual_level")]
    #[schema(minimum = 0.5, maximum = 0.999, required = false, example = 0.95)]
    pub level: f64,
    /// Shares failed at which every model states its age: 0.01, 0.05, 0.1 and 0.5 unless said.
    #[schema(max_items = 12, required = false)]
    pub shares: Option<Vec<Share>>,
    /// How limits of parameters and ages are made: modified-root unless said. Models with covariates take the likelihood
    /// ratio, or the delta method where it is asked for. Limits may count at most 2 500: (shares + 2) for each of weibull, exponential, lognormal and loglogistic, for all lives, again for
    /// each group and once for each of up to 12 causes. By modified-root each counts 1, or 0 where all lives failed at
    /// known ages, seen from new, of one cause. Where a life joined late or failed between two ages, each by modified-root
    /// or likelihood-ratio counts 16, and 1 more for every 80 rows of its fit. Others do not count.
    #[schema(required = false)]
    pub limits: Option<LimitsKind>,
    /// Seed of the samples drawn, for the bootstrap only: 1 unless said. The same seed gives the same limits.
    #[schema(
        minimum = 0,
        maximum = 9007199254740991_u64,
        required = false,
        example = 1
    )]
    pub seed: Option<u64>,
    /// Samples drawn for each limit, for the bootstrap only: 999 unless said. Each fit counts (rows + 100) times samples
    /// times (shares + 3), times 5 for lognormal, 3 for loglogistic, 2 for weibull, and times 10 unless all failures
    /// are at known ages and all lives seen from new; families are fitted to all lives and to each group, and one of them to each of up to 12
    /// causes. All fits together may count at most 15 000 000.
    #[schema(minimum = 100, maximum = 5000, required = false, example = 999)]
    pub resamples: Option<u32>,
}

/// A share failed, between 0 and 1.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[schema(as = ShareFailed, minimum = 0.00001, maximum = 0.99999)]
pub struct Share(f64);

/// One life, or several identical ones.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LifeDraft {
    /// Age at which watching began: 0 unless said.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 1e12, required = false, example = 0)]
    pub entry: f64,
    /// Last age at which it was known to work: `entry` unless said. Equal to `upper` for a failure at a known age.
    #[schema(minimum = 0, maximum = 1e12, required = false, example = 61)]
    pub lower: Option<f64>,
    /// Age at which it was known to have failed, at least `lower`: equal to it for a failure at a known age, above it for
    /// one between two looks. Null or absent if it was not seen to fail.
    #[schema(minimum = 0, maximum = 1e12, required = false, example = 61)]
    pub upper: Option<f64>,
    /// How many identical lives this one stands for: 1 unless said.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 1000000000, required = false, example = 1)]
    pub count: u64,
    /// Why it failed, in your words: a name that failures of one kind share. Only for lives that were seen to fail.
    #[schema(required = false)]
    pub cause: Option<Line<100>>,
    /// The group it belongs to. If one life has a group, all need one; at most 50 groups.
    #[schema(required = false)]
    pub group: Option<Line<100>>,
    /// One number for each named covariate.
    #[serde(default)]
    #[schema(max_items = 8, required = false)]
    pub covariates: Vec<Covariate>,
}

/// The value of a covariate.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[schema(as = CovariateValue, minimum = -1e12, maximum = 1e12)]
pub struct Covariate(f64);

fn usual_level() -> f64 {
    Level::TWO_SIDED_95.level()
}

fn one() -> u64 {
    1
}

/// What a body asks, checked.
#[derive(Debug, Clone, PartialEq)]
pub enum Asked {
    /// A question of lives.
    Lives(Lives, Question),
    /// Everything about recurring events, with this confidence of all limits.
    Systems(Histories, Level),
}

impl AnalysisDraft {
    /// The checked lives with the question, or the checked systems.
    ///
    /// # Errors
    /// `invalid-record` with every broken rule.
    pub fn read(mut self) -> Result<Asked, Problem> {
        match (self.lives.take(), self.systems.take()) {
            (Some(lives), None) => self.read_lives(lives),
            (None, Some(systems)) => self.read_of_systems(systems),
            (lives, _) => {
                let member = if lives.is_some() { "systems" } else { "lives" };
                Err(Problem::invalid(
                    &format!("/{member}"),
                    "lives-or-systems",
                    "either lives or systems",
                    "",
                ))
            }
        }
    }

    fn read_of_systems(self, systems: Vec<SystemDraft>) -> Result<Asked, Problem> {
        let mut faults = self.of_lives_only();
        let level = Level::two_sided(self.level);
        faults.extend(level_fault(&level, self.level));
        match (read_systems(systems), level) {
            (Ok(histories), Ok(level)) if faults.is_empty() => Ok(Asked::Systems(histories, level)),
            (read, _) => {
                faults.extend(read.err().unwrap_or_default());
                Err(Problem::invalid_all(faults))
            }
        }
    }

    /// Members that say nothing about systems.
    fn of_lives_only(&self) -> Vec<FieldFault> {
        let said = [
            ("covariates", !self.covariates.is_empty()),
            ("cause", self.cause.is_some()),
            ("families", self.families.is_some()),
            ("shares", self.shares.is_some()),
            ("limits", self.limits.is_some()),
            ("seed", self.seed.is_some()),
            ("resamples", self.resamples.is_some()),
        ];
        said.into_iter()
            .filter(|(_, said)| *said)
            .map(|(member, _)| {
                FieldFault::new(format!("/{member}"), "lives-only", "only with lives", "")
            })
            .collect()
    }

    fn read_lives(self, given: Vec<LifeDraft>) -> Result<Asked, Problem> {
        let mut faults = repeated("/covariates", self.covariates.iter().map(|name| &**name));
        if let Some(families) = &self.families {
            faults.extend(repeated(
                "/families",
                families.iter().map(|family| family.code()),
            ));
        }
        let level = Level::two_sided(self.level);
        faults.extend(level_fault(&level, self.level));
        faults.extend(too_many_groups(&given));
        let limits = self.limits.unwrap_or_default();
        let method = method_of(limits, self.seed, self.resamples);
        if method.is_none() {
            let (member, value) = match self.seed {
                Some(seed) => ("seed", seed.to_string()),
                None => ("resamples", self.resamples.unwrap_or_default().to_string()),
            };
            faults.push(FieldFault::new(
                format!("/{member}"),
                "bootstrap-only",
                "only with limits bootstrap",
                value,
            ));
        }
        let names = self.covariates.into_iter().map(Into::into).collect();
        let rows = given.into_iter().map(LifeDraft::row).collect();
        let lives = Lives::new(rows, names);
        match (lives, level, method) {
            (Ok(lives), Ok(level), Some(method)) if faults.is_empty() => {
                let usual = Question::default();
                let shares = self
                    .shares
                    .map(|shares| shares.iter().map(|share| share.0).collect());
                let mut question = Question {
                    cause: self.cause.map(Into::into),
                    level,
                    shares: shares.unwrap_or_else(|| usual.shares.clone()),
                    method,
                    ..usual
                };
                if let Some(families) = self.families {
                    question = question.of_families(families);
                }
                match too_much(&lives, &question) {
                    faults if faults.is_empty() => Ok(Asked::Lives(lives, question)),
                    faults => Err(Problem::invalid_all(faults)),
                }
            }
            (lives, _, _) => {
                faults.extend(lives.err().unwrap_or_default().into_iter().map(placed));
                Err(Problem::invalid_all(faults))
            }
        }
    }
}

impl LifeDraft {
    fn row(self) -> LifeRow {
        LifeRow {
            observation: Observation {
                entry: self.entry,
                lower: self.lower.unwrap_or(self.entry),
                upper: self.upper.unwrap_or(f64::INFINITY),
                cause: self.cause.map(Into::into),
                count: self.count,
            },
            group: self.group.map(Into::into),
            covariates: self.covariates.iter().map(|number| number.0).collect(),
        }
    }
}

fn level_fault<T>(level: &Result<T, LevelError>, given: f64) -> Option<FieldFault> {
    let error = level.as_ref().err()?;
    Some(FieldFault::new("/level", "level", error.to_string(), given))
}

fn placed(fault: LifeFault) -> FieldFault {
    FieldFault::new(
        format!("/lives/{}/{}", fault.row, fault.field),
        fault.field,
        fault.rule,
        fault.value,
    )
}

fn repeated<'a>(list: &str, names: impl Iterator<Item = &'a str>) -> Vec<FieldFault> {
    let mut seen = BTreeSet::new();
    names
        .enumerate()
        .filter(|(_, name)| !seen.insert(*name))
        .map(|(place, name)| {
            FieldFault::new(format!("{list}/{place}"), "unique", "each once", name)
        })
        .collect()
}

fn too_many_groups(lives: &[LifeDraft]) -> Option<FieldFault> {
    let mut seen = BTreeSet::new();
    lives.iter().enumerate().find_map(|(row, life)| {
        let group = life.group.as_deref()?;
        (seen.insert(group) && seen.len() > MOST_GROUPS).then(|| {
            FieldFault::new(
                format!("/lives/{row}/group"),
                "groups",
                format!("at most {MOST_GROUPS} groups"),
                group,
            )
        })
    })
}
