//! Beta probabilities and quantiles, for ranks.

/// Probability that a beta variable with parameters `a` and `b` lies below `x`; not a number unless both are positive.
#[must_use]
pub fn beta_probability(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    statrs::function::beta::checked_beta_reg(a, b, x).unwrap_or(f64::NAN)
}

/// The `x` below which a beta variable with positive parameters `a` and `b` lies with probability `p`.
///
/// Newton in the log-odds of `x`, kept inside a shrinking bracket.
#[must_use]
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    if p <= 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return 1.0;
    }
    let ln_beta = libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b);
    let mut y = (a / b).ln();
    let (mut low, mut high) = (-700.0_f64, 700.0_f64);
    for _ in 0..300 {
        let x = 1.0 / (1.0 + (-y).exp());
        let gap = beta_probability(x, a, b) - p;
        if gap > 0.0 {
            high = y;
        } else {
            low = y;
        }
        // Density of the log-odds: x^a (1-x)^b / B(a, b), with both logarithms free of cancellation.
        let ln_x = -(-y).exp().ln_1p();
        let ln_rest = -y.exp().ln_1p();
        let slope = (a * ln_x + b * ln_rest - ln_beta).exp();
        let mut next = y - gap / slope;
        if !next.is_finite() || next <= low || next >= high {
            next = 0.5 * (low + high);
        }
        let moved = (next - y).abs();
        y = next;
        if moved <= 1e-15 * (1.0 + y.abs()) {
            break;
        }
    }
    1.0 / (1.0 + (-y).exp())
}
