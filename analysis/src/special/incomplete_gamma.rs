//! Both tails of the gamma distribution in logarithms, for any shape.
//!
//! Series and continued fraction (Abramowitz and Stegun 1964, 6.5.29 and 6.5.31); for large shapes near the centre,
//! where both are slow, the uniform expansion of Temme 1979 (SIAM J. Math. Anal. 10) by the recursion of Gil, Segura
//! and Temme 2012 (SIAM J. Sci. Comput. 34, section 2.4).

use std::f64::consts::PI;

use super::normal::scaled_erfc;

/// Shapes from here on use the uniform expansion near the centre.
const LARGE_SHAPE: f64 = 12.0;

/// A gamma variable with unit rate, at one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GammaTails {
    /// Logarithm of the density of the logarithm of the variable.
    pub ln_density: f64,
    /// Logarithm of the probability below.
    pub ln_lower: f64,
    /// Logarithm of the probability above.
    pub ln_upper: f64,
    /// Logarithm of `density / lower`, without cancellation in the lower tail.
    pub ln_lower_rate: f64,
    /// Logarithm of `density / upper`, without cancellation in the upper tail.
    pub ln_upper_rate: f64,
}

/// A shape with what its tails need again and again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GammaShape {
    shape: f64,
    residual: f64,
}

impl GammaShape {
    /// For `shape > 0`.
    #[must_use]
    pub fn new(shape: f64) -> Self {
        Self {
            shape,
            residual: stirling_residual(shape),
        }
    }

    /// Both tails at `shape * exp(u)`, for finite `u`; not numbers where `u` is not one.
    #[must_use]
    pub fn tails(&self, u: f64) -> GammaTails {
        let a = self.shape;
        if !(u.is_finite() && a.is_finite() && a > 0.0) {
            return GammaTails {
                ln_density: f64::NAN,
                ln_lower: f64::NAN,
                ln_upper: f64::NAN,
                ln_lower_rate: f64::NAN,
                ln_upper_rate: f64::NAN,
            };
        }
        let depth = squared(a, u) * bowl(u);
        let ln_top = 0.5 * (a / (2.0 * PI)).ln() - self.residual;
        let ln_density = ln_top - depth;
        let eta = u * (2.0 * bowl(u)).sqrt();
        let (on_lower, ln_mills) = if a >= LARGE_SHAPE && eta.abs() < 1.0 {
            (u < 0.0, uniform(a, eta, depth.sqrt()).ln() - ln_top)
        } else {
            let x = a * u.exp();
            if x < a + 1.0 {
                (true, lower_series(a, x).ln())
            } else {
                (false, upper_fraction(a, x).ln())
            }
        };
        let ln_tail = (ln_density + ln_mills).min(0.0);
        let ln_other = ln_complement(ln_tail);
        if on_lower {
            GammaTails {
                ln_density,
                ln_lower: ln_tail,
                ln_upper: ln_other,
                ln_lower_rate: -ln_mills,
                ln_upper_rate: ln_density - ln_other,
            }
        } else {
            GammaTails {
                ln_density,
                ln_lower: ln_other,
                ln_upper: ln_tail,
                ln_lower_rate: ln_density - ln_other,
                ln_upper_rate: -ln_mills,
            }
        }
    }
}

/// `a u^2`, in an order that survives huge `a` with tiny `u`.
fn squared(a: f64, u: f64) -> f64 {
    let root = a.sqrt() * u;
    root * root
}

/// `(exp(u) - 1 - u) / u^2`.
#[must_use]
pub fn bowl(u: f64) -> f64 {
    if u.abs() > 0.5 {
        return (u.exp_m1() - u) / (u * u);
    }
    // The terms fall at least sixfold each: twenty reach the last bit.
    let (mut term, mut total, mut k) = (0.5, 0.0, 2.0);
    for _ in 0..20 {
        total += term;
        k += 1.0;
        term *= u / k;
    }
    total
}

/// What Stirling's formula leaves out: `ln Gamma(a) - ((a - 1/2) ln a - a + ln(2 pi)/2)`.
#[must_use]
pub fn stirling_residual(a: f64) -> f64 {
    if a < 10.0 {
        return libm::lgamma(a) - ((a - 0.5) * a.ln() - a + 0.5 * (2.0 * PI).ln());
    }
    let w = 1.0 / (a * a);
    (1.0 / 12.0
        - w * (1.0 / 360.0
            - w * (1.0 / 1_260.0
                - w * (1.0 / 1_680.0
                    - w * (1.0 / 1_188.0 - w * (691.0 / 360_360.0 - w * (1.0 / 156.0)))))))
        / a
}

/// `ln(1 - exp(v))` for `v <= 0`.
#[must_use]
pub fn ln_complement(v: f64) -> f64 {
    if v > -0.7 {
        (-v.exp_m1()).ln()
    } else {
        (-v.exp()).ln_1p()
    }
}

/// The nearer tail over `exp(-depth)`, for `t = sqrt(depth)`.
fn uniform(a: f64, eta: f64, t: f64) -> f64 {
    let star = (-stirling_residual(a)).exp();
    // s(k-1) = f(k) / Gamma* + (k + 1) s(k+1) / a, downward; the sum of s(k) eta^k by Horner's rule on the way.
    let (mut next, mut after) = (0.0, 0.0);
    let mut sum = 0.0;
    let mut k = 29.0;
    for coefficient in EXPANSION.iter().rev() {
        let s = coefficient * star + (k + 1.0) * after / a;
        sum = sum * eta + s;
        (after, next) = (next, s);
        k -= 1.0;
    }
    let sign = if eta < 0.0 { -1.0 } else { 1.0 };
    0.5 * scaled_erfc(t) + sign * sum / (2.0 * PI * a).sqrt()
}

/// Coefficients 1 to 29 of `eta / (lambda - 1)` in powers of `eta`, with `eta^2 / 2 = lambda - 1 - ln lambda`.
const EXPANSION: [f64; 29] = [
    -0.3333333333333333,
    0.08333333333333333,
    -0.014814814814814815,
    0.0011574074074074073,
    0.0003527336860670194,
    -0.0001787551440329218,
    3.919263178522438e-05,
    -2.185448510679992e-06,
    -1.85406221071516e-06,
    8.296711340953087e-07,
    -1.7665952736826078e-07,
    6.707853543401498e-09,
    1.0261809784240309e-08,
    -4.382036018453353e-09,
    9.14769958223679e-10,
    -2.5514193994946248e-11,
    -5.830772132550426e-11,
    2.4361948020667415e-11,
    -5.0276692801141755e-12,
    1.1004392031956135e-13,
    3.371763262400985e-13,
    -1.392388722418162e-13,
    2.8534893807047445e-14,
    -5.139111834242572e-16,
    -1.9752288294349442e-15,
    8.099521156704561e-16,
    -1.6522531216398162e-16,
    2.5305430097478883e-18,
    1.1686939738559576e-17,
];

/// Lower tail over the density, by its series.
fn lower_series(a: f64, x: f64) -> f64 {
    let mut term = 1.0 / a;
    let mut total = term;
    let mut n = a;
    for _ in 0..10_000 {
        n += 1.0;
        term *= x / n;
        total += term;
        if term < total * 1e-17 {
            break;
        }
    }
    total
}

/// Upper tail over the density, by its continued fraction with the modified Lentz method.
fn upper_fraction(a: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    if x > 1e18 * (1.0 + a) {
        return 1.0 / x;
    }
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / b;
    let mut h = d;
    for i in 1..10_000_u32 {
        let n = f64::from(i);
        let an = -n * (n - a);
        b += 2.0;
        d = an * d + b;
        if d.abs() < TINY {
            d = TINY;
        }
        c = b + an / c;
        if c.abs() < TINY {
            c = TINY;
        }
        d = 1.0 / d;
        let delta = d * c;
        h *= delta;
        if (delta - 1.0).abs() < 1e-15 {
            break;
        }
    }
    h
}
