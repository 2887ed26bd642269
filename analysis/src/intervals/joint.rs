//! A limit and its nuisance found together: two equations in two unknowns, by Newton's steps (Venzon and Moolgavkar
//! 1988, Applied Statistics 37). A few evaluations where the walk along the profile takes dozens.

use super::path::Path;
use super::profile::Profile;
use crate::families::Curve;

const MOST_STEPS: u32 = 12;

impl Profile<'_> {
    /// The target on one side where twice the fall of the profile is `distance` squared. None where the steps do not
    /// settle quickly on a proper maximum over the nuisance; the walk along the profile then decides.
    pub(super) fn limit_jointly(&self, sign: f64, distance: f64) -> Option<f64> {
        if self.family == Curve::Exponential || matches!(self.path, Path::Span { .. }) {
            return None;
        }
        if !(self.error.is_finite() && self.error > 0.0 && self.error < 1.0e3) {
            return None;
        }
        let at_top = self.drift_at_top()?;
        let away = sign * distance * self.error;
        let (mut target, mut nuisance) = (self.target + away, self.nuisance + at_top * away);
        for _ in 0..MOST_STEPS {
            if target < self.range.0 || target > self.range.1 {
                return None;
            }
            let point = self.path.point(self.rows, self.family, target, nuisance)?;
            let fall = (2.0 * (self.top - point.value)).sqrt();
            let downhill = -point.target * sign > 0.0;
            if !(point.second < 0.0 && fall > 0.0 && downhill) {
                return None;
            }
            // Unknown: target and nuisance. Equations: fall = distance, slope along the nuisance = 0.
            let short = fall - distance;
            let (along, across) = (-point.target / fall, -point.first / fall);
            let det = along * point.second - across * point.mixed;
            let step = -(short * point.second - point.first * across) / det;
            let turn = -(along * point.first - point.mixed * short) / det;
            if !(step.is_finite() && turn.is_finite()) {
                return None;
            }
            let promise = 0.5 * point.first * point.first / -point.second;
            if short.abs() <= 1e-6 && promise <= 1e-11 {
                return Some(target + step);
            }
            let travelled = (target - self.target).abs();
            let shrink = (0.7 * travelled / step.abs())
                .min(1.5 / turn.abs())
                .min(1.0);
            target += shrink * step;
            nuisance += shrink * turn;
        }
        None
    }

    /// Derivative of the best nuisance along the target, at the top.
    fn drift_at_top(&self) -> Option<f64> {
        let top = self
            .path
            .point(self.rows, self.family, self.target, self.nuisance)?;
        let drift = -top.mixed / top.second;
        (top.second < 0.0 && drift.is_finite() && drift.abs() < 1e3).then_some(drift)
    }
}
