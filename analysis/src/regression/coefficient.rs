//! A coefficient and the tests of it.

use crate::special::gamma::chi_square_upper;

/// A test statistic that is chi-square when there is no effect.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChiSquareTest {
    /// The statistic.
    pub chi_square: f64,
    /// Degrees of freedom.
    pub freedom: u32,
    /// Chance of a statistic at least as large without effect.
    pub p_value: f64,
}

impl ChiSquareTest {
    /// None where the statistic is not a number or there is nothing to test.
    pub(crate) fn new(chi_square: f64, freedom: usize) -> Option<Self> {
        let freedom = u32::try_from(freedom).ok().filter(|freedom| *freedom > 0)?;
        let chi_square = chi_square.max(0.0);
        chi_square.is_finite().then(|| Self {
            chi_square,
            freedom,
            p_value: chi_square_upper(chi_square, f64::from(freedom)),
        })
    }
}

/// The effect of one covariate.
#[derive(Clone, Debug, PartialEq)]
pub struct Coefficient {
    /// The covariate.
    pub name: String,
    /// Change of the linear predictor per unit of the covariate.
    pub value: f64,
    /// Its standard error; none without covariance.
    pub std_error: Option<f64>,
    /// Squared ratio of value to standard error (Wald 1943, Transactions of the AMS 54).
    pub wald: Option<ChiSquareTest>,
    /// Twice the fall of the best log-likelihood without it (Wilks 1938, Annals of Mathematical Statistics 9);
    /// none where the model without it could not be fitted.
    pub likelihood_ratio: Option<ChiSquareTest>,
}
