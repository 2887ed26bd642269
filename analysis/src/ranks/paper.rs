//! Axes of probability paper.

use super::RankError;
use crate::families::Family;

/// What a straight line on the family's paper stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Line {
    /// The mean is usage per unit of hazard.
    ThroughOrigin,
    /// Location and spread of the logarithm of usage are the parameters.
    LocationSpread,
    /// The location is the logarithm of the scale, the spread one over the shape.
    ScaleShape,
}

/// How a line becomes parameters; an error for families that have no straight line.
pub(crate) fn line_of(family: Family) -> Result<Line, RankError> {
    match family.parameter_names() {
        ["mean"] => Ok(Line::ThroughOrigin),
        ["mu", "sigma"] => Ok(Line::LocationSpread),
        ["scale", "shape"] => Ok(Line::ScaleShape),
        _ => Err(RankError::NoPaper { family }),
    }
}

/// Where a usage and a share failed stand on the family's paper; a fitting family gives a straight line.
///
/// Exponential: usage itself against the cumulative hazard, a line through the origin. All others: logarithm of usage
/// against the standard quantile of the share (Meeker and Escobar 1998, section 6.2).
///
/// # Errors
/// For a usage that is not positive and finite, or a share outside (0, 1).
pub fn paper(family: Family, time: f64, share: f64) -> Result<(f64, f64), RankError> {
    let (x, y) = place(family, time, -(-share).ln_1p());
    let inside = time > 0.0 && time.is_finite() && share > 0.0 && share < 1.0;
    if inside && y.is_finite() {
        Ok((x, y))
    } else {
        Err(RankError::OffPaper { time, share })
    }
}

/// The same for a usage and a cumulative hazard that the caller knows to be inside.
pub(crate) fn place(family: Family, time: f64, hazard: f64) -> (f64, f64) {
    match family {
        Family::Exponential => (time, hazard),
        _ => (time.ln(), family.standard_quantile(hazard)),
    }
}
