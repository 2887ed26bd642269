//! What one request may ask of the processor: about two seconds of one core at the most.

use super::lives::Lives;
use super::question::Question;
use crate::platform::http::problem::FieldFault;
use std::collections::BTreeSet;
use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::Method;

/// Rows for the families whose likelihood is an integral or has a bend.
const MOST_ROWS_OF_HEAVY_FAMILIES: usize = 500;

/// Rows times covariates times families.
const MOST_REGRESSION: usize = 20_000;

/// Rows times causes, where failures are not known exactly.
const MOST_BY_CAUSE: usize = 20_000;

/// How many rows one row counts for in drawn samples where lives are not all exact and seen from new.
const INEXACT: usize = 10;

/// Rows of each fit, each sample with its own cost, times samples times limits times the family's weight.
const MOST_DRAWN: usize = 15_000_000;

/// Limits that are searched for, by what each costs: see [`Fits::searched`].
const MOST_SEARCHED: usize = 2_500;

/// What a limit costs where lives joined late or failed between two ages, and how many lives cost one more.
const LATE: (usize, usize) = (16, 80);

/// The engine fits no more causes than this apart.
const MOST_CAUSES: usize = 12;

/// What is not allowed of these lives, with the member to change.
pub(super) fn too_much(lives: &Lives, question: &Question) -> Vec<FieldFault> {
    let rows = lives.rows().len();
    let mut faults = Vec::new();
    let heavy = question
        .families
        .iter()
        .position(|family| !Family::ALL.contains(family));
    if let Some(place) = heavy.filter(|_| rows > MOST_ROWS_OF_HEAVY_FAMILIES) {
        let family = question.families.get(place).copied();
        faults.push(FieldFault::new(
            format!("/families/{place}"),
            "work",
            format!("this family for at most {MOST_ROWS_OF_HEAVY_FAMILIES} rows of lives"),
            family.map_or("", Family::code),
        ));
    }
    let regression = rows
        .saturating_mul(lives.covariates().len())
        .saturating_mul(question.regression.len());
    if regression > MOST_REGRESSION {
        faults.push(FieldFault::new(
            "/covariates",
            "work",
            format!("at most {MOST_REGRESSION} rows times covariates times families"),
            regression,
        ));
    }
    let inexact = lives.rows().iter().any(|row| {
        let life = &row.observation;
        life.entry > 0.0 || (life.upper.is_finite() && life.lower < life.upper)
    });
    let causes = lives.causes().len();
    if inexact && question.cause.is_none() && causes > 1 && rows * causes > MOST_BY_CAUSE {
        faults.push(FieldFault::new(
            "/lives",
            "work",
            format!("at most {MOST_BY_CAUSE} rows times causes, unless all failures are at known ages and all lives seen from new, or one cause is named"),
            rows * causes,
        ));
    }
    let fits = Fits::of(lives, question);
    match question.method {
        Method::Bootstrap(resampling) => {
            let drawn = fits
                .drawn(question, inexact)
                .saturating_mul(usize::try_from(resampling.resamples).unwrap_or(usize::MAX));
            if drawn > MOST_DRAWN {
                faults.push(FieldFault::new(
                    "/resamples",
                    "work",
                    format!("at most {MOST_DRAWN} rows times samples times limits, by the weights of the families"),
                    drawn,
                ));
            }
        }
        Method::ModifiedRoot | Method::LikelihoodRatio => {
            let searched = fits.searched(lives, question, inexact);
            if searched > MOST_SEARCHED {
                faults.push(FieldFault::new(
                    "/limits",
                    "work",
                    format!("limits that count at most {MOST_SEARCHED}; fewer families, shares or groups, or limits by delta, which do not count"),
                    searched,
                ));
            }
        }
        Method::Delta => {}
    }
    faults
}

/// How often families are fitted.
struct Fits {
    rows: usize,
    groups: usize,
    causes: usize,
}

impl Fits {
    fn of(lives: &Lives, question: &Question) -> Self {
        let groups: BTreeSet<_> = lives.rows().iter().map(|row| &row.group).collect();
        let grouped = lives.rows().iter().any(|row| row.group.is_some());
        let causes = lives.causes().len();
        let apart = question.cause.is_none() && causes > 1;
        Self {
            rows: lives.rows().len(),
            groups: if grouped { groups.len() } else { 0 },
            causes: if apart && causes <= MOST_CAUSES {
                causes
            } else {
                0
            },
        }
    }

    /// Rows for one sample of each fit, times limits and weights.
    fn drawn(&self, question: &Question, inexact: bool) -> usize {
        let weights = question.families.iter().copied().map(weight);
        let (all, heaviest) = (weights.clone().sum::<usize>(), weights.max().unwrap_or(1));
        let together = self.rows + 100;
        let apart = if self.groups > 0 {
            self.rows + 100 * self.groups
        } else {
            0
        };
        let by_cause = self.causes.saturating_mul(together * heaviest);
        ((together + apart) * all)
            .saturating_add(by_cause)
            .saturating_mul(question.shares.len() + 3)
            .saturating_mul(if inexact { INEXACT } else { 1 })
    }

    /// Limits with the cost of each: that of a search along a flat likelihood where lives joined late or failed between
    /// two ages; 1 by the modified root where some were not seen to fail; nothing to speak of elsewhere.
    fn searched(&self, lives: &Lives, question: &Question, inexact: bool) -> usize {
        let families = question.families.iter();
        let families = families.filter(|family| Family::ALL.contains(family));
        let families = families.count();
        let fits = families * (1 + self.groups) + self.causes;
        let grouped = usize::from(self.groups > 0);
        let rows = (families * (1 + grouped) + self.causes) * self.rows;
        let running = || {
            lives
                .rows()
                .iter()
                .any(|row| row.observation.upper.is_infinite())
        };
        let corrected = question.method == Method::ModifiedRoot;
        let cost = if inexact {
            fits * LATE.0 + rows / LATE.1
        } else if corrected && (question.cause.is_some() || self.causes > 0 || running()) {
            fits
        } else {
            0
        };
        cost * (question.shares.len() + 2)
    }
}

/// How much a drawn sample of a family costs. The last three are not drawn from.
fn weight(family: Family) -> usize {
    match family {
        Family::Lognormal => 5,
        Family::Loglogistic => 3,
        Family::Weibull => 2,
        Family::Exponential
        | Family::Gamma
        | Family::GeneralisedGamma
        | Family::ThresholdWeibull => 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyses::LifeRow;
    use wearbook_analysis::intervals::Resampling;
    use wearbook_analysis::observation::Observation;

    fn lives(rows: u32, covariates: usize) -> Lives {
        let rows = (1..=rows).map(|age| LifeRow {
            observation: Observation::exact(f64::from(age)),
            group: None,
            covariates: vec![f64::from(age % 3); covariates],
        });
        let names = (0..covariates).map(|place| format!("x{place}"));
        Lives::new(rows.collect(), names.collect()).unwrap()
    }

    fn places(lives: &Lives, question: &Question) -> Vec<String> {
        let faults = too_much(lives, question);
        faults.into_iter().map(|fault| fault.pointer).collect()
    }

    #[test]
    fn usual_questions_are_allowed_up_to_the_most_lives() {
        assert!(places(&lives(5_000, 4), &Question::default()).is_empty());
    }

    #[test]
    fn each_kind_of_work_has_its_bound() {
        let heavy = Question::default().of_families(vec![Family::Weibull, Family::Gamma]);
        assert!(places(&lives(500, 0), &heavy).is_empty());
        assert_eq!(places(&lives(501, 0), &heavy), ["/families/1"]);
        let four = Question::default().of_families(Family::ALL.to_vec());
        assert_eq!(places(&lives(5_000, 2), &four), ["/covariates"]);
        let drawn = Question {
            method: Method::Bootstrap(Resampling {
                seed: 1,
                resamples: 999,
            }),
            ..Question::default()
        };
        assert!(places(&lives(40, 0), &drawn).is_empty());
        let looked_at = |causes: u32, rows: u32| {
            let rows = (1..=rows).map(|age| LifeRow {
                observation: Observation::interval(f64::from(age), f64::from(age) + 1.0)
                    .with_cause(format!("cause {}", age % causes)),
                group: None,
                covariates: Vec::new(),
            });
            Lives::new(rows.collect(), Vec::new()).unwrap()
        };
        assert_eq!(places(&looked_at(1, 40), &drawn), ["/resamples"]);
        // Limits that are searched for among so many are too much besides; those by the delta method do not count.
        let by_delta = Question {
            method: Method::Delta,
            ..Question::default()
        };
        let many = looked_at(12, 5_000);
        assert_eq!(places(&many, &by_delta), ["/lives"]);
        assert_eq!(places(&many, &Question::default()), ["/lives", "/limits"]);
        assert_eq!(places(&lives(1_000, 0), &drawn), ["/resamples"]);
    }

    #[test]
    fn limits_of_many_groups_are_bounded_by_how_the_lives_were_watched() {
        let grouped = |entry: f64, upper: f64, groups: u32| {
            let rows = (0..200).map(|row| LifeRow {
                observation: Observation {
                    entry,
                    lower: 5.0,
                    upper,
                    cause: None,
                    count: 1,
                },
                group: Some((row % groups).to_string()),
                covariates: Vec::new(),
            });
            Lives::new(rows.collect(), Vec::new()).unwrap()
        };
        let usual = Question::default();
        let many_shares = Question {
            shares: vec![0.1; 12],
            ..Question::default()
        };
        let ratio = Question {
            method: Method::LikelihoodRatio,
            ..many_shares.clone()
        };
        assert!(places(&grouped(0.0, 5.0, 50), &many_shares).is_empty());
        let running = grouped(0.0, f64::INFINITY, 50);
        assert!(places(&running, &usual).is_empty());
        assert_eq!(places(&running, &many_shares), ["/limits"]);
        assert!(places(&running, &ratio).is_empty());
        assert!(places(&grouped(2.0, 5.0, 5), &usual).is_empty());
        assert_eq!(places(&grouped(2.0, 5.0, 6), &usual), ["/limits"]);
        assert_eq!(places(&grouped(2.0, 5.0, 6), &ratio), ["/limits"]);
        let delta = Question {
            method: Method::Delta,
            ..many_shares
        };
        assert!(places(&grouped(2.0, 5.0, 50), &delta).is_empty());
    }
}
