//! Why a model could not be fitted.

use super::life_distribution::SHAPE_RULE;
use crate::families::Family;
use crate::warning::{Warning, WarningCode};

/// Why no estimate is returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FitError {
    /// The sample is empty.
    #[error("there are no lives to fit")]
    NoLives,
    /// Nobody failed: every likelihood here grows without end as lives get longer.
    #[error("nobody was seen to fail, so no best value exists; fit with a known shape instead")]
    NoFailures,
    /// The likelihood has no finite maximum.
    #[error("no finite best value exists for the {} model: {reason}", family.code())]
    NoFiniteMaximum {
        /// The model asked for.
        family: Family,
        /// What in the data causes it, in plain words.
        reason: &'static str,
    },
    /// The search ended without meeting its criterion.
    #[error("the search for the {} model stopped before it met its criterion", family.code())]
    NotConverged {
        /// The model asked for.
        family: Family,
    },
    /// Numbers left the range of floating point.
    #[error("the {} model leaves the range of numbers on these data", family.code())]
    OutOfRange {
        /// The model asked for.
        family: Family,
    },
    /// The declared shape is not usable.
    #[error("the known shape must be {SHAPE_RULE} but is {value}")]
    Shape {
        /// The value declared.
        value: f64,
    },
    /// Fewer facts than parameters, or a likelihood without a top that stands out.
    #[error("the parameters of the {} model cannot be told apart on these data: {reason}", family.code())]
    NotIdentifiable {
        /// The model asked for.
        family: Family,
        /// What in the data causes it, and what helps, in plain words.
        reason: &'static str,
    },
    /// The precision to which usages were recorded is not usable.
    #[error(
        "the precision of recording must be finite, above 0 and below twice the first failure but is {value}"
    )]
    Precision {
        /// The value declared.
        value: f64,
    },
    /// No precision of recording can be read from the usages.
    #[error(
        "the likelihood grows without end near the first failure and no precision of recording can be read from the data; declare one"
    )]
    UnknownPrecision,
}

impl FitError {
    /// The same as a warning for a report.
    #[must_use]
    pub fn warning(&self) -> Warning {
        let code = match self {
            Self::NoLives => WarningCode::NoLives,
            Self::NoFailures => WarningCode::NoFailures,
            Self::NoFiniteMaximum { .. } => WarningCode::NoFiniteMaximum,
            Self::NotConverged { .. } => WarningCode::NotConverged,
            Self::NotIdentifiable { .. } => WarningCode::NotIdentifiable,
            Self::OutOfRange { .. }
            | Self::Shape { .. }
            | Self::Precision { .. }
            | Self::UnknownPrecision => WarningCode::EstimatorFailed,
        };
        Warning::new(code, self.to_string())
    }
}
