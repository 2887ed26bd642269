//! A fitted model and what it says.

use super::likelihood::{Member, gain};
use super::matrix::Symmetric;
use super::maximise::{Ended, Free, Top, maximise};
use super::rows::{Rows, Stretch};
use super::start::start;
use super::{FitError, existence, weibull_profile};
use crate::families::Family;
use crate::sample::Sample;
use crate::special::gamma::pi_over_sine;

/// A model fitted by maximum likelihood.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The family fitted.
    pub family: Family,
    /// Natural parameters in the order of [`Family::parameter_names`].
    pub parameters: Vec<f64>,
    /// Inverse observed information of the natural parameters; none where it is not positive definite.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Inverse observed information of the logarithms of the parameters (mu as it is); none as above.
    pub log_covariance: Option<Vec<Vec<f64>>>,
    /// Logarithm of the likelihood, by the density of usage, at the maximum.
    pub log_likelihood: f64,
    /// Akaike's criterion.
    pub aic: f64,
    /// Akaike's criterion corrected for small samples, with all lives as its size; none when too few lives.
    pub aicc: Option<f64>,
    /// Schwarz's criterion, with all lives as its size.
    pub bic: f64,
    /// Lives seen to fail.
    pub failures: u64,
    /// All lives.
    pub lives: u64,
    /// Steps of the search.
    pub iterations: u32,
    /// Logarithm of usage at which the standard variable is zero.
    pub(crate) location: f64,
    /// Logarithm of the shape (for the lognormal, minus the logarithm of sigma).
    pub(crate) log_shape: f64,
    /// Covariance of location and log shape.
    pub(crate) location_covariance: Option<Symmetric>,
}

/// Fits one family by maximum likelihood under any mixture of censoring and delayed entry.
///
/// # Errors
/// [`FitError`] when no finite maximum exists, the search fails, or a parameter leaves the range of numbers.
pub fn fit(sample: &Sample, family: Family) -> Result<Fit, FitError> {
    existence::check(sample, family)?;
    let shortcut = match family {
        Family::Weibull => weibull_profile::top(sample),
        Family::Exponential => weibull_profile::exponential_top(sample).map(|top| (top, 0.0)),
        _ => None,
    };
    match shortcut {
        Some((top, centre)) => Fit::from_top(sample, centre, &top),
        None => by_search(sample, family),
    }
}

/// The general search, which serves every family and every kind of life.
fn by_search(sample: &Sample, family: Family) -> Result<Fit, FitError> {
    let rows = Rows::new(sample);
    let free = if family == Family::Exponential {
        Free::Location
    } else {
        Free::Both
    };
    let top = maximise(&rows, start(&rows, family), free);
    // A shape this far out means that the search was climbing a ridge without a top.
    let on_ridge = !SHAPES_WITH_A_TOP.contains(&top.member.log_shape);
    match top.ended {
        Ended::RanOff => Err(no_top(family)),
        Ended::Converged | Ended::Exhausted if on_ridge => Err(no_top(family)),
        Ended::Converged => Fit::from_top(sample, rows.centre, &top),
        Ended::Exhausted => Err(FitError::NotConverged { family }),
    }
}

/// Bounds of the log shape of any fit that is believed.
const SHAPES_WITH_A_TOP: std::ops::Range<f64> = -5.0..23.0;

fn no_top(family: Family) -> FitError {
    FitError::NoFiniteMaximum {
        family,
        reason: "the likelihood keeps growing while a parameter runs to the end of its range",
    }
}

impl Fit {
    fn from_top(sample: &Sample, centre: f64, top: &Top) -> Result<Self, FitError> {
        let family = top.member.family;
        let base = top.member.anchored_at(0.0);
        let location = base.location + centre;
        let shape = base.shape();
        let parameters = match family {
            Family::Exponential => vec![location.exp()],
            Family::Weibull | Family::Loglogistic => vec![location.exp(), shape],
            Family::Lognormal => vec![location, 1.0 / shape],
        };
        let usable =
            |value: &f64| value.is_finite() && (family == Family::Lognormal || *value > 0.0);
        if !parameters.iter().all(usable) || !top.at.value.is_finite() {
            return Err(FitError::OutOfRange { family });
        }
        let location_covariance = location_covariance(top);
        let lives = sample.lives();
        let k = f64::from(family.parameters());
        let n = lives as f64;
        let deviance = -2.0 * top.at.value;
        Ok(Self {
            family,
            covariance: location_covariance.and_then(|cov| natural(family, &parameters, cov)),
            log_covariance: location_covariance.and_then(|cov| logarithmic(family, cov)),
            parameters,
            log_likelihood: top.at.value,
            aic: deviance + 2.0 * k,
            aicc: (n > k + 1.0).then(|| deviance + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0)),
            bic: deviance + k * n.ln(),
            failures: sample.failures(),
            lives,
            iterations: top.iterations,
            location,
            log_shape: base.log_shape,
            location_covariance,
        })
    }

    /// The parameter of that name; `rate` of the exponential is known too.
    #[must_use]
    pub fn parameter(&self, name: &str) -> Option<f64> {
        if self.family == Family::Exponential && name == "rate" {
            return self.parameters.first().map(|mean| 1.0 / mean);
        }
        let place = self
            .family
            .parameter_names()
            .iter()
            .position(|known| *known == name)?;
        self.parameters.get(place).copied()
    }

    /// The member fitted, on a log scale about `centre`.
    pub(crate) fn member(&self, centre: f64) -> Member {
        Member {
            family: self.family,
            location: self.location - centre,
            log_shape: self.log_shape,
            anchor: 0.0,
        }
    }

    fn z(&self, usage: f64) -> f64 {
        (usage.ln() - self.location) * self.log_shape.exp()
    }

    /// Hazard accumulated up to `usage >= 0`, at most the largest finite number.
    #[must_use]
    pub fn cumulative_hazard(&self, usage: f64) -> f64 {
        if usage <= 0.0 {
            return 0.0;
        }
        self.family.cumulative_hazard(self.z(usage)).min(f64::MAX)
    }

    /// Share of lives that survive `usage`.
    #[must_use]
    pub fn survival(&self, usage: f64) -> f64 {
        (-self.cumulative_hazard(usage)).exp()
    }

    /// Failures per unit of usage among those still unfailed at `usage > 0`; none where it is unbounded.
    #[must_use]
    pub fn hazard(&self, usage: f64) -> Option<f64> {
        let ln = self.family.log_hazard(self.z(usage)).value + self.log_shape - usage.ln();
        Some(ln.exp()).filter(|hazard| hazard.is_finite())
    }

    /// Usage by which a share `p` has failed, for `0 < p < 1`; none where it leaves the range of numbers.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        if !(p > 0.0 && p < 1.0) {
            return None;
        }
        let z = self.family.standard_quantile(-(-p).ln_1p());
        let usage = (self.location + z / self.log_shape.exp()).exp();
        (usage.is_finite() && usage > 0.0).then_some(usage)
    }

    /// Chance that a life unfailed at `age >= 0` fails within the next `span >= 0` of usage.
    #[must_use]
    pub fn conditional_failure(&self, age: f64, span: f64) -> f64 {
        match Stretch::new(age, age + span, 0.0) {
            Some(mut stretch) => {
                if age > 0.0 {
                    stretch.width = (span / age).ln_1p();
                }
                -(-gain(&stretch, &self.member(0.0)).ln.exp()).exp_m1()
            }
            None => 0.0,
        }
    }

    /// Mean life; none where it is infinite or leaves the range of numbers.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        let shape = self.log_shape.exp();
        let mean = match self.family {
            Family::Exponential => self.location.exp(),
            Family::Weibull => (self.location + libm::lgamma(1.0 + 1.0 / shape)).exp(),
            Family::Lognormal => (self.location + 0.5 / (shape * shape)).exp(),
            Family::Loglogistic if shape > 1.0 => {
                self.location.exp() * pi_over_sine(1.0 / shape) / shape
            }
            Family::Loglogistic => return None,
        };
        mean.is_finite().then_some(mean)
    }
}

/// Carries the observed information from the search's own parameters to location and log shape.
fn location_covariance(top: &Top) -> Option<Symmetric> {
    let h = top.at.hessian;
    if top.member.family == Family::Exponential {
        return (h.a < 0.0).then(|| Symmetric {
            a: -1.0 / h.a,
            b: 0.0,
            d: 0.0,
        });
    }
    let information = Symmetric {
        a: -h.a,
        b: -h.b,
        d: -h.d,
    };
    let moved = top.member.anchor / top.member.shape();
    Some(
        information
            .inverse_of_positive()?
            .carried([1.0, moved], [0.0, 1.0]),
    )
}

fn natural(family: Family, parameters: &[f64], cov: Symmetric) -> Option<Vec<Vec<f64>>> {
    let first = *parameters.first()?;
    let second = parameters.get(1).copied().unwrap_or(0.0);
    table(
        family,
        match family {
            Family::Exponential | Family::Weibull | Family::Loglogistic => {
                cov.carried([first, 0.0], [0.0, second])
            }
            Family::Lognormal => cov.carried([1.0, 0.0], [0.0, -second]),
        },
    )
}

fn logarithmic(family: Family, cov: Symmetric) -> Option<Vec<Vec<f64>>> {
    let sign = if family == Family::Lognormal {
        -1.0
    } else {
        1.0
    };
    table(family, cov.carried([1.0, 0.0], [0.0, sign]))
}

/// Rows of a matrix of the family's size; none if a number overflowed.
fn table(family: Family, m: Symmetric) -> Option<Vec<Vec<f64>>> {
    let rows = match family {
        Family::Exponential => vec![vec![m.a]],
        _ => vec![vec![m.a, m.b], vec![m.b, m.d]],
    };
    rows.iter()
        .flatten()
        .all(|cell| cell.is_finite())
        .then_some(rows)
}

#[cfg(test)]
mod tests;
