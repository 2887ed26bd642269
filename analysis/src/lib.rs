//! Survival and reliability statistics: numbers in, numbers out.
//!
//! Every function is pure and deterministic: no clock, no file, no network, no hidden random source. Usage has
//! whatever unit the caller chose; results come back in that unit. What cannot be computed is a typed error or
//! a typed warning that says why, never NaN.

pub mod families;
pub mod fitting;
pub mod goodness;
pub mod intervals;
pub mod nonparametric;
pub mod observation;
pub mod plot;
pub mod replacement;
pub mod report;
pub mod sample;
pub mod solve;
pub mod special;
pub mod summation;
pub mod warning;
