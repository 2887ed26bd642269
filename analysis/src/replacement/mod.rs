//! Arithmetic of decisions on a Weibull life: how long until a stated risk.

mod weibull_life;

pub use weibull_life::{LifeError, MeanRiskAge, WeibullLife};
