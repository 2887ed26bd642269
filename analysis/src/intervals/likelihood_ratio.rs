//! Limits by the likelihood ratio: the values whose best likelihood is within a chi-square of the top
//! (Meeker and Escobar 1998, section 8.3). They honour the lopsidedness of few failures.
//!
//! [`super::limits`] with [`Method::LikelihoodRatio`] gives the same, for more quantities.

use super::ask::{limits_along, limits_on};
use super::quantity::Quantity;
use super::{Level, Limits, LimitsError, Method};
use crate::fitting::Fit;
use crate::fitting::rows::Rows;
use crate::sample::Sample;

/// Limits of the usage by which a share `p` has failed.
///
/// # Errors
/// For `p` outside (0, 1), or a search that fails.
pub fn quantile_limits(
    sample: &Sample,
    fit: &Fit,
    p: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    let quantity = Quantity::Quantile(p);
    limits_along(sample, fit, quantity, level, Method::LikelihoodRatio)
}

/// The same for several shares at once: the sample is prepared only once.
#[must_use]
pub fn quantiles_limits(
    sample: &Sample,
    fit: &Fit,
    shares: &[f64],
    level: Level,
) -> Vec<Result<Limits, LimitsError>> {
    let rows = Rows::new(sample);
    shares
        .iter()
        .map(|p| {
            let quantity = Quantity::Quantile(*p);
            limits_on(sample, &rows, fit, quantity, level, Method::LikelihoodRatio)
        })
        .collect()
}

/// Limits of a parameter by name.
///
/// # Errors
/// For an unknown name, or a search that fails.
pub fn parameter_limits(
    sample: &Sample,
    fit: &Fit,
    name: &str,
    level: Level,
) -> Result<Limits, LimitsError> {
    let quantity = Quantity::parameter(fit, name)?;
    limits_along(sample, fit, quantity, level, Method::LikelihoodRatio)
}

/// Limits of survival at `usage > 0`; where the data leave a side open, the limit is 0 or 1.
///
/// # Errors
/// For a usage that is not positive and finite, or a search that fails.
pub fn survival_limits(
    sample: &Sample,
    fit: &Fit,
    usage: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    let quantity = Quantity::Survival(usage);
    limits_along(sample, fit, quantity, level, Method::LikelihoodRatio)
}

/// Limits of the further usage `d` with `P(T <= age + d | T > age) = p`.
///
/// # Errors
/// For `p` outside (0, 1), a negative age, or a search that fails.
pub fn span_limits(
    sample: &Sample,
    fit: &Fit,
    age: f64,
    p: f64,
    level: Level,
) -> Result<Limits, LimitsError> {
    let quantity = Quantity::Span { age, share: p };
    limits_along(sample, fit, quantity, level, Method::LikelihoodRatio)
}
