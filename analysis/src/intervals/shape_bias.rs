//! Corrections of the Weibull shape for few failures. Maximum likelihood puts it too high on average, and by less in
//! the median: corrections of the one and of the other are different numbers. Nothing here is applied unasked.

use serde::{Deserialize, Serialize};

use crate::families::Family;
use crate::fitting::Fit;

/// A factor by which the fitted shape is multiplied.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ShapeCorrection {
    /// Makes the mean of the shape about right, by failures and lives (Ross 1994 and 1996, IEEE Transactions on
    /// Dielectrics and Electrical Insulation 1 and 3).
    RossMean,
    /// Makes the mean of the shape about right: the sixth power of the mean of a standard deviation over its true
    /// value, by failures alone.
    C4Mean,
    /// Makes the median of the shape about right: the power 3.5 of the same.
    C4Median,
}

impl ShapeCorrection {
    /// The factor for `failures` among `lives`; none for so few failures that it does not exist, below 3 for Ross and
    /// below 2 for the others.
    #[must_use]
    pub fn factor(self, failures: u64, lives: u64) -> Option<f64> {
        let (r, n) = (failures as f64, lives as f64);
        match self {
            Self::RossMean if failures < 3 || failures > lives => None,
            Self::RossMean if failures == lives => Some((n - 2.0) / (n - 0.68)),
            Self::RossMean => Some(1.0 / (1.0 + 1.37 / (r - 1.92) * (n / r).sqrt())),
            Self::C4Mean => Some(c4(r)?.powi(6)),
            Self::C4Median => Some(c4(r)?.powf(3.5)),
        }
    }

    /// The corrected shape of a Weibull fit; none for another family or where the factor does not exist.
    #[must_use]
    pub fn corrected(self, fit: &Fit) -> Option<f64> {
        if fit.family != Family::Weibull {
            return None;
        }
        Some(fit.parameter("shape")? * self.factor(fit.failures, fit.lives)?)
    }
}

/// Mean of the standard deviation of `r` normal values, over its true value; none below two.
fn c4(r: f64) -> Option<f64> {
    if r < 2.0 {
        return None;
    }
    if r > 1e4 {
        // The difference of the logarithms would lose digits.
        let u = 1.0 / r;
        return Some(1.0 - u * (0.25 + u * (7.0 / 32.0 + u * 19.0 / 128.0)));
    }
    let ln = libm::lgamma(0.5 * r) - libm::lgamma(0.5 * (r - 1.0));
    Some((2.0 / (r - 1.0)).sqrt() * ln.exp())
}
