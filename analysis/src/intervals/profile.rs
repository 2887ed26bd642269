//! The best likelihood with one quantity held, followed away from the top until it has fallen far enough.

use super::LimitsError;
use super::derived::Derived;
use super::modified_root::ModifiedRoot;
use super::path::{Path, Point};
use crate::families::Curve;
use crate::fitting::rows::Rows;

/// A search for the targets at which the profile has fallen by a stated amount.
pub(crate) struct Profile<'a> {
    pub rows: &'a Rows,
    pub family: Curve,
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

/// How far from the estimate a held target is, in units in which the truth is about standard normal.
#[derive(Clone, Copy)]
pub(crate) enum Measure<'a> {
    /// The signed root of the likelihood ratio.
    Root,
    /// The same, corrected for few failures.
    Modified(&'a ModifiedRoot),
}

/// A place on the profile from which to step further.
#[derive(Clone, Copy, Debug)]
struct Footing {
    target: f64,
    nuisance: f64,
    /// Derivative of the best nuisance along the target.
    drift: f64,
}

/// The best member with the target held.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    footing: Footing,
    /// Signed root of twice the fall, without its sign.
    pub fall: f64,
    /// Derivative of `fall` along the target.
    slope: f64,
    pub point: Point,
}

/// Below this fall the correction is a difference of nearly equal numbers, so it is continued from further out.
const NEAR: f64 = 0.1;

/// After so many tries a search that Newton's steps have not ended halves its bracket.
const NEWTONS: u32 = 40;

/// A walk that finds no footing at so small a share of its first step finds none.
const LEAST_STEP: f64 = 1e-9;

/// Log shape, one tenth, below which a mean is more than a million times a usual life and its derivatives are lost in
/// rounding.
const SCATTERED: f64 = -std::f64::consts::LN_10;

impl Spot {
    /// The target held.
    pub(crate) fn target(&self) -> f64 {
        self.footing.target
    }
}

impl Profile<'_> {
    /// The target on one side (`sign` -1 or 1) at which the measure is `distance`; none if it never gets so far
    /// within range. Never on the other side of the estimate.
    pub(crate) fn limit(
        &self,
        sign: f64,
        distance: f64,
        measure: Measure<'_>,
    ) -> Result<Option<f64>, LimitsError> {
        if matches!(measure, Measure::Root)
            && let Some(target) = self.limit_jointly(sign, distance)
        {
            return Ok(Some(target));
        }
        self.limit_along(sign, distance, measure)
    }

    /// The same by a walk along the profile that brackets the limit.
    fn limit_along(
        &self,
        sign: f64,
        distance: f64,
        measure: Measure<'_>,
    ) -> Result<Option<f64>, LimitsError> {
        let mut near = self.summit();
        let mut far: Option<f64> = None;
        let mut step = self.first_step() * distance.max(0.1);
        for tries in 0..200 {
            let target = near.target + sign * step;
            if target < self.range.0 || target > self.range.1 {
                // The last stretch before the end of the range is worth a look, the rest is not.
                let end = if sign < 0.0 {
                    self.range.0
                } else {
                    self.range.1
                };
                if (end - near.target).abs() <= 1e-3 {
                    return Ok(None);
                }
                step = 0.5 * (end - near.target).abs();
                continue;
            }
            let Some(spot) = self.follow(&near, target) else {
                // No footing there: shorten the step and try again.
                step *= 0.25;
                if step < 1e-13 * (1.0 + near.target.abs()) {
                    return Err(self.lost(&near));
                }
                continue;
            };
            if self.on_tail(&spot.footing) {
                return Err(LimitsError::MeanOnTail);
            }
            let near_top = spot.fall < NEAR && matches!(measure, Measure::Modified(_));
            let reached = if near_top {
                let (shift, growth) = self.shift(sign, measure)?;
                shift + (1.0 + growth) * spot.fall
            } else {
                match self.measured(&spot, measure) {
                    Some(reached) => reached,
                    None if step > 1e-6 * self.first_step() => {
                        // The correction cannot be followed so far out.
                        step *= 0.25;
                        continue;
                    }
                    None => return Err(self.lost(&near)),
                }
            };
            if near_top && reached >= distance {
                return self.near_limit(sign, distance, measure).map(Some);
            }
            let gap = distance - reached;
            // Newton's step takes the slope of the root; that of the correction may differ by far.
            let creeps = tries >= NEWTONS && matches!(measure, Measure::Modified(_));
            let correction = if creeps {
                f64::NAN
            } else {
                gap / (sign * spot.slope)
            };
            // The correction holds second derivatives, some of them taken by difference.
            let enough = match measure {
                Measure::Root => 1e-9,
                Measure::Modified(_) => 1e-7,
            };
            if gap.abs() <= enough
                || (gap.abs() <= 1e-7 && correction.abs() <= 1e-13 * (1.0 + target.abs()))
            {
                let last = Some(correction).filter(|step| step.is_finite());
                return Ok(Some(target + sign * last.unwrap_or(0.0)));
            }
            if gap > 0.0 {
                near = spot.footing;
            } else {
                far = Some(target);
            }
            let Some(next) = self.next_step(&near, far, target, correction, sign) else {
                return Ok(Some(near.target));
            };
            step = next;
        }
        // Rounding can keep the measure from settling further than this.
        match far {
            Some(far) if (far - near.target).abs() <= 1e-6 * self.first_step() => {
                Ok(Some(near.target))
            }
            _ => Err(self.lost(&near)),
        }
    }

    /// Why the search stopped near a place.
    fn lost(&self, near: &Footing) -> LimitsError {
        if self.on_tail(near) {
            LimitsError::MeanOnTail
        } else {
            LimitsError::NotConverged
        }
    }

    /// Whether a mean hangs on the tail there.
    fn on_tail(&self, footing: &Footing) -> bool {
        let mean = matches!(self.path, Path::Derived(Derived::Residual { .. }));
        mean && footing.nuisance < SCATTERED
    }

    /// The best member with the target held, reached from the top; none where the profile cannot be followed. The way
    /// there is walked, so that it ends on the same ridge as a search for a limit.
    pub(crate) fn held(&self, target: f64) -> Option<Spot> {
        let mut near = self.summit();
        let mut shorter = 1.0;
        for _ in 0..120 {
            let travelled = (near.target - self.target).abs();
            let most = self.first_step().max(0.5 * travelled) * shorter;
            let left = target - near.target;
            let aim = if left.abs() <= most {
                target
            } else {
                near.target + most.copysign(left)
            };
            match self.follow(&near, aim) {
                Some(spot) if aim == target => return Some(spot),
                Some(spot) => {
                    near = spot.footing;
                    shorter = (2.0 * shorter).min(1.0);
                }
                None if shorter < LEAST_STEP => return None,
                None => shorter *= 0.25,
            }
        }
        None
    }

    /// The measure at a spot.
    fn measured(&self, spot: &Spot, measure: Measure<'_>) -> Option<f64> {
        match measure {
            Measure::Root => Some(spot.fall),
            Measure::Modified(root) => root.measure(spot),
        }
    }

    /// The signed measure at a target: positive above the estimate, negative below.
    pub(crate) fn signed(&self, target: f64, measure: Measure<'_>) -> Option<f64> {
        let sign = if target < self.target { -1.0 } else { 1.0 };
        let spot = self.held(target)?;
        if spot.fall >= NEAR || matches!(measure, Measure::Root) {
            return Some(sign * self.measured(&spot, measure)?);
        }
        let (shift, growth) = self.shift(sign, measure).ok()?;
        Some(sign * (spot.fall * (1.0 + growth) + shift))
    }

    /// The measure close to the top as a straight line of the fall: `shift + (1 + growth) fall`.
    fn shift(&self, sign: f64, measure: Measure<'_>) -> Result<(f64, f64), LimitsError> {
        let mut ends = [(0.0, 0.0); 2];
        for (end, fall) in ends.iter_mut().zip([1.5 * NEAR, 4.5 * NEAR]) {
            let target = self
                .limit(sign, fall, Measure::Root)?
                .ok_or(LimitsError::NotConverged)?;
            let spot = self.held(target).ok_or(LimitsError::NotConverged)?;
            let reached = self
                .measured(&spot, measure)
                .ok_or(LimitsError::NotConverged)?;
            *end = (spot.fall, reached - spot.fall);
        }
        let [(near, here), (far, there)] = ends;
        let growth = (there - here) / (far - near);
        Ok((here - growth * near, growth))
    }

    /// A limit so close to the top that the correction is continued; the estimate itself where it would be beyond.
    fn near_limit(
        &self,
        sign: f64,
        distance: f64,
        measure: Measure<'_>,
    ) -> Result<f64, LimitsError> {
        let (shift, growth) = self.shift(sign, measure)?;
        let fall = (distance - shift) / (1.0 + growth).max(0.1);
        if fall <= 1e-6 {
            return Ok(self.target);
        }
        let target = self.limit(sign, fall.min(NEAR), Measure::Root)?;
        Ok(target.unwrap_or(self.target))
    }

    fn summit(&self) -> Footing {
        Footing {
            target: self.target,
            nuisance: self.nuisance,
            drift: 0.0,
        }
    }

    fn first_step(&self) -> f64 {
        if self.error.is_finite() && self.error > 0.0 {
            self.error.min(30.0)
        } else {
            0.3
        }
    }

    fn follow(&self, near: &Footing, target: f64) -> Option<Spot> {
        let guess = near.nuisance + near.drift * (target - near.target);
        self.best(target, guess)
            .or_else(|| self.best(target, near.nuisance))
    }

    /// Distance of the next try from `near`: Newton's from the last spot where it stays inside the bracket.
    fn next_step(
        &self,
        near: &Footing,
        far: Option<f64>,
        last: f64,
        correction: f64,
        sign: f64,
    ) -> Option<f64> {
        let newton = (last - near.target) * sign + correction;
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
        if self.family == Curve::Exponential {
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
            footing: Footing {
                target,
                nuisance,
                drift: if point.second < 0.0 {
                    (-point.mixed / point.second).clamp(-1e3, 1e3)
                } else {
                    0.0
                },
            },
            fall,
            slope: -point.target / fall,
            point: *point,
        }
    }
}
