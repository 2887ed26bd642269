//! Generalised gamma of one fixed form `Q`, in the parameters of Prentice 1974 (Biometrika 61): with
//! `z = (ln t - mu) / sigma` and `a = 1/Q^2`, `a exp(Q z)` is a gamma variable of shape `a` and unit rate.
//!
//! `Q = 1` is the Weibull, `Q = 0` the lognormal, `Q = sigma` the gamma; below 0 the right tail is a power.

use std::f64::consts::PI;

use super::{Jet, lognormal};
use crate::special::incomplete_gamma::GammaShape;
use crate::special::normal;

/// Below this failed share, in logarithm, cumulative hazard and failed share are the same number.
const LEFT_TAIL: f64 = -40.0;
/// Forms nearer to 0 than this are normal in every digit.
const NORMAL: f64 = 1e-100;

/// The standard curve of one form.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct GeneralisedGamma {
    form: f64,
    /// None for the lognormal.
    gamma: Option<GammaShape>,
}

/// Logarithms of the shares and of the hazard at one `z`.
struct Place {
    survived: f64,
    failed: f64,
    hazard: f64,
}

impl GeneralisedGamma {
    pub(crate) fn new(form: f64) -> Self {
        let gamma = (form.abs() > NORMAL).then(|| GammaShape::new(1.0 / (form * form)));
        Self { form, gamma }
    }

    pub(crate) fn form(self) -> f64 {
        self.form
    }

    fn place(self, z: f64) -> Place {
        let Some(gamma) = self.gamma else {
            return Place {
                survived: normal::ln_upper_tail(z),
                failed: normal::ln_upper_tail(-z),
                hazard: normal::ln_hazard(z),
            };
        };
        let tails = gamma.tails(self.form * z);
        let unit = self.form.abs().ln();
        if self.form > 0.0 {
            Place {
                survived: tails.ln_upper,
                failed: tails.ln_lower,
                hazard: tails.ln_upper_rate + unit,
            }
        } else {
            Place {
                survived: tails.ln_lower,
                failed: tails.ln_upper,
                hazard: tails.ln_lower_rate + unit,
            }
        }
    }

    pub(super) fn log_hazard(self, z: f64) -> Jet {
        let value = self.place(z).hazard;
        let hazard = value.exp();
        let u = self.form * z;
        // The slope of the log density is (1 - exp(Q z)) / Q.
        let steepness = if u == 0.0 { z } else { z * (u.exp_m1() / u) };
        let slope = hazard - steepness;
        Jet {
            value,
            slope,
            curvature: hazard * slope - u.exp(),
        }
    }

    pub(super) fn cumulative_hazard(self, z: f64) -> f64 {
        if z == f64::NEG_INFINITY {
            return 0.0;
        }
        -self.place(z).survived
    }

    pub(super) fn log_hazard_between(self, start: f64, end: f64) -> f64 {
        let top = self.place(end);
        if top.failed < LEFT_TAIL {
            if start == f64::NEG_INFINITY {
                return top.failed;
            }
            let bottom = self.place(start).failed;
            return top.failed + (-(bottom - top.failed).exp()).ln_1p();
        }
        (-top.survived - self.cumulative_hazard(start)).ln()
    }

    /// Newton steps on the logarithm of the cumulative hazard from the normal quantile, kept inside a bracket.
    pub(super) fn standard_quantile(self, hazard: f64) -> f64 {
        let mut z = lognormal::standard_quantile(hazard);
        let want = hazard.ln();
        if self.gamma.is_none() || !z.is_finite() || !want.is_finite() {
            return z;
        }
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        for _ in 0..400 {
            let place = self.place(z);
            let ln_hazard = if place.failed < LEFT_TAIL {
                place.failed
            } else {
                (-place.survived).ln()
            };
            let gap = ln_hazard - want;
            if gap > 0.0 {
                high = z;
            } else {
                low = z;
            }
            let mut next = z - gap * (ln_hazard - place.hazard).exp();
            if !next.is_finite() || next <= low || next >= high {
                next = match (low.is_finite(), high.is_finite()) {
                    (true, true) => 0.5 * (low + high),
                    (true, false) => 2.0 * low.abs() + low + 1.0,
                    (false, true) => high - 2.0 * high.abs() - 1.0,
                    (false, false) => return f64::NAN,
                };
            }
            let moved = (next - z).abs();
            z = next;
            if moved <= 4e-16 * z.abs() {
                break;
            }
        }
        z
    }

    /// How fast the log hazard may bend: its own scale is `1/Q`.
    pub(super) fn roughness(self) -> f64 {
        self.form.abs().max(1.0)
    }

    /// The logarithm of a life has standard deviation near `sigma` while `Q` is small, and near `sigma Q` when large.
    pub(super) fn starting_shape(self, log_spread: f64) -> f64 {
        let trigamma_root = (PI * PI / 6.0 * self.form * self.form + 1.0).sqrt();
        trigamma_root / log_spread
    }
}
