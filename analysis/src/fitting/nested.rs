//! Likelihood-ratio comparison of a family with one that nests in it (Lawless 2003, sections 4.3 and 5.1).

use super::{Fit, FitError, fit};
use crate::families::Family;
use crate::sample::Sample;
use crate::special::gamma::chi_square_upper;
use crate::warning::WarningCode;

/// Whether the nested family lies inside the range of the larger one or at its edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// Inside: the statistic is chi-square with as many degrees as parameters are held.
    Inside,
    /// One held parameter, the threshold, stands at the end of its range: the statistic is chi-square with equal
    /// chances of one degree less and of all (Self and Liang 1987, JASA 82, case 5 and 6).
    ThresholdAtZero,
}

/// Twice the log-likelihood lost by the nested family.
#[derive(Clone, Debug, PartialEq)]
pub struct NestedTest {
    /// The larger family.
    pub full: Family,
    /// The family that nests in it.
    pub nested: Fit,
    /// Twice the difference of the log-likelihoods, at least 0.
    pub statistic: f64,
    /// Parameters held by the nested family.
    pub freedom: u32,
    /// Probability of a statistic at least so large if the nested family is true, for large samples.
    pub p: f64,
    /// Where the nested family lies.
    pub edge: Edge,
}

/// Why two families are not compared.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NestedError {
    /// The second family is not a special case of the first.
    #[error("the {} model is no special case of the {} model", nested.code(), full.code())]
    NotNested {
        /// The first.
        full: Family,
        /// The second.
        nested: Family,
    },
    /// The larger fit rests on the precision of recording, so that the two likelihoods are of different things.
    #[error(
        "the larger model was fitted by the precision of recording, which does not compare with a likelihood by density"
    )]
    Recorded,
    /// The nested family came out better than the one it nests in, so a search missed the top.
    #[error("the larger model came out worse than its special case; its search missed the top")]
    MissedTop,
    /// The nested family cannot be fitted.
    #[error(transparent)]
    Fit(#[from] FitError),
}

/// Compares a fit with the family `nested` on the same sample.
///
/// # Errors
/// For families that do not nest, a fit by the precision of recording, or a nested family that cannot be fitted.
pub fn nested(sample: &Sample, full: &Fit, nested: Family) -> Result<NestedTest, NestedError> {
    let Some((freedom, edge)) = relation(full.family, nested) else {
        return Err(NestedError::NotNested {
            full: full.family,
            nested,
        });
    };
    if full
        .warnings
        .iter()
        .any(|warning| warning.code == WarningCode::RecordingPrecision)
    {
        return Err(NestedError::Recorded);
    }
    let smaller = fit(sample, nested)?;
    let difference = 2.0 * (full.log_likelihood - smaller.log_likelihood);
    if difference < -1e-7 * (1.0 + full.log_likelihood.abs()) {
        return Err(NestedError::MissedTop);
    }
    let statistic = difference.max(0.0);
    let upper = |freedom: u32| {
        if freedom == 0 {
            f64::from(u8::from(statistic <= 0.0))
        } else {
            chi_square_upper(statistic, f64::from(freedom))
        }
    };
    let p = match edge {
        Edge::Inside => upper(freedom),
        Edge::ThresholdAtZero => 0.5 * (upper(freedom - 1) + upper(freedom)),
    };
    Ok(NestedTest {
        full: full.family,
        nested: smaller,
        statistic,
        freedom,
        p,
        edge,
    })
}

/// How many parameters are held and where.
fn relation(full: Family, nested: Family) -> Option<(u32, Edge)> {
    match (full, nested) {
        (Family::GeneralisedGamma, Family::Weibull | Family::Lognormal | Family::Gamma)
        | (Family::Weibull | Family::Gamma, Family::Exponential) => Some((1, Edge::Inside)),
        (Family::GeneralisedGamma, Family::Exponential) => Some((2, Edge::Inside)),
        (Family::ThresholdWeibull, Family::Weibull) => Some((1, Edge::ThresholdAtZero)),
        (Family::ThresholdWeibull, Family::Exponential) => Some((2, Edge::ThresholdAtZero)),
        _ => None,
    }
}
