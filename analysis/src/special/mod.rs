//! Special functions in the forms the engine needs: logarithmic, and accurate in the tails.

pub mod beta;
pub mod gamma;
pub mod incomplete_gamma;
pub mod normal;
pub mod vector;
