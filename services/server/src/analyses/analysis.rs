//! The answer: one report of all lives, one of each group, and the comparison of the groups.

use super::lives::Lives;
use super::question::{Question, QuestionFault};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_analysis::ENGINE;
use wearbook_analysis::report::{self, Comparison, RecurrenceReport, RegressionReport, Report};

/// What the engine says of lives that were handed in. Nothing of it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Analysis {
    /// The engine that computed it.
    #[schema(max_length = 100)]
    pub engine_version: &'static str,
    /// The cause whose failures count; null if all do.
    #[schema(max_length = 100)]
    pub cause: Option<String>,
    /// All lives together.
    pub report: Report,
    /// Each group alone, in order of name; null if lives have no groups.
    #[schema(max_items = 50)]
    pub groups: Option<Vec<GroupReport>>,
    /// Whether the groups live alike; null for fewer than two groups.
    pub comparison: Option<Comparison>,
    /// Life as it depends on the covariates; null if lives have none.
    pub regression: Option<RegressionReport>,
}

/// What the engine says of recurring events that were handed in. Nothing of it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EventAnalysis {
    /// The engine that computed it.
    #[schema(max_length = 100)]
    pub engine_version: &'static str,
    /// All systems together.
    pub recurrence: RecurrenceReport,
}

/// The answer to what was handed in: `report` and its companions for lives, `recurrence` for systems.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(untagged)]
pub enum AnalysisAnswer {
    /// To lives.
    Lives(Box<Analysis>),
    /// To systems.
    Systems(Box<EventAnalysis>),
}

/// One group alone.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GroupReport {
    /// The group.
    #[schema(max_length = 100)]
    pub group: String,
    /// Its lives.
    pub report: Report,
}

/// Answers a question.
///
/// # Errors
/// When these lives cannot be asked it.
pub fn analyse(lives: &Lives, question: &Question) -> Result<Analysis, QuestionFault> {
    let cause = question.cause.as_deref();
    if let Some(cause) = cause {
        let known = lives.causes();
        if !known.contains(&cause) {
            return Err(QuestionFault::UnknownCause {
                known: known.into_iter().map(str::to_owned).collect(),
            });
        }
    }
    let options = question.options_of_group();
    let groups = lives.groups(cause);
    let named: Vec<_> = groups
        .iter()
        .map(|(name, sample)| (name.clone(), sample))
        .collect();
    Ok(Analysis {
        engine_version: ENGINE,
        cause: question.cause.clone(),
        report: report::analyse(&lives.sample(cause), &question.options()),
        regression: lives.with_covariates(cause).map(|sample| {
            let method = question.regression_method();
            report::regress(&sample, &question.regression, question.level, method)
        }),
        comparison: (named.len() > 1).then(|| report::compare(&named)),
        groups: (!groups.is_empty()).then(|| {
            groups
                .iter()
                .map(|(name, sample)| GroupReport {
                    group: name.clone(),
                    report: report::analyse(sample, &options),
                })
                .collect()
        }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyses::LifeRow;
    use wearbook_analysis::observation::Observation;

    fn row(age: f64, cause: Option<&str>, group: Option<&str>) -> LifeRow {
        LifeRow {
            observation: Observation {
                cause: cause.map(str::to_owned),
                ..Observation::exact(age)
            },
            group: group.map(str::to_owned),
            covariates: Vec::new(),
        }
    }

    #[test]
    fn what_was_not_asked_is_absent() {
        let rows = vec![row(3.0, None, None), row(4.0, None, None)];
        let lives = Lives::new(rows, Vec::new()).unwrap();
        let found = analyse(&lives, &Question::default()).unwrap();
        assert_eq!((found.groups, found.comparison), (None, None));
    }

    #[test]
    fn two_groups_are_compared_and_one_is_not() {
        let rows = |second| {
            vec![
                row(3.0, None, Some("a")),
                row(4.0, None, Some(second)),
                row(5.0, None, Some("a")),
            ]
        };
        let compared = |second| {
            let lives = Lives::new(rows(second), Vec::new()).unwrap();
            analyse(&lives, &Question::default()).unwrap().comparison
        };
        assert!(compared("a").is_none());
        assert_eq!(compared("b").unwrap().tests.len(), 1);
    }

    #[test]
    fn a_cause_that_no_failure_has_is_refused_with_those_there_are() {
        let rows = vec![row(3.0, Some("wear"), None), row(4.0, Some("split"), None)];
        let lives = Lives::new(rows, Vec::new()).unwrap();
        let question = Question {
            cause: Some("rust".to_owned()),
            ..Question::default()
        };
        assert_eq!(
            analyse(&lives, &question).unwrap_err().to_string(),
            "the cause of one of the failures: split, wear"
        );
    }
}
