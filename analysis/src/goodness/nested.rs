//! Likelihood ratio against a model that is a special case.

use super::GoodnessError;
use crate::families::Family;
use crate::fitting::Fit;
use crate::special::gamma::chi_square_upper;

/// Result of a likelihood-ratio test between nested models.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NestedTest {
    /// The special case.
    pub null: Family,
    /// The model it is a special case of.
    pub full: Family,
    /// Twice the gain in log-likelihood.
    pub statistic: f64,
    /// Parameters that the special case fixes.
    pub freedom: u32,
    /// Chance of a gain at least as large if the special case is right, by the chi-square approximation (Lawless 2003,
    /// section 4.3).
    pub p_value: f64,
}

/// Tests the special case `null` against `full`, both fitted to the same sample. The exponential is the Weibull of
/// shape 1.
///
/// # Errors
/// For models that do not nest, or fits of different lives.
pub fn nested_test(null: &Fit, full: &Fit) -> Result<NestedTest, GoodnessError> {
    if (null.family, full.family) != (Family::Exponential, Family::Weibull) {
        return Err(GoodnessError::NotNested {
            null: null.family,
            full: full.family,
        });
    }
    if (null.lives, null.failures) != (full.lives, full.failures) {
        return Err(GoodnessError::DifferentLives);
    }
    let gain = 2.0 * (full.log_likelihood - null.log_likelihood);
    // Two searches may end a last bit apart; a real loss means different samples.
    let slack = 1e-9 * (1.0 + full.log_likelihood.abs());
    if gain < -slack {
        return Err(GoodnessError::DifferentLives);
    }
    let statistic = gain.max(0.0);
    Ok(NestedTest {
        null: null.family,
        full: full.family,
        statistic,
        freedom: 1,
        p_value: chi_square_upper(statistic, 1.0),
    })
}
