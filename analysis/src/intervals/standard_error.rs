//! Standard errors by the delta method.

use super::{LimitsError, Quantity};
use crate::fitting::Fit;

/// Standard error of the logarithm of the usage by which a share `p` has failed (Meeker and Escobar 1998, section
/// 8.4).
///
/// # Errors
/// For `p` outside (0, 1), a family whose location and shape are not all of its parameters, or a fit without
/// covariance.
pub fn ln_quantile_error(fit: &Fit, p: f64) -> Result<f64, LimitsError> {
    let aim = Quantity::Quantile(p).aim(fit, 0.0)?;
    aim.error(fit).ok_or(LimitsError::NoCovariance)
}
