//! Pooling across sparse groups: each group's estimate is drawn towards what the family of groups has in common.

mod error;
mod groups;
mod normal_effects;
mod posterior;
mod spread;

pub use error::PoolingError;
pub use groups::{Group, GroupEstimate, Heterogeneity, ParameterEstimate, Pooled, pool};
pub use normal_effects::{Between, NormalEffect, NormalPooled, pool_normal};
