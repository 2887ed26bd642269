//! The best likelihood with one quantity held, followed away from the top until it has fallen far enough
//! (Meeker and Escobar 1998, section 8.3).

use nalgebra::DVector;

use crate::intervals::LimitsError;

/// The best model with the target held.
#[derive(Clone, Debug)]
pub(crate) struct Spot {
    pub value: f64,
    /// Derivative of the log-likelihood along the target.
    pub slope: f64,
    pub theta: DVector<f64>,
}

/// A search for the targets at which the profile has fallen by a stated amount.
pub(crate) struct Search {
    /// Log-likelihood at the top.
    pub top: f64,
    /// Target at the top.
    pub target: f64,
    /// Rough standard error of the target, for the first step.
    pub error: f64,
    /// A side is given up beyond these targets.
    pub range: (f64, f64),
}

impl Search {
    /// The target on one side (`sign` -1 or 1) at which twice the fall is `distance` squared; none if the profile
    /// never falls that far within range. `best` gives the best model at a target, searched from a guess.
    pub(crate) fn limit(
        &self,
        sign: f64,
        distance: f64,
        start: &DVector<f64>,
        best: impl Fn(f64, &DVector<f64>) -> Option<Spot>,
    ) -> Result<Option<f64>, LimitsError> {
        let error = if self.error.is_finite() && self.error > 0.0 {
            self.error.min(30.0)
        } else {
            0.3
        };
        let mut near = self.target;
        let mut guess = start.clone();
        let mut far: Option<f64> = None;
        let mut step = error * distance;
        for _ in 0..150 {
            let target = near + sign * step;
            if target < self.range.0 || target > self.range.1 {
                return Ok(None);
            }
            let Some(spot) = best(target, &guess) else {
                // No footing there: shorten the step and try again.
                step *= 0.25;
                if step < 1e-13 * (1.0 + near.abs()) {
                    return Err(LimitsError::NotConverged);
                }
                continue;
            };
            let fall = (2.0 * (self.top - spot.value)).max(0.0).sqrt();
            let gap = distance - fall;
            // The fall grows along the target at the rate -slope / fall.
            let correction = -gap * fall * sign / spot.slope;
            let found = gap.abs() <= 1e-9 || gap.abs() <= 1e-7 && correction.abs() <= 1e-12;
            if found {
                let last = if correction.is_finite() && correction.abs() < step.abs() {
                    sign * correction
                } else {
                    0.0
                };
                return Ok(Some(target + last));
            }
            let newton = step + correction;
            if gap > 0.0 {
                near = target;
                guess = spot.theta;
            } else {
                far = Some(target);
            }
            let from_near = newton - if gap > 0.0 { step } else { 0.0 };
            step = match far {
                Some(far) => {
                    let width = (far - near) * sign;
                    if width <= 4.0 * f64::EPSILON * (1.0 + near.abs()) {
                        return Ok(Some(near));
                    }
                    let inside = from_near > 1e-3 * width && from_near < 0.999 * width;
                    let close =
                        from_near > 0.0 && from_near < width && correction.abs() < 1e-3 * error;
                    if inside || close {
                        from_near
                    } else {
                        0.5 * width
                    }
                }
                None => {
                    let most = 2.0 * (near - self.target).abs().max(error * 0.1);
                    if from_near > 0.0 {
                        from_near.min(most)
                    } else {
                        most
                    }
                }
            };
        }
        Err(LimitsError::NotConverged)
    }
}
