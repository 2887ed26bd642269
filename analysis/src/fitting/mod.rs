//! Maximum likelihood, one likelihood for all families.

mod column;
mod concave;
mod error;
pub(crate) mod existence;
mod exposure;
pub(crate) mod fitted;
mod free_form;
mod known_shape;
mod lanes;
mod life_distribution;
pub(crate) mod likelihood;
pub(crate) mod matrix;
pub(crate) mod maximise;
mod moments;
mod nested;
mod newton;
mod plain_rows;
mod residual_life;
mod restricted_mean;
pub(crate) mod rows;
pub(crate) mod start;
mod stretches;
mod threshold;
mod weibull_parts;
mod weibull_profile;

pub use error::FitError;
pub use fitted::{Fit, fit};
pub use known_shape::{KnownShapeFit, KnownShapeLimits, known_shape};
pub use life_distribution::{LifeDistribution, ParameterError};
pub(crate) use life_distribution::{SHAPE_RULE, SHAPES};
pub use nested::{Edge, NestedError, NestedTest, nested};
pub use threshold::{ThresholdLikelihood, threshold_weibull};
