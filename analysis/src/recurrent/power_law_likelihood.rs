//! Limits of the shape and the intensity of a power law by the likelihood ratio.

use super::RecurrentError;
use super::power_law::{LN_SHAPE_RANGE, PowerLawFit};
use super::power_law_limits::sides;
use crate::intervals::Level;
use crate::solve::root;

impl PowerLawFit {
    pub(super) fn shape_by_likelihood(
        &self,
        level: Level,
    ) -> Result<(Option<f64>, Option<f64>), RecurrentError> {
        let n = self.events as f64;
        let profile = |ln_shape: f64| {
            let shape = ln_shape.exp();
            -n * self.windows.moments(shape).ln_total + shape * self.ln_ages
        };
        let best = self.shape.ln();
        let top = profile(best);
        let gap = 0.5 * level.distance().powi(2);
        let first = level.distance() * self.log_covariance[1][1].sqrt();
        let range = (LN_SHAPE_RANGE.0 - best, LN_SHAPE_RANGE.1 - best);
        let fall = |step: f64| Some(top - profile(best + step) - gap);
        let (low, high) = sides(
            level,
            || crossing(&fall, -first, range.0),
            || crossing(&fall, first, range.1),
        )?;
        Ok((
            low.map(|step| (best + step).exp()),
            high.map(|step| (best + step).exp()),
        ))
    }

    /// Steps of the log intensity at an age to its limits by the likelihood ratio.
    pub(super) fn ln_intensity_steps(
        &self,
        age: f64,
        level: Level,
    ) -> Result<(Option<f64>, Option<f64>), RecurrentError> {
        let n = self.events as f64;
        let r = self.ln_age(age);
        // Up to a constant, at ln(intensity age) = target and the shape given.
        let value = |target: f64, ln_shape: f64| {
            let shape = ln_shape.exp();
            let ln_expected = target - shape * r + self.windows.moments(shape).ln_total;
            n * (target - shape * r) + shape * self.ln_ages - ln_expected.exp()
        };
        let profile = |target: f64| {
            let slope = |ln_shape: f64| {
                let shape = ln_shape.exp();
                let at = self.windows.moments(shape);
                let lever = at.mean - r;
                let expected = (target - shape * r + at.ln_total).exp().min(f64::MAX);
                self.ln_ages - n * r - if lever == 0.0 { 0.0 } else { expected * lever }
            };
            let ln_shape = falling_root(&slope, self.shape.ln())?;
            Some(value(target, ln_shape))
        };
        let best = self.ln_level + self.shape * r;
        let top = value(best, self.shape.ln());
        let gap = 0.5 * level.distance().powi(2);
        let first = level.distance() * self.ln_intensity_error(age);
        let fall = |step: f64| Some(top - profile(best + step)? - gap);
        sides(
            level,
            || crossing(&fall, -first, -700.0),
            || crossing(&fall, first, 700.0),
        )
    }
}

/// Where a function that is negative at 0 and grows outwards changes its sign; none if it does not up to `last`.
fn crossing(
    fall: &impl Fn(f64) -> Option<f64>,
    first: f64,
    last: f64,
) -> Result<Option<f64>, RecurrentError> {
    let (mut near, mut far) = (0.0, first.clamp(-0.99 * last.abs(), 0.99 * last.abs()));
    for _ in 0..80 {
        let there = fall(far).ok_or(RecurrentError::NotConverged)?;
        if there.is_nan() {
            return Err(RecurrentError::NotConverged);
        }
        if there >= 0.0 {
            // An infinite fall would stall the interpolation of the root.
            return root(
                |step| fall(step).map_or(f64::NAN, |fall| fall.min(1e3)),
                near,
                far,
            )
            .map(Some)
            .ok_or(RecurrentError::NotConverged);
        }
        if far == last {
            return Ok(None);
        }
        near = far;
        far *= 1.6;
        if far.abs() >= last.abs() {
            far = last;
        }
    }
    Err(RecurrentError::NotConverged)
}

/// Root of a falling function of the log shape, or the end of the range where it has none.
fn falling_root(slope: &impl Fn(f64) -> f64, start: f64) -> Option<f64> {
    let (least, most) = LN_SHAPE_RANGE;
    let (mut low, mut high) = (start, start);
    let mut step = 0.1;
    while slope(low) < 0.0 {
        if low <= least {
            return Some(least);
        }
        low = (low - step).max(least);
        step *= 2.0;
    }
    step = 0.1;
    while slope(high) > 0.0 {
        if high >= most {
            return Some(most);
        }
        high = (high + step).min(most);
        step *= 2.0;
    }
    // Tamed, because a slope of any size would stall the interpolation of the root.
    root(
        |ln_shape| slope(ln_shape).clamp(f64::MIN, f64::MAX).asinh(),
        low,
        high,
    )
}
