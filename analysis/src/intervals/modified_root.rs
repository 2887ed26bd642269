//! The signed root of the likelihood ratio, corrected so that it is nearly normal with few failures.
//!
//! `r* = r + ln(q / r) / r` with `q` from the slope of the profile, the ratio of the determinants of nuisance
//! information to full information, and a prior (DiCiccio and Martin 1993, Journal of the Royal Statistical Society
//! B 55). It is third-order close to the posterior under that prior.

use super::LimitsError;
use super::matching_prior::MatchingPrior;
use super::profile::Spot;
use super::quantity::Aim;
use crate::families::{Curve, Family};
use crate::fitting::Fit;
use crate::fitting::likelihood::Member;
use crate::fitting::rows::Rows;
use crate::sample::Sample;

/// What the correction needs besides the profile.
#[derive(Clone, Debug)]
pub(crate) struct ModifiedRoot {
    prior: MatchingPrior,
    /// Half the logarithm of the determinant of the information at the top.
    ln_information: f64,
    estimate: f64,
    top: Member,
    failures: u64,
}

/// From so many failures on the correction is below a thousandth, and rounding is not.
const ENOUGH: u64 = 1_000_000;

impl ModifiedRoot {
    pub(crate) fn new(
        sample: &Sample,
        rows: &Rows,
        fit: &Fit,
        aim: &Aim,
    ) -> Result<Self, LimitsError> {
        let covariance = fit.location_covariance.ok_or(LimitsError::NoCovariance)?;
        let determinant = if fit.family == Family::Exponential {
            covariance.a
        } else {
            covariance.determinant()
        };
        if !(determinant > 0.0 && determinant.is_finite()) {
            return Err(LimitsError::NoCovariance);
        }
        Ok(Self {
            prior: MatchingPrior::new(sample, fit.family, aim.path, rows.centre),
            ln_information: -0.5 * determinant.ln(),
            estimate: aim.target,
            top: fit.member(rows.centre),
            failures: fit.failures,
        })
    }

    /// The modified root, without its sign: it grows away from the estimate on both sides. None where the
    /// information cannot be followed.
    pub(crate) fn measure(&self, spot: &Spot) -> Option<f64> {
        if self.failures >= ENOUGH {
            return Some(spot.fall);
        }
        let nuisance = if self.top.family == Curve::Exponential {
            0.0
        } else {
            0.5 * (-spot.point.second).ln()
        };
        let prior =
            self.prior
                .ln_ratio(&spot.point.member, spot.target(), self.estimate, &self.top)?;
        let ln_q = spot.point.target.abs().ln() + nuisance
            - self.ln_information
            - spot.point.ln_area
            - prior;
        let measure = spot.fall + (ln_q - spot.fall.ln()) / spot.fall;
        measure.is_finite().then_some(measure)
    }
}
