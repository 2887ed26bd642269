//! The best likelihood with one quantity held, followed away from the top until it has fallen far enough.

use super::LimitsError;
use super::path::{Path, Point};
use crate::families::Family;
use crate::fitting::rows::Rows;

/// A search for the targets at which the profile has fallen by a stated amount.
pub(crate) struct Profile<'a> {
    pub rows: &'a Rows,
    pub family: Family,
    pub path: Path,
    /// Log-likelihood at the top.
    pub top: f64,
    /// Target and nuisance at the top.
    pub target: f64,
    pub nuisance: f64,
    /// Rough standard error of the target, for the first step.
    pub error: f64,
    /// The search gives a side up beyond these targets.
    pub range: (f64, f64),
}

/// Where the profile has fallen to.
#[derive(Clone, Copy, Debug)]
struct Spot {
    target: f64,
    nuisance: f64,
    /// Signed root of twice the fall, without its sign.
    fall: f64,
    /// Derivative of `fall` along the target.
    slope: f64,
    /// Derivative of the best nuisance along the target.
    drift: f64,
}

impl Profile<'_> {
    /// The target on one side (`sign` -1 or 1) at which twice the fall is `distance` squared; none if the profile
    /// never falls that far within range.
    pub(crate) fn limit(&self, sign: f64, distance: f64) -> Result<Option<f64>, LimitsError> {
        if let Some(target) = self.limit_jointly(sign, distance) {
            return Ok(Some(target));
        }
        self.limit_along(sign, distance)
    }

    /// The same by a walk along the profile that brackets the limit.
    fn limit_along(&self, sign: f64, distance: f64) -> Result<Option<f64>, LimitsError> {
        let mut near = Spot {
            target: self.target,
            nuisance: self.nuisance,
            fall: 0.0,
            slope: 0.0,
            drift: 0.0,
        };
        let mut far: Option<f64> = None;
        let first = if self.error.is_finite() && self.error > 0.0 {
            self.error.min(30.0)
        } else {
            0.3
        };
        let mut step = first * distance;
        for _ in 0..120 {
            let target = near.target + sign * step;
            if target < self.range.0 || target > self.range.1 {
                return Ok(None);
            }
            let guess = near.nuisance + near.drift * sign * step;
            let spot = self
                .best(target, guess)
                .or_else(|| self.best(target, near.nuisance));
            let Some(spot) = spot else {
                // No footing there: shorten the step and try again.
                step *= 0.25;
                if step < 1e-13 * (1.0 + near.target.abs()) {
                    return Err(LimitsError::NotConverged);
                }
                continue;
            };
            let gap = distance - spot.fall;
            let correction = gap / (sign * spot.slope);
            if gap.abs() <= 1e-9
                || (gap.abs() <= 1e-7 && correction.abs() <= 1e-13 * (1.0 + target.abs()))
            {
                return Ok(Some(
                    target
                        + if correction.is_finite() {
                            sign * correction
                        } else {
                            0.0
                        },
                ));
            }
            if gap > 0.0 {
                near = spot;
            } else {
                far = Some(target);
            }
            let Some(next) = self.next_step(&near, far, &spot, correction, sign) else {
                return Ok(Some(near.target));
            };
            step = next;
        }
        Err(LimitsError::NotConverged)
    }

    /// Distance of the next try from `near`: Newton's from the last spot where it stays inside the bracket.
    fn next_step(
        &self,
        near: &Spot,
        far: Option<f64>,
        last: &Spot,
        correction: f64,
        sign: f64,
    ) -> Option<f64> {
        let newton = (last.target - near.target) * sign + correction;
        match far {
            Some(far) => {
                let width = (far - near.target) * sign;
                if width <= 4.0 * f64::EPSILON * (1.0 + near.target.abs()) {
                    return None;
                }
                let inside = newton.is_finite() && newton > 1e-3 * width && newton < 0.999 * width;
                let close =
                    newton.is_finite() && newton > 0.0 && newton < width && correction.abs() < 1e-3;
                Some(if inside || close { newton } else { 0.5 * width })
            }
            None => {
                let travelled = (near.target - self.target)
                    .abs()
                    .max(self.error.min(30.0) * 0.1)
                    .max(1e-9);
                let most = 2.0 * travelled;
                Some(if newton.is_finite() && newton > 0.0 {
                    newton.min(most)
                } else {
                    most
                })
            }
        }
    }

    /// The best nuisance at a target, by Newton steps that climb.
    fn best(&self, target: f64, guess: f64) -> Option<Spot> {
        if self.family == Family::Exponential {
            let point = self
                .path
                .point(self.rows, self.family, target, self.nuisance)?;
            return Some(self.spot(target, self.nuisance, &point));
        }
        let at = |nuisance: f64| self.path.point(self.rows, self.family, target, nuisance);
        let mut nuisance = guess;
        let mut point = at(nuisance)?;
        for _ in 0..60 {
            let steep = if point.second < 0.0 {
                -point.second
            } else {
                point.second.abs() + point.first.abs()
            };
            if steep <= 0.0 {
                return Some(self.spot(target, nuisance, &point));
            }
            let mut step = (point.first / steep).clamp(-1.5, 1.5);
            let promise = 0.5 * (step * point.first).abs();
            // The second form is for ridges that level off: too flat to matter, too far to follow.
            let flat = 1.0 + 1e-3 * point.value.abs();
            if promise <= 1e-14 * flat || point.first.abs() <= 3e-9 * flat {
                return Some(self.spot(target, nuisance, &point));
            }
            let mut climbed = false;
            for _ in 0..16 {
                if let Some(next) = at(nuisance + step)
                    && next.value >= point.value - 1e-14 * point.value.abs()
                {
                    nuisance += step;
                    point = next;
                    climbed = true;
                    break;
                }
                step *= 0.25;
            }
            if !climbed {
                return (promise < 1e-7).then(|| self.spot(target, nuisance, &point));
            }
        }
        None
    }

    fn spot(&self, target: f64, nuisance: f64, point: &Point) -> Spot {
        let fall = (2.0 * (self.top - point.value)).max(0.0).sqrt();
        Spot {
            target,
            nuisance,
            fall,
            slope: -point.target / fall,
            drift: if point.second < 0.0 {
                (-point.mixed / point.second).clamp(-1e3, 1e3)
            } else {
                0.0
            },
        }
    }
}
