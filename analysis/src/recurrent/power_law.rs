//! Power-law process by maximum likelihood (Crow 1974; Rigdon and Basu 2000, chapters 4 and 5).
//!
//! Events of one system arrive at the intensity `lambda shape t^(shape - 1)` at age `t`: a Poisson process whose rate
//! falls with age for a shape below 1 (improving) and grows for a shape above 1 (deteriorating). Repairs leave the
//! system as old as it was.

use super::RecurrentError;
use super::history::{Histories, Truncation};
use super::shape_windows::{Windows, ln_ratio};
use crate::solve::root;
use crate::summation::Sum;

/// Bounds of the logarithm of the shape within which a best value is sought.
pub(crate) const LN_SHAPE_RANGE: (f64, f64) = (-16.0, 25.0);

/// A power-law process fitted by maximum likelihood.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerLawFit {
    /// The shape.
    pub shape: f64,
    /// Expected events of one system up to age 1; none where it leaves the range of numbers.
    pub lambda: Option<f64>,
    /// Age by which one system expects one event, `lambda^(-1/shape)`; none where out of range.
    pub scale: Option<f64>,
    /// Logarithm of the likelihood at the maximum, by the densities of age.
    pub log_likelihood: f64,
    /// Inverse observed information of (ln lambda, ln shape).
    pub log_covariance: [[f64; 2]; 2],
    /// Shape freed of its bias in the mean: `(n - 1) / n` times it for systems stopped at one common age, `(n - 2) / n`
    /// for one system stopped at its last event. None in other designs, or where the factor is 0.
    pub shape_unbiased: Option<f64>,
    /// The lambda that goes with the unbiased shape, `n / (systems end^shape)`; none as above.
    pub lambda_unbiased: Option<f64>,
    /// Events in all systems.
    pub events: u64,
    /// Systems.
    pub systems: u64,
    /// Longest age watched. A statement beyond it is an extrapolation.
    pub longest_age: f64,
    /// Logarithm of the intensity at the longest age times that age.
    pub(crate) ln_level: f64,
    /// Sum of ln(age / longest age) over the events.
    pub(crate) ln_ages: f64,
    pub(crate) windows: Windows,
    pub(crate) design: Design,
}

/// Designs in which the estimates have known distributions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Design {
    /// All systems watched from new to one age that did not depend on the events.
    CommonTime,
    /// One system watched from new to its last event.
    OneToFailure,
    /// Anything else, with what stands in the way.
    Other(&'static str),
}

/// Fits the power-law process to any mixture of ends and late starts.
///
/// The likelihood is concave in the shape and the logarithm of `lambda shape`, so the best value is unique; it is the
/// root of one equation, found inside a bracket.
///
/// # Errors
/// [`RecurrentError`] without systems or events, when every event falls on the longest age watched (among them one
/// event of one system stopped by it), when all systems joined late and the events thin out too fast, or when a number
/// leaves its range.
pub fn power_law(histories: &Histories) -> Result<PowerLawFit, RecurrentError> {
    if histories.count() == 0 {
        return Err(RecurrentError::NoSystems);
    }
    if histories.events() == 0 {
        return Err(RecurrentError::NoEvents);
    }
    let longest = histories.longest_age();
    let n = histories.events() as f64;
    let ln_ages = histories
        .each_event()
        .map(|(_, age, count)| count * ln_ratio(age, longest))
        .collect::<Sum>()
        .total();
    if ln_ages >= 0.0 {
        return Err(RecurrentError::AllAtTheEnd);
    }
    let windows = Windows::new(histories);
    let shape = best_shape(&windows, n, ln_ages)?;
    let at = windows.moments(shape);
    let ln_level = n.ln() - at.ln_total;
    let ln_longest = longest.ln();
    let ln_lambda = ln_level - shape.ln() - shape * ln_longest;
    let variance = 1.0 / (n * shape * shape * at.variance);
    let slope = 1.0 + shape * (at.mean + ln_longest);
    let log_covariance = [
        [1.0 / n + slope * slope * variance, -slope * variance],
        [-slope * variance, variance],
    ];
    let log_likelihood = n * ln_level + shape * ln_ages - (ln_ages + n * ln_longest) - n;
    if !(log_likelihood.is_finite() && log_covariance.iter().flatten().all(|cell| cell.is_finite()))
    {
        return Err(RecurrentError::OutOfRange);
    }
    let design = design(histories);
    let freed = match design {
        Design::CommonTime => n - 1.0,
        Design::OneToFailure => n - 2.0,
        Design::Other(_) => 0.0,
    };
    let shape_unbiased = (freed > 0.0).then(|| shape * freed / n);
    Ok(PowerLawFit {
        shape,
        lambda: in_range(ln_lambda.exp()),
        scale: in_range((-ln_lambda / shape).exp()),
        log_likelihood,
        log_covariance,
        shape_unbiased,
        lambda_unbiased: shape_unbiased.and_then(|shape| {
            in_range((n.ln() - (histories.count() as f64).ln() - shape * ln_longest).exp())
        }),
        events: histories.events(),
        systems: histories.count(),
        longest_age: longest,
        ln_level,
        ln_ages,
        windows,
        design,
    })
}

/// The shape at which the mean log age of the events is the one expected over the windows.
fn best_shape(windows: &Windows, n: f64, ln_ages: f64) -> Result<f64, RecurrentError> {
    let excess = |ln_shape: f64| ln_ages - n * windows.moments(ln_shape.exp()).mean;
    // Exact when all systems were watched from new to one age.
    let start = (n / -ln_ages).ln();
    let (least, most) = LN_SHAPE_RANGE;
    if !(start > least && start < most) {
        return Err(RecurrentError::OutOfRange);
    }
    let mut step = 1e-3;
    let (mut low, mut high) = (start, start);
    while excess(low) < 0.0 {
        if low <= least {
            return Err(if windows.all_late() {
                RecurrentError::ThinsOutTooFast
            } else {
                RecurrentError::OutOfRange
            });
        }
        low = (low - step).max(least);
        step *= 3.0;
    }
    step = 1e-3;
    while excess(high) > 0.0 {
        if high >= most {
            return Err(RecurrentError::OutOfRange);
        }
        high = (high + step).min(most);
        step *= 3.0;
    }
    root(excess, low, high)
        .map(f64::exp)
        .ok_or(RecurrentError::NotConverged)
}

fn design(histories: &Histories) -> Design {
    if let Err(reason) = histories.common_end() {
        return Design::Other(reason);
    }
    let to_failure = |truncation| truncation == Truncation::Failure;
    let mut systems = histories.systems().iter();
    if systems.clone().all(|system| !to_failure(system.truncation)) {
        Design::CommonTime
    } else if histories.count() == 1 && systems.all(|system| to_failure(system.truncation)) {
        Design::OneToFailure
    } else {
        Design::Other("several systems, some stopped at an event")
    }
}

fn in_range(value: f64) -> Option<f64> {
    (value.is_finite() && value > 0.0).then_some(value)
}

impl PowerLawFit {
    /// Events per unit of usage of one system at `age > 0`; none where it leaves the range of numbers.
    #[must_use]
    pub fn intensity(&self, age: f64) -> Option<f64> {
        if !(age.is_finite() && age > 0.0) {
            return None;
        }
        in_range((self.ln_level + self.shape * self.ln_age(age) - age.ln()).exp())
    }

    /// Mean usage between events of one system if it stayed as it is at `age > 0`: one over the intensity.
    #[must_use]
    pub fn mtbf(&self, age: f64) -> Option<f64> {
        in_range(1.0 / self.intensity(age)?)
    }

    /// Events expected of one system between two ages; none unless `0 <= from <= to`, or where out of range.
    #[must_use]
    pub fn expected_events(&self, from: f64, to: f64) -> Option<f64> {
        if !(from >= 0.0 && to >= from && to.is_finite()) {
            return None;
        }
        if to <= from {
            return Some(0.0);
        }
        let up_to_end = (self.ln_level - self.shape.ln() + self.shape * self.ln_age(to)).exp();
        let expected = if from > 0.0 {
            up_to_end * -(-self.shape * ((to - from) / from).ln_1p()).exp_m1()
        } else {
            up_to_end
        };
        expected.is_finite().then_some(expected)
    }

    /// Logarithm of an age in units of the longest age watched.
    pub(crate) fn ln_age(&self, age: f64) -> f64 {
        if age > self.longest_age {
            -ln_ratio(self.longest_age, age)
        } else {
            ln_ratio(age, self.longest_age)
        }
    }
}
