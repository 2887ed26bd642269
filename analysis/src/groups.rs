//! Many samples at once, on as many threads as there are.
//!
//! Every sample is worked on by one thread alone and results keep the order of the samples, so the number of threads
//! changes no bit. To choose the number, call these within a thread pool of one's own.

use rayon::prelude::*;

use crate::families::Family;
use crate::fitting::{Fit, FitError, fit};
use crate::intervals::{Level, Limits, LimitsError, Method, Quantity, limits_of_each};
use crate::sample::Sample;

/// Fits one family to each sample.
#[must_use]
pub fn fit_groups(samples: &[Sample], family: Family) -> Vec<Result<Fit, FitError>> {
    samples
        .par_iter()
        .map(|sample| fit(sample, family))
        .collect()
}

/// The family chosen for one sample, with limits of some of its quantiles.
#[derive(Clone, Debug)]
pub struct ChosenFit {
    /// The fit with the lowest corrected Akaike criterion.
    pub fit: Fit,
    /// Corrected criterion of every family that could be fitted and has one, lowest first; ties in the order given.
    pub criteria: Vec<(Family, f64)>,
    /// Limits by the likelihood ratio of the usage by which each share has failed, in the order of the shares.
    pub quantiles: Vec<Result<Limits, LimitsError>>,
}

/// Fits every family given to each sample, keeps the one with the lowest corrected Akaike criterion, and gives
/// limits by the likelihood ratio of its quantiles at the shares failed.
///
/// Where the lives are too few for the criterion, the first family that could be fitted is kept; where none could,
/// the error of the first.
#[must_use]
pub fn choose_groups(
    samples: &[Sample],
    families: &[Family],
    shares: &[f64],
    level: Level,
) -> Vec<Result<ChosenFit, FitError>> {
    samples
        .par_iter()
        .map(|sample| choose(sample, families, shares, level))
        .collect()
}

/// As [`choose_groups`], for one sample.
///
/// # Errors
/// The error of the first family if none could be fitted, or as for no lives if no family is given.
pub fn choose(
    sample: &Sample,
    families: &[Family],
    shares: &[f64],
    level: Level,
) -> Result<ChosenFit, FitError> {
    let mut fits = Vec::with_capacity(families.len());
    let mut refused = None;
    for family in families {
        match fit(sample, *family) {
            Ok(fitted) => fits.push(fitted),
            Err(error) => {
                refused.get_or_insert(error);
            }
        }
    }
    let mut criteria: Vec<(Family, f64)> = fits
        .iter()
        .filter_map(|fitted| Some((fitted.family, fitted.aicc?)))
        .collect();
    criteria.sort_by(|a, b| a.1.total_cmp(&b.1));
    let best = match criteria.first() {
        Some((family, _)) => fits.into_iter().find(|fitted| fitted.family == *family),
        None => fits.into_iter().next(),
    };
    let fit = best.ok_or(refused.unwrap_or(FitError::NoLives))?;
    let quantities: Vec<Quantity> = shares.iter().map(|p| Quantity::Quantile(*p)).collect();
    let quantiles = limits_of_each(sample, &fit, &quantities, level, Method::LikelihoodRatio);
    Ok(ChosenFit {
        fit,
        criteria,
        quantiles,
    })
}
