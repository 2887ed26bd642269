//! Causes of failure beside each other: the share failed of each.

use serde::{Deserialize, Serialize};

use super::CurveLimits;
use crate::nonparametric::{Limits, aalen_johansen};
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

/// More causes than this make no readable picture, and each costs a fit.
pub(super) const MOST_CAUSES: usize = 12;

/// Share failed of each cause, while the others act too.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisIncidence))]
pub struct IncidenceReport {
    /// How the limits were made.
    pub limits: CurveLimits,
    /// One curve per cause, in order of name; failures without a cause come first, as a cause of their own.
    pub causes: Vec<CauseIncidenceReport>,
}

/// Share failed of one cause.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisCauseIncidence))]
pub struct CauseIncidenceReport {
    /// The cause; null for failures without one.
    pub cause: Option<String>,
    /// Failures of it.
    pub failures: u64,
    /// One step at every usage at which a life fails of it. The share is 0 before the first.
    pub points: Vec<IncidencePointReport>,
}

/// One step of the share failed of a cause.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisIncidencePoint))]
pub struct IncidencePointReport {
    /// Usage.
    pub time: f64,
    /// Lives at risk.
    pub at_risk: u64,
    /// Failures of this cause here.
    pub failed: u64,
    /// Share of all lives that have failed of this cause just after.
    pub incidence: f64,
    /// Standard error.
    pub std_error: f64,
    /// Lower limit; null where undefined.
    pub lower: Option<f64>,
    /// Upper limit; null where undefined.
    pub upper: Option<f64>,
}

/// Whether there are causes to hold beside each other; too many are left out with a caution.
pub(super) fn several_causes(sample: &Sample, warnings: &mut Vec<Warning>) -> bool {
    let causes = sample.causes().len();
    if causes > MOST_CAUSES {
        warnings.push(Warning::new(
            WarningCode::MixedCauses,
            format!(
                "There are {causes} causes; more than {MOST_CAUSES} are not told apart. Join causes that are alike."
            ),
        ));
    }
    (2..=MOST_CAUSES).contains(&causes)
}

/// None where failures are not known exactly, with a caution.
pub(super) fn incidence(
    sample: &Sample,
    limits: Limits,
    warnings: &mut Vec<Warning>,
) -> Option<IncidenceReport> {
    let found = match aalen_johansen(sample, limits) {
        Ok(found) => found,
        Err(error) => {
            warnings.push(Warning::new(
                WarningCode::EstimatorFailed,
                format!("No share failed of each cause is given: {error}."),
            ));
            return None;
        }
    };
    Some(IncidenceReport {
        limits: CurveLimits {
            kind: limits.kind,
            level: limits.level,
        },
        causes: found
            .causes
            .into_iter()
            .map(|curve| CauseIncidenceReport {
                cause: curve.cause,
                failures: curve.failures,
                points: curve
                    .points
                    .iter()
                    .map(|point| IncidencePointReport {
                        time: point.time,
                        at_risk: point.at_risk,
                        failed: point.failed,
                        incidence: point.incidence,
                        std_error: point.variance.sqrt(),
                        lower: point.lower,
                        upper: point.upper,
                    })
                    .collect(),
            })
            .collect(),
    })
}
