//! The tables that stand under the charts.

use super::{ProbabilityChart, SurvivalChart};
use crate::pages::figures;

/// More rows than this would make the page heavier than a phone should load at a flying field.
const MOST_ROWS: usize = 200;

/// A figure as written and as computed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// For the eye.
    pub text: String,
    /// For machines: reads back as the same number, empty where there is none.
    pub exact: String,
}

/// One row of the table under a survival curve: an age at which pieces failed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CurveRow {
    /// The age.
    pub time: Written,
    /// Pieces at risk just before.
    pub at_risk: String,
    /// Pieces that failed.
    pub failed: String,
    /// Pieces last seen working since the row above.
    pub censored: String,
    /// Share still working.
    pub survival: Written,
    /// Its lower limit.
    pub lower: Written,
    /// Its upper limit.
    pub upper: Written,
}

/// Every element of a table up to a bound, beyond it evenly picked ones.
pub(super) fn every<T>(rows: &[T]) -> impl Iterator<Item = &T> {
    rows.iter().step_by(rows.len().div_ceil(MOST_ROWS).max(1))
}

impl Written {
    /// A word, which machines read as it stands.
    pub(super) fn words(text: &str) -> Self {
        Self {
            text: text.to_owned(),
            exact: text.to_owned(),
        }
    }

    /// A number in words for the eye.
    pub(super) fn of(value: Option<f64>, words: fn(f64) -> String) -> Self {
        value.map_or_else(
            || Self {
                text: "none".to_owned(),
                exact: String::new(),
            },
            |value| Self {
                text: words(value),
                exact: figures::exact(value),
            },
        )
    }
}

fn counted(value: Option<u64>) -> String {
    value.map_or_else(|| "none".to_owned(), figures::count)
}

impl SurvivalChart {
    /// The ages at which pieces failed, every one up to a bound, beyond it evenly picked ones.
    #[must_use]
    pub fn rows(&self) -> Vec<CurveRow> {
        let mut rows = Vec::new();
        let mut censored = Some(0);
        for point in &self.points {
            if !point.is_step() {
                censored = censored
                    .zip(point.censored)
                    .map(|(before, here)| before + here);
                continue;
            }
            rows.push(CurveRow {
                time: Written::of(Some(point.time), figures::age),
                at_risk: counted(point.at_risk),
                failed: counted(point.failed),
                censored: counted(censored),
                survival: Written::of(Some(point.survival), figures::fraction),
                lower: Written::of(point.lower, figures::fraction),
                upper: Written::of(point.upper, figures::fraction),
            });
            censored = point.censored;
        }
        rows.into_iter().step_by(self.stride()).collect()
    }

    /// Every how many-th step the table shows; 1 when it shows all.
    #[must_use]
    pub fn stride(&self) -> usize {
        let steps = self.points.iter().filter(|point| point.is_step()).count();
        steps.div_ceil(MOST_ROWS).max(1)
    }
}

impl ProbabilityChart {
    /// Age and plotted share failed of each point, every one up to a bound.
    #[must_use]
    pub fn rows(&self) -> Vec<(Written, Written)> {
        every(&self.points)
            .map(|point| {
                (
                    Written::of(Some(point.age), figures::age),
                    Written::of(Some(point.failed), figures::fraction),
                )
            })
            .collect()
    }
}
