//! Groups of lives held against each other.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::incidence::MOST_CAUSES;
use crate::nonparametric::{LogRankGroup, gray_test, log_rank};
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

/// Groups of lives held against each other. What cannot be tested is left out, with a warning.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisComparison))]
pub struct Comparison {
    /// The tests that could be made.
    pub tests: Vec<GroupTest>,
    /// Why a test is missing, and what to mind.
    pub warnings: Vec<Warning>,
}

/// One test of whether the groups live alike.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisGroupTest))]
pub struct GroupTest {
    /// Which test.
    pub test: TestName,
    /// The cause that the test is about; absent where it is about all failures, or about those without a cause.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cause: Option<String>,
    /// Test statistic.
    pub chi_square: f64,
    /// Degrees of freedom: groups that could be compared, less one.
    pub degrees_of_freedom: u32,
    /// Chance of a statistic at least as large if the groups live alike.
    pub p_value: f64,
    /// Every group, in order of name.
    pub groups: Vec<ComparedGroup>,
}

/// A test of groups.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisTestName))]
pub enum TestName {
    /// Every failure weighs the same.
    LogRank,
    /// The share failed of one cause, while the others act too (Gray 1988).
    Gray,
}

/// One group's part in a test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisComparedGroup))]
pub struct ComparedGroup {
    /// The group.
    pub group: String,
    /// Failures seen, with the weights of the test.
    pub observed: f64,
    /// Failures expected if all groups lived alike, with the same weights.
    pub expected: f64,
}

/// Compares named groups: all failures, and with two or more causes the share failed of each. Never fails: what cannot
/// be tested is said in a warning.
#[must_use]
pub fn compare(groups: &[(String, &Sample)]) -> Comparison {
    let samples: Vec<&Sample> = groups.iter().map(|(_, sample)| *sample).collect();
    let mut comparison = Comparison {
        tests: Vec::new(),
        warnings: Vec::new(),
    };
    match log_rank(&samples) {
        Ok(found) => comparison.tests.push(GroupTest {
            test: TestName::LogRank,
            cause: None,
            chi_square: found.chi_square,
            degrees_of_freedom: found.freedom,
            p_value: found.p_value,
            groups: described(groups, &found.groups),
        }),
        Err(error) => comparison.warn(format!("The groups are not compared: {error}.")),
    }
    by_cause(groups, &samples, &mut comparison);
    comparison
}

fn by_cause(groups: &[(String, &Sample)], samples: &[&Sample], comparison: &mut Comparison) {
    let causes: BTreeSet<Option<String>> = samples
        .iter()
        .flat_map(|sample| sample.causes())
        .map(|(cause, _)| cause)
        .collect();
    if causes.len() > MOST_CAUSES {
        comparison.warn(format!(
            "The groups are not compared by cause: there are {} causes, more than {MOST_CAUSES}.",
            causes.len()
        ));
    }
    if !(2..=MOST_CAUSES).contains(&causes.len()) {
        return;
    }
    for cause in causes {
        match gray_test(samples, cause.as_deref(), 0.0) {
            Ok(found) => comparison.tests.push(GroupTest {
                test: TestName::Gray,
                chi_square: found.chi_square,
                degrees_of_freedom: found.freedom,
                p_value: found.p_value,
                groups: described(groups, &found.groups),
                cause,
            }),
            Err(error) => comparison.warn(format!(
                "The groups are not compared by {}: {error}.",
                cause.map_or_else(
                    || "failures without a cause".to_owned(),
                    |cause| format!("cause {cause}")
                )
            )),
        }
    }
}

impl Comparison {
    fn warn(&mut self, message: String) {
        self.warnings
            .push(Warning::new(WarningCode::EstimatorFailed, message));
    }
}

fn described(groups: &[(String, &Sample)], found: &[LogRankGroup]) -> Vec<ComparedGroup> {
    groups
        .iter()
        .zip(found)
        .map(|((name, _), totals)| ComparedGroup {
            group: name.clone(),
            observed: totals.observed,
            expected: totals.expected,
        })
        .collect()
}
