//! What is asked of lives.

use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::{Level, Method, Resampling};
use wearbook_analysis::regression::RegressionLimitMethod;
use wearbook_analysis::report::{LimitsKind, Options};

/// What is asked of lives.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Families to fit, in the order of the answer.
    pub families: Vec<Family>,
    /// Only failures of this cause count; a failure of another cause ends its life unfailed.
    pub cause: Option<String>,
    /// Confidence of all limits.
    pub level: Level,
    /// Shares failed at which models state their age.
    pub shares: Vec<f64>,
    /// How limits are made.
    pub method: Method,
    /// Families of the models with covariates, where lives have any.
    pub regression: Vec<Family>,
}

impl Default for Question {
    fn default() -> Self {
        let usual = Options::default();
        Self {
            families: usual.families,
            cause: None,
            level: usual.level,
            shares: usual.shares,
            method: usual.method,
            regression: vec![Family::Weibull],
        }
    }
}

impl Question {
    /// The same question of these families only, with covariates as well as without.
    #[must_use]
    pub fn of_families(self, families: Vec<Family>) -> Self {
        Self {
            regression: families.clone(),
            families,
            ..self
        }
    }

    /// What is asked of one group, whose causes are compared with those of the others and not fitted again.
    pub(super) fn options_of_group(&self) -> Options {
        Options {
            shares: self.shares.clone(),
            families: self.families.clone(),
            method: self.method,
            ..Options::at(self.level)
        }
    }

    /// What is asked of all lives.
    pub(super) fn options(&self) -> Options {
        Options {
            by_cause: Some(self.family_by_cause()),
            ..self.options_of_group()
        }
    }

    /// The Weibull where it is asked for, else the first family asked for that causes can be fitted by.
    fn family_by_cause(&self) -> Family {
        let asked = |family: &&Family| self.families.contains(family);
        // The Weibull stands first.
        Family::ALL
            .iter()
            .find(asked)
            .copied()
            .unwrap_or(Family::Weibull)
    }

    /// Models with covariates know two kinds of limits; the delta method is taken where it is asked for.
    pub(super) fn regression_method(&self) -> RegressionLimitMethod {
        match self.method {
            Method::Delta => RegressionLimitMethod::Delta,
            Method::ModifiedRoot | Method::LikelihoodRatio | Method::Bootstrap(_) => {
                RegressionLimitMethod::LikelihoodRatio
            }
        }
    }
}

/// Samples drawn unless said.
const RESAMPLES: u32 = 999;

/// Seed unless said.
const SEED: u64 = 1;

/// The method of limits. None where a seed or a number of samples is given to a kind that draws none.
#[must_use]
pub fn method_of(kind: LimitsKind, seed: Option<u64>, resamples: Option<u32>) -> Option<Method> {
    let drawn = seed.is_some() || resamples.is_some();
    match kind {
        LimitsKind::Bootstrap => Some(Method::Bootstrap(Resampling {
            seed: seed.unwrap_or(SEED),
            resamples: resamples.unwrap_or(RESAMPLES),
        })),
        _ if drawn => None,
        LimitsKind::ModifiedRoot => Some(Method::ModifiedRoot),
        LimitsKind::LikelihoodRatio => Some(Method::LikelihoodRatio),
        LimitsKind::Delta => Some(Method::Delta),
    }
}

/// A question that these lives cannot be asked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuestionFault {
    /// No failure has this cause.
    #[error("the cause of one of the failures: {}", known_causes(known))]
    UnknownCause {
        /// The causes that failures have.
        known: Vec<String>,
    },
}

fn known_causes(known: &[String]) -> String {
    if known.is_empty() {
        "none of them has a cause".to_owned()
    } else {
        known.join(", ")
    }
}
