//! Chi-square tails at any number of degrees of freedom.

use crate::special::{gamma, normal};

/// Above this the series of the tails is too long to sum. The cube root (Wilson and Hilferty 1931) has an error of
/// order one over the degrees of freedom, so it is then good to eight digits.
const MOST_FREEDOM: f64 = 1e8;

/// Chances below and above `x`.
pub(super) fn tails(x: f64, freedom: f64) -> (f64, f64) {
    if freedom <= MOST_FREEDOM {
        return (
            gamma::chi_square_lower(x, freedom),
            gamma::chi_square_upper(x, freedom),
        );
    }
    let ninth = 2.0 / (9.0 * freedom);
    let z = ((x / freedom).cbrt() - (1.0 - ninth)) / ninth.sqrt();
    (normal::lower_tail(z), normal::lower_tail(-z))
}

/// The value below which the chance is `p`.
pub(super) fn quantile(p: f64, freedom: f64) -> f64 {
    if freedom <= MOST_FREEDOM {
        return gamma::chi_square_quantile(p, freedom);
    }
    let ninth = 2.0 / (9.0 * freedom);
    freedom * (1.0 - ninth + normal::quantile(p) * ninth.sqrt()).powi(3)
}

#[cfg(test)]
mod tests {
    use super::{quantile, tails};

    #[test]
    fn the_cube_root_meets_the_series_where_it_takes_over() {
        for p in [1e-4, 0.025, 0.5, 0.9] {
            let (below, above) = (quantile(p, 1e8), quantile(p, 1.000_000_1e8));
            assert!((above / below - 1.000_000_1).abs() < 1e-9);
            assert!((tails(above, 1.000_000_1e8).0 - p).abs() < 1e-7);
            assert!((tails(below, 1e8).0 - p).abs() < 1e-7);
        }
    }
}
