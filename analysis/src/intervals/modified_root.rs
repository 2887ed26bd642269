//! The signed root of the likelihood ratio, corrected so that it is nearly normal with few failures.
//!
//! `r* = r + ln(q / r) / r` with `q` from the slope of the profile and the ratio of the determinants of nuisance
//! information to full information, under a prior (DiCiccio and Martin 1993, Journal of the Royal Statistical
//! Society B 55). It is third-order close to the posterior under that prior. With a prior flat in location and log
//! shape that posterior is exact, as frequentist limits, for complete and failure-censored samples of any
//! log-location-scale family (Lawless 2003, appendix E). Where the number of failures is left to chance the
//! information grows with the share expected to fail, and the prior is multiplied by the root of it, as in the
//! rules of Jeffreys and of Welch and Peers (1963, Journal of the Royal Statistical Society B 25).

use super::LimitsError;
use super::plan::Plan;
use super::profile::Spot;
use crate::families::Family;
use crate::fitting::Fit;
use crate::fitting::rows::Rows;
use crate::sample::Sample;

/// What the correction needs besides the profile.
#[derive(Clone, Debug)]
pub(crate) struct ModifiedRoot {
    plan: Plan,
    /// Half the logarithm of the determinant of the information at the top.
    ln_information: f64,
    /// Half the logarithm of the failures expected at the top.
    ln_weight: f64,
}

impl ModifiedRoot {
    pub(crate) fn new(sample: &Sample, rows: &Rows, fit: &Fit) -> Result<Self, LimitsError> {
        let covariance = fit.location_covariance.ok_or(LimitsError::NoCovariance)?;
        let determinant = if fit.family == Family::Exponential {
            covariance.a
        } else {
            covariance.determinant()
        };
        if !(determinant > 0.0 && determinant.is_finite()) {
            return Err(LimitsError::NoCovariance);
        }
        let plan = Plan::new(sample, rows.centre);
        Ok(Self {
            ln_weight: 0.5 * plan.expected(&fit.member(rows.centre)).ln(),
            ln_information: -0.5 * determinant.ln(),
            plan,
        })
    }

    /// The corrected root, without its sign: it grows away from the estimate on both sides.
    pub(crate) fn measure(&self, spot: &Spot) -> f64 {
        let member = &spot.point.member;
        let nuisance = if member.family == Family::Exponential {
            0.0
        } else {
            0.5 * (-spot.point.second).ln()
        };
        let ln_q = spot.point.target.abs().ln() + nuisance - self.ln_information + self.ln_weight
            - spot.point.ln_area
            - 0.5 * self.plan.expected(member).ln();
        spot.fall + (ln_q - spot.fall.ln()) / spot.fall
    }
}
