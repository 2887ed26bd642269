//! The numbers at risk below a curve, and from what they may be counted.

use super::survival::CurvePoint;
use wearbook_analysis::nonparametric::numbers_at_risk;
use wearbook_analysis::report::Report;
use wearbook_analysis::sample::Sample;

/// From what the numbers at risk below a curve are counted.
#[derive(Debug, Clone, PartialEq)]
pub enum AtRisk {
    /// From the lives themselves.
    Lives(Sample),
    /// From the steps of the curve, which name every age at which somebody left. Right where all were watched from new.
    Steps,
    /// Not at all: some were watched from a later age on, and the steps do not say when they joined.
    Unknown,
}

impl AtRisk {
    /// What a report allows without its lives.
    #[must_use]
    pub fn of_report(report: &Report) -> Self {
        if report.sample.delayed_entry == 0 {
            Self::Steps
        } else {
            Self::Unknown
        }
    }

    /// Pieces watched just before each age, at age 0 those watched from new. None where the estimator counts none, or
    /// where they cannot be told.
    pub(super) fn numbers(&self, points: &[CurvePoint], ages: &[f64]) -> Option<Vec<u64>> {
        match self {
            Self::Lives(sample) => numbers_at_risk(sample, ages).ok(),
            Self::Steps => ages
                .iter()
                .map(|age| {
                    let next = points.iter().find(|point| point.time >= *age);
                    // An interval estimate counts nobody at any of its steps.
                    let counted = points.first()?.at_risk;
                    counted.and_then(|_| next.map_or(Some(0), |point| point.at_risk))
                })
                .collect(),
            Self::Unknown => None,
        }
    }

    /// Why there are none, where the curve itself counts pieces.
    pub(super) fn reason(&self, points: &[CurvePoint]) -> Option<&'static str> {
        let counted = points.iter().any(|point| point.at_risk.is_some());
        (*self == Self::Unknown && counted).then_some(
            "Numbers at risk are left out: some pieces were watched from a later age on only, \
             and what is stored of the fit does not say from when.",
        )
    }
}
