#![doc = include_str!("../README.md")]

pub mod competing;
pub mod families;
pub mod fitting;
pub mod goodness;
pub mod intervals;
pub mod nonparametric;
pub mod observation;
pub mod plot;
pub mod regression;
pub mod replacement;
pub mod report;
pub mod sample;
pub mod solve;
pub mod special;
pub mod summation;
pub mod warning;
