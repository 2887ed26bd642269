//! Why a regression could not be fitted or asked.

use crate::families::Family;
use crate::fitting::FitError;
use crate::intervals::LimitsError;

/// Why no regression is returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RegressionError {
    /// The model without covariates has no estimate either.
    #[error("without covariates: {0}")]
    WithoutCovariates(#[from] FitError),
    /// A covariate is the same in every life.
    #[error("the covariate {covariate} has the same value in every life; leave it out")]
    Constant {
        /// Its name.
        covariate: String,
    },
    /// A covariate does not vary inside any stratum.
    #[error(
        "the covariate {covariate} has one value in each stratum, so strata already stand for it; leave it out or join the strata"
    )]
    ConstantWithinStrata {
        /// Its name.
        covariate: String,
    },
    /// A covariate is a sum of multiples of others.
    #[error(
        "the covariate {covariate} follows exactly from {}; leave one of them out",
        others.join(", ")
    )]
    Collinear {
        /// Its name.
        covariate: String,
        /// The covariates it follows from.
        others: Vec<String>,
    },
    /// The method does not serve the family.
    #[error(
        "an accelerated-life model serves exponential, Weibull, lognormal and loglogistic lives, not the {} family",
        family.code()
    )]
    Family {
        /// The family asked for.
        family: Family,
    },
    /// Too few failures for so many parameters.
    #[error(
        "{failures} failures cannot carry {parameters} parameters; use fewer covariates or strata"
    )]
    TooFewFailures {
        /// Lives seen to fail.
        failures: u64,
        /// Parameters of the model.
        parameters: usize,
    },
    /// The likelihood grows without end along some coefficients.
    #[error(
        "the data put no bound on the effect of {}: some of its values were never seen to fail, or never to outlive the others; join groups or leave it out",
        covariates.join(", ")
    )]
    Unbounded {
        /// Covariates whose coefficients run off.
        covariates: Vec<String>,
    },
    /// The likelihood grows without end in the intercept or the shape.
    #[error("no finite best value exists: the intercept or the shape of a stratum runs off")]
    NoFiniteMaximum,
    /// At no failure do the lives at risk differ in some covariates.
    #[error(
        "the lives at risk never differ in {} when one fails, so its effect cannot be told",
        covariates.join(", ")
    )]
    NotIdentifiable {
        /// Covariates that the failures say nothing about.
        covariates: Vec<String>,
    },
    /// Without covariates there is nothing to compare.
    #[error("proportional hazards need at least one covariate")]
    NoCovariates,
    /// The method needs failures known exactly.
    #[error(
        "{lives} left- or interval-censored failures: proportional hazards need exact usages; use an accelerated-life model"
    )]
    InexactFailures {
        /// How many failures are not exact.
        lives: u64,
    },
    /// The tie rule would take too long.
    #[error(
        "{ties} failures at usage {usage} are too many for this rule of ties (most: {most}); use a simpler rule"
    )]
    TooManyTies {
        /// Where they tie.
        usage: f64,
        /// How many.
        ties: u64,
        /// How many the rule takes.
        most: u64,
    },
    /// An effect per unit of a covariate, or its variance, is no number.
    #[error(
        "the effect per unit of {} leaves the range of numbers; give it in another unit",
        covariates.join(", ")
    )]
    OutOfRange {
        /// The covariates.
        covariates: Vec<String>,
    },
    /// The search ended without meeting its criterion.
    #[error("the search stopped before it met its criterion")]
    NotConverged,
}

/// Why a fitted regression does not answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PredictionError {
    /// The point has another number of values than the model has covariates.
    #[error("the point must have {expected} values but has {given}")]
    Length {
        /// Covariates of the model.
        expected: usize,
        /// Values given.
        given: usize,
    },
    /// A value of the point is not finite.
    #[error("the value of {covariate} must be finite but is {value}")]
    NotFinite {
        /// The covariate.
        covariate: String,
        /// The value given.
        value: f64,
    },
    /// The model was fitted without that stratum.
    #[error("the model knows no stratum {}", stratum.as_deref().unwrap_or("without a name"))]
    Stratum {
        /// The stratum asked for.
        stratum: Option<String>,
    },
    /// The model has no covariate of that name.
    #[error("the model has no covariate {name}")]
    Covariate {
        /// The name asked for.
        name: String,
    },
    /// The sample given is not the one the model was fitted on.
    #[error("limits by likelihood need the sample that the model was fitted on")]
    OtherSample,
    /// The limits do not exist or could not be found.
    #[error(transparent)]
    Limits(#[from] LimitsError),
}
