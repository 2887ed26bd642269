//! Integrals of survival and of failure over a stretch of usage.

use super::life_distribution::LifeDistribution;
use crate::quadrature::integral;

/// Accuracy of the integrals.
const RELATIVE: f64 = 1e-12;
/// Beyond this cumulative hazard survival is less than the smallest number.
const ALL_FAILED: f64 = 700.0;
/// A stretch of log usage after which the usage left behind no longer counts.
const FAR_BELOW: f64 = 42.0;

/// Integral of survival from usage 0 to `usage`.
pub(super) fn mean_up_to(life: &LifeDistribution, usage: f64) -> Option<f64> {
    if usage.is_nan() || usage < 0.0 {
        return None;
    }
    let since = usage - life.threshold;
    if since <= 0.0 {
        return Some(usage);
    }
    let end = since.ln().min(life.ln_since_threshold_at(ALL_FAILED));
    // Before this usage nobody has failed as far as numbers go.
    let untouched = life.ln_since_threshold_at(1e-17).min(end);
    let start = untouched.max(end.min(life.location) - FAR_BELOW);
    let rest = integral(
        |y| (y - life.cumulative_hazard_since(y)).exp(),
        start,
        end,
        RELATIVE,
    )?;
    let total = life.threshold + start.exp() + rest;
    total.is_finite().then_some(total)
}

/// Integral of the share failed between two usages.
pub(super) fn failed_between(life: &LifeDistribution, from: f64, to: f64) -> Option<f64> {
    if !(from >= 0.0 && to >= from && to.is_finite()) {
        return None;
    }
    let last = life.failure(to);
    // So small a share has lost its digits.
    if last < 1e-280 || to <= from {
        return Some(0.0);
    }
    let end = (to - life.threshold).ln();
    let start = life
        .ln_since_threshold_at(last * 1e-17)
        .max((from - life.threshold).max(0.0).ln())
        .max(end - FAR_BELOW)
        .min(end);
    let failure = |y: f64| -(-life.cumulative_hazard_since(y)).exp_m1();
    integral(|y| failure(y) * y.exp(), start, end, RELATIVE)
}
