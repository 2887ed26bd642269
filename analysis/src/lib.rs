#![doc = include_str!("../README.md")]

pub mod competing;
pub mod families;
pub mod fitting;
pub mod goodness;
pub mod groups;
pub mod intervals;
pub mod nonparametric;
pub mod observation;
pub mod plot;
pub mod pooling;
pub mod quadrature;
pub mod ranks;
pub mod recurrent;
pub mod regression;
pub mod replacement;
pub mod report;
pub mod sample;
pub mod solve;
pub mod special;
pub mod summation;
pub mod usage_scale;
pub mod warning;

/// Name and version of this engine, for everything that states what computed a result. Raised whenever results for
/// the same data change.
pub const ENGINE: &str = concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION"));
