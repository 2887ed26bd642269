//! Maximum likelihood, one likelihood for all families.

mod column;
mod error;
pub(crate) mod existence;
mod exposure;
mod fitted;
mod known_shape;
mod lanes;
pub(crate) mod likelihood;
mod matrix;
mod maximise;
pub(crate) mod rows;
mod start;
mod weibull_profile;

pub use error::FitError;
pub use fitted::{Fit, fit};
pub use known_shape::{KnownShapeFit, known_shape};
