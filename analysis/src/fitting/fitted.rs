//! A fitted model and what it says.

use super::life_distribution::LifeDistribution;
use super::likelihood::{Member, evaluate};
use super::matrix::Symmetric;
use super::maximise::{Ended, Free, Top, maximise};
use super::rows::Rows;
use super::start::{self, start};
use super::threshold::{ThresholdLikelihood, threshold_weibull};
use super::{FitError, concave, existence, free_form, weibull_parts, weibull_profile};
use crate::families::{Curve, Family};
use crate::sample::Sample;
use crate::warning::Warning;

/// A model fitted by maximum likelihood.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The family fitted.
    pub family: Family,
    /// Natural parameters in the order of [`Family::parameter_names`].
    pub parameters: Vec<f64>,
    /// Inverse observed information of the natural parameters; none where it is not positive definite.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Inverse observed information of the logarithms of the parameters (mu, q and threshold as they are); none as above.
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
    /// What a further Newton step promises to add to the log-likelihood: how well the search converged. None where
    /// the likelihood does not bend down in every direction, as at the end of a parameter's range.
    pub still_to_gain: Option<f64>,
    /// Cautions about how the estimate was found.
    pub warnings: Vec<Warning>,
    /// The distribution.
    pub(crate) life: LifeDistribution,
    /// Logarithm of usage, from the threshold on, at which the standard variable is zero.
    pub(crate) location: f64,
    /// Logarithm of the shape (for the lognormal, minus the logarithm of sigma).
    pub(crate) log_shape: f64,
    /// Covariance of location and log shape; none for the families with a third parameter and the gamma.
    pub(crate) location_covariance: Option<Symmetric>,
    /// Precision to which the likelihood took exact usages as known; none where it went by density.
    pub(crate) recorded: Option<f64>,
}

/// Fits one family by maximum likelihood under any mixture of censoring and delayed entry.
///
/// # Errors
/// [`FitError`] when no finite maximum exists, the search fails, or a parameter leaves the range of numbers.
pub fn fit(sample: &Sample, family: Family) -> Result<Fit, FitError> {
    match family {
        Family::Gamma => return free_form::gamma(sample),
        Family::GeneralisedGamma => return free_form::generalised_gamma(sample),
        Family::ThresholdWeibull => {
            return threshold_weibull(sample, ThresholdLikelihood::default());
        }
        Family::Exponential | Family::Weibull | Family::Lognormal | Family::Loglogistic => {}
    }
    existence::check(sample, family)?;
    let shortcut = match family {
        Family::Weibull => {
            weibull_profile::top(sample).or_else(|| Some((weibull_parts::top(sample)?, 0.0)))
        }
        Family::Exponential => weibull_profile::exponential_top(sample).map(|top| (top, 0.0)),
        _ => {
            let rows = Rows::new(sample);
            start::of_plain(&rows, family.curve())
                .and_then(|start| concave::top(start, |member| evaluate(&rows, member)))
                .map(|top| (top, rows.centre))
        }
    };
    match shortcut {
        Some((top, centre)) => Fit::from_top(sample, family, centre, &top),
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
    let top = maximise(&rows, start(&rows, family.curve()), free);
    // A shape this far out means that the search was climbing a ridge without a top.
    let on_ridge = !SHAPES_WITH_A_TOP.contains(&top.member.log_shape);
    match top.ended {
        Ended::RanOff => Err(no_top(family)),
        Ended::Converged | Ended::Exhausted if on_ridge => Err(no_top(family)),
        Ended::Converged => Fit::from_top(sample, family, rows.centre, &top),
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

/// What a search found, before the criteria.
pub(super) struct Found {
    pub life: LifeDistribution,
    pub parameters: Vec<f64>,
    pub covariance: Option<Vec<Vec<f64>>>,
    pub log_covariance: Option<Vec<Vec<f64>>>,
    pub location_covariance: Option<Symmetric>,
    pub log_likelihood: f64,
    pub iterations: u32,
    pub still_to_gain: Option<f64>,
    pub warnings: Vec<Warning>,
}

impl Fit {
    fn from_top(sample: &Sample, family: Family, centre: f64, top: &Top) -> Result<Self, FitError> {
        let base = top.member.anchored_at(0.0);
        let location = base.location + centre;
        let shape = base.shape();
        let parameters = match family {
            Family::Exponential => vec![location.exp()],
            Family::Lognormal => vec![location, 1.0 / shape],
            _ => vec![location.exp(), shape],
        };
        let location_covariance = location_covariance(top);
        Self::assembled(
            sample,
            Found {
                life: LifeDistribution::of_member(family, &Member { location, ..base }, 0.0),
                covariance: location_covariance.and_then(|cov| natural(family, &parameters, cov)),
                log_covariance: location_covariance.and_then(|cov| logarithmic(family, cov)),
                parameters,
                location_covariance,
                log_likelihood: top.at.value,
                iterations: top.iterations,
                still_to_gain: still_to_gain(top),
                warnings: Vec::new(),
            },
        )
    }

    /// Adds the criteria.
    pub(super) fn assembled(sample: &Sample, found: Found) -> Result<Self, FitError> {
        let family = found.life.family;
        let usable = |name: &str, value: f64| {
            value.is_finite()
                && match name {
                    "mu" | "q" => true,
                    "threshold" => value >= 0.0,
                    _ => value > 0.0,
                }
        };
        let mut named = family.parameter_names().iter().zip(&found.parameters);
        if !named.all(|(name, value)| usable(name, *value)) || !found.log_likelihood.is_finite() {
            return Err(FitError::OutOfRange { family });
        }
        let lives = sample.lives();
        let k = f64::from(family.parameters());
        let n = lives as f64;
        let deviance = -2.0 * found.log_likelihood;
        Ok(Self {
            family,
            parameters: found.parameters,
            covariance: found.covariance,
            log_covariance: found.log_covariance,
            log_likelihood: found.log_likelihood,
            aic: deviance + 2.0 * k,
            aicc: (n > k + 1.0).then(|| deviance + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0)),
            bic: deviance + k * n.ln(),
            failures: sample.failures(),
            lives,
            iterations: found.iterations,
            still_to_gain: found.still_to_gain,
            warnings: found.warnings,
            life: found.life,
            location: found.life.location,
            log_shape: found.life.log_shape,
            location_covariance: found.location_covariance,
            recorded: None,
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
        self.life.member(centre)
    }

    /// The distribution fitted.
    #[must_use]
    pub fn life(&self) -> LifeDistribution {
        self.life
    }

    /// Hazard accumulated up to `usage >= 0`, at most the largest finite number.
    #[must_use]
    pub fn cumulative_hazard(&self, usage: f64) -> f64 {
        self.life.cumulative_hazard(usage)
    }

    /// Share of lives that survive `usage`.
    #[must_use]
    pub fn survival(&self, usage: f64) -> f64 {
        self.life.survival(usage)
    }

    /// Failures per unit of usage among those still unfailed at `usage > 0`; none where it is unbounded.
    #[must_use]
    pub fn hazard(&self, usage: f64) -> Option<f64> {
        self.life.hazard(usage)
    }

    /// Usage by which a share `p` has failed, for `0 < p < 1`; none where it leaves the range of numbers.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        self.life.quantile(p)
    }

    /// Chance that a life unfailed at `age >= 0` fails within the next `span >= 0` of usage.
    #[must_use]
    pub fn conditional_failure(&self, age: f64, span: f64) -> f64 {
        self.life.conditional_failure(age, span)
    }

    /// Chance that a life unfailed at `age >= 0` survives the next `span >= 0` of usage.
    #[must_use]
    pub fn conditional_survival(&self, age: f64, span: f64) -> f64 {
        self.life.conditional_survival(age, span)
    }

    /// Mean life; none where it is infinite or leaves the range of numbers.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        self.life.mean()
    }

    /// Mean further usage of a life unfailed at `age >= 0`; none where it is infinite, or not found to 1e-10.
    #[must_use]
    pub fn mean_residual_life(&self, age: f64) -> Option<f64> {
        self.life.mean_residual_life(age)
    }
}

/// Half of `g' C g`, with the covariance in the search's own parameters.
fn still_to_gain(top: &Top) -> Option<f64> {
    let (g, h) = (top.at.gradient, top.at.hessian);
    if top.member.family == Curve::Exponential {
        return (h.a < 0.0).then(|| -0.5 * g[0] * g[0] / h.a);
    }
    let information = Symmetric {
        a: -h.a,
        b: -h.b,
        d: -h.d,
    };
    Some(0.5 * information.inverse_of_positive()?.form(g))
}

/// Carries the observed information from the search's own parameters to location and log shape.
pub(crate) fn location_covariance(top: &Top) -> Option<Symmetric> {
    let h = top.at.hessian;
    if top.member.family == Curve::Exponential {
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
            Family::Lognormal => cov.carried([1.0, 0.0], [0.0, -second]),
            _ => cov.carried([first, 0.0], [0.0, second]),
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
