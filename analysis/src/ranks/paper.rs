//! Axes of probability paper.

use crate::families::Family;

/// Where a usage and a share failed stand on the family's paper; a fitting family gives a straight line.
///
/// Exponential: usage itself against the cumulative hazard, a line through the origin. All others: logarithm of usage
/// against the standard quantile of the share (Meeker and Escobar 1998, section 6.2).
#[must_use]
pub fn paper(family: Family, time: f64, share: f64) -> (f64, f64) {
    let hazard = -(-share).ln_1p();
    match family {
        Family::Exponential => (time, hazard),
        _ => (time.ln(), family.standard_quantile(hazard)),
    }
}
