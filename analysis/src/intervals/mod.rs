//! Limits of what a fit says.

mod ask;
mod bootstrap;
mod derived;
mod free_form;
mod joint;
mod level;
mod matching_prior;
mod method;
mod modified_root;
mod path;
mod plan;
mod profile;
mod quantity;
mod resample;
mod shape_bias;
mod standard_error;

pub use ask::{confidence_below, limits, limits_of_each};
pub use level::{Level, LevelError, Side};
pub use method::{Method, Resampling};
pub use quantity::Quantity;
pub use shape_bias::ShapeCorrection;
pub use standard_error::ln_quantile_error;

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
    #[error(
        "limits by this method do not exist for the {} model; ask for the likelihood ratio",
        family.code()
    )]
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
    /// A mean that the tail of the family decides, not the data.
    #[error(
        "limits of the mean residual life are not given for the loglogistic: its mean hangs on a tail beyond any data; ask for the median"
    )]
    HeavyTail,
    /// The confidence in a value of a quantity of a family with a free form.
    #[error(
        "the confidence in a value is not given for the {} model; compare the value with limits at several levels",
        family.code()
    )]
    ConfidenceOfFreeForm {
        /// The family of the fit.
        family: Family,
    },
    /// A mean residual life of a family with a free form.
    #[error(
        "limits of the mean residual life are not given for the {} model; ask for the median residual life",
        family.code()
    )]
    MeanOfFreeForm {
        /// The family of the fit.
        family: Family,
    },
    /// A mean residual life asked of the modified root, whose correction is not monotone there.
    #[error(
        "limits of the mean residual life are not given by the modified root, which may narrow there as the level grows; ask for the likelihood ratio"
    )]
    MeanByModifiedRoot,
    /// A mean for which the data leave shapes so small that their tails decide it.
    #[error(
        "limits of the mean residual life are not given: the data do not rule out a shape below 0.1, where the mean hangs on a tail beyond any data; ask for the median"
    )]
    MeanOnTail,
    /// The quantity never takes that value.
    #[error("the quantity can never be {value}")]
    Value {
        /// The value asked about.
        value: f64,
    },
    /// Too few samples for the level.
    #[error("{resamples} samples are too few for limits at this level; draw more")]
    TooFewResamples {
        /// Samples asked for.
        resamples: u32,
    },
    /// More lives than the bootstrap should draw.
    #[error(
        "drawing samples of {lives} lives is too much work; the likelihood ratio says the same of so many"
    )]
    TooManyLives {
        /// Lives in the sample.
        lives: u64,
    },
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
