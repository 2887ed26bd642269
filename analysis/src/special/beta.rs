//! Beta probabilities and quantiles, for ranks.

/// Probability that a beta variable with positive parameters `a` and `b` lies below `x`.
///
/// Continued fraction by the modified Lentz method (Abramowitz and Stegun 1964, 26.5.8).
#[must_use]
pub fn beta_probability(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    let ln_front =
        libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b) + a * x.ln() + b * (-x).ln_1p();
    if x < (a + 1.0) / (a + b + 2.0) {
        ln_front.exp() * fraction(x, a, b) / a
    } else {
        1.0 - ln_front.exp() * fraction(1.0 - x, b, a) / b
    }
}

fn fraction(x: f64, a: f64, b: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let guard = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / guard(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for i in 1..10_000_u32 {
        let m = f64::from(i);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / guard(1.0 + even * d);
        c = guard(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / guard(1.0 + odd * d);
        c = guard(1.0 + odd / c);
        let delta = d * c;
        h *= delta;
        if (delta - 1.0).abs() < 1e-15 {
            break;
        }
    }
    h
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
