//! Groups of lives held against each other.

use serde::{Deserialize, Serialize};

use crate::nonparametric::{LogRank, log_rank};
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

/// Compares named groups. Never fails: what cannot be tested is said in a warning.
#[must_use]
pub fn compare(groups: &[(String, &Sample)]) -> Comparison {
    let samples: Vec<&Sample> = groups.iter().map(|(_, sample)| *sample).collect();
    match log_rank(&samples) {
        Ok(found) => Comparison {
            tests: vec![described(groups, &found)],
            warnings: Vec::new(),
        },
        Err(error) => Comparison {
            tests: Vec::new(),
            warnings: vec![Warning::new(
                WarningCode::EstimatorFailed,
                format!("The groups are not compared: {error}."),
            )],
        },
    }
}

fn described(groups: &[(String, &Sample)], found: &LogRank) -> GroupTest {
    GroupTest {
        test: TestName::LogRank,
        chi_square: found.chi_square,
        degrees_of_freedom: found.freedom,
        p_value: found.p_value,
        groups: groups
            .iter()
            .zip(&found.groups)
            .map(|((name, _), totals)| ComparedGroup {
                group: name.clone(),
                observed: totals.observed,
                expected: totals.expected,
            })
            .collect(),
    }
}
