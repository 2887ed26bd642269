#![doc = include_str!("../README.md")]

pub mod families;
pub mod fitting;
pub mod goodness;
pub mod groups;
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
