//! Life as it depends on covariates: accelerated life and proportional hazards.

mod accelerated_description;
mod accelerated_life;
mod accelerated_objective;
mod accelerated_search;
mod baseline;
mod coefficient;
mod covariates;
mod design;
mod error;
mod exact_ties;
mod held_profile;
pub(crate) mod newton;
mod partial_likelihood;
mod place;
mod prediction;
mod profile;
mod proportional_hazards;

pub use accelerated_life::{
    AcceleratedLife, AcceleratedLifeFit, PerStratum, StratumValue, accelerated_life,
};
pub use baseline::{BaselineStep, StratumBaseline};
pub use coefficient::{ChiSquareTest, Coefficient};
pub use covariates::{
    CovariateFault, CovariateLife, CovariatePoint, CovariateSample, CovariateSampleError,
};
pub use error::{PredictionError, RegressionError};
pub use prediction::RegressionLimitMethod;
pub use proportional_hazards::{
    OverallTests, ProportionalHazards, ProportionalHazardsFit, Ties, proportional_hazards,
};
