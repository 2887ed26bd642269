//! Exact limits of the intensity of a power law at the common end.

use super::RecurrentError;
use super::power_law::{Design, PowerLawFit};
use super::power_law_limits::{sides, tail};
use crate::intervals::Level;
use crate::quadrature::integral;
use crate::solve::root;
use crate::special::gamma::chi_square_upper;

/// Exact limits of the intensity are sums over counts of events; above this number the likelihood ratio is as good.
pub(super) const MOST_EVENTS_FOR_EXACT: u64 = 10_000;

impl PowerLawFit {
    /// Limits of the intensity at the common end, as multiples of the estimate.
    pub(super) fn exact_factors(
        &self,
        age: f64,
        level: Level,
    ) -> Result<(Option<f64>, Option<f64>), RecurrentError> {
        let none = |reason| RecurrentError::NoExactLimits { reason };
        if let Design::Other(reason) = self.design {
            return Err(none(reason));
        }
        if age != self.longest_age {
            return Err(none("the age is not the common end"));
        }
        if self.events > MOST_EVENTS_FOR_EXACT {
            return Err(none("there are too many events for them"));
        }
        let n = self.events as f64;
        let tail = tail(level);
        let found = |ln: Option<f64>| {
            ln.map(|ln| Some((ln - 2.0 * n.ln()).exp()))
                .ok_or(RecurrentError::NotConverged)
        };
        if self.design == Design::CommonTime {
            // Given the sum of ln(end / age), the number of events has a distribution with one parameter, which is
            // the intensity at the end times known numbers.
            sides(
                level,
                || {
                    if self.events < 2 {
                        // A single event is there at any intensity, however low.
                        return Ok(None);
                    }
                    found(rising_root(
                        &|ln| 1.0 - at_most(n - 1.0, ln) - tail,
                        2.0 * n.ln(),
                        n,
                    ))
                },
                || found(rising_root(&|ln| tail - at_most(n, ln), 2.0 * n.ln(), n)),
            )
        } else {
            let below = |p: f64| {
                move |ln: f64| gamma_product_upper(n, ln).map_or(f64::NAN, |upper| 1.0 - p - upper)
            };
            sides(
                level,
                || found(rising_root(&below(tail), 2.0 * n.ln(), n)),
                || found(rising_root(&below(1.0 - tail), 2.0 * n.ln(), n)),
            )
        }
    }
}

/// Chance that a count with probabilities proportional to `z^k / (k! (k-1)!)`, `k >= 1`, is at most `most`.
///
/// The total is `sqrt(z)` times the modified Bessel function of order 1 at `2 sqrt(z)`; both parts are summed from
/// the term at the bound outwards, where the terms are largest.
fn at_most(most: f64, ln_z: f64) -> f64 {
    if most < 1.0 {
        return 0.0;
    }
    let z = ln_z.exp();
    let (mut below, mut term, mut k) = (1.0_f64, 1.0, most);
    while k > 1.0 && term > 1e-18 * below {
        term *= k * (k - 1.0) / z;
        below += term;
        k -= 1.0;
    }
    let (mut above, mut term, mut k) = (0.0_f64, 1.0, most);
    loop {
        term *= z / ((k + 1.0) * k);
        k += 1.0;
        above += term;
        let falling = z < k * (k + 1.0);
        if (falling && term <= 1e-18 * (above + below)) || above > 1e290 {
            break;
        }
    }
    below / (below + above)
}

/// Chance that the product of two independent gamma variables, of shapes `n - 1` and `n`, lies above `exp(ln)`.
fn gamma_product_upper(n: f64, ln: f64) -> Option<f64> {
    let reach = 12.0 / n.sqrt();
    // The lower tail of the logarithm falls as exp(n y), the upper as exp(-exp(y)).
    let (low, high) = (-reach - 40.0 / n, reach.min(2.0) + 1.5 / n.sqrt());
    // About ln n, where large numbers cancel before they are rounded.
    let ln_n = n.ln();
    let ln_peak = n * ln_n - n - libm::lgamma(n);
    integral(
        |d| {
            let density = (ln_peak + n * (d - d.exp_m1())).exp();
            density * chi_square_upper(2.0 * (ln - ln_n - d).exp(), 2.0 * (n - 1.0))
        },
        low,
        high,
        1e-10,
    )
}

/// Root of a rising function about a start, with steps that suit a spread of one over the root of `n`.
fn rising_root(f: &impl Fn(f64) -> f64, start: f64, n: f64) -> Option<f64> {
    let (mut low, mut high) = (start, start);
    let mut step = 1.0 / n.sqrt();
    for _ in 0..60 {
        if f(low) <= 0.0 {
            break;
        }
        low -= step;
        step *= 1.5;
    }
    step = 1.0 / n.sqrt();
    for _ in 0..60 {
        if f(high) >= 0.0 {
            break;
        }
        high += step;
        step *= 1.5;
    }
    root(f, low, high)
}
