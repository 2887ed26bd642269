//! Limits of what a fit says.

pub mod delta;
mod joint;
mod level;
pub mod likelihood_ratio;
mod path;
mod profile;

pub use level::{Level, LevelError, Side};

use crate::families::Family;
use crate::fitting::Fit;
use crate::warning::{Warning, WarningCode};

/// Limits around an estimate. A side is none when it was not asked for or, with a warning, when it is unbounded.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// The best value.
    pub value: f64,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Which sides are unbounded, and why.
    pub warnings: Vec<Warning>,
}

/// Why limits are not returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LimitsError {
    /// The share is outside (0, 1).
    #[error("the share must lie between 0 and 1 but is {value}")]
    Share {
        /// The value asked for.
        value: f64,
    },
    /// The usage is not finite or not in its range.
    #[error("the usage must be finite and {rule} but is {value}")]
    Usage {
        /// The rule it breaks.
        rule: &'static str,
        /// The value asked for.
        value: f64,
    },
    /// The family has no parameter of that name.
    #[error("the model has no parameter {name}")]
    Parameter {
        /// The name asked for.
        name: String,
    },
    /// This method does not serve the family.
    #[error("limits by this method do not exist for the {} model", family.code())]
    Family {
        /// The family of the fit.
        family: Family,
    },
    /// The best value itself leaves the range of numbers.
    #[error("the best value leaves the range of numbers")]
    OutOfRange,
    /// The fit has no covariance.
    #[error("the fit has no covariance, so limits by the delta method do not exist")]
    NoCovariance,
    /// The search along the likelihood failed.
    #[error("the search for a limit stopped before it met its criterion")]
    NotConverged,
}

/// Refuses a family whose location and shape are not all of its parameters.
pub(crate) fn needs_location_and_shape(fit: &Fit) -> Result<(), LimitsError> {
    if fit.family.is_log_location_scale() {
        Ok(())
    } else {
        Err(LimitsError::Family { family: fit.family })
    }
}

/// The caution for a side without a limit.
pub(crate) fn unbounded(side: &str) -> Warning {
    Warning::new(
        WarningCode::UnboundedLimit,
        format!(
            "The {side} limit is unbounded: these data are compatible with values as far out as numbers go."
        ),
    )
}
