//! Search over the threshold: the best Weibull for each of a row of thresholds, then all three parameters together.

use nalgebra::{Matrix2, Vector2, Vector3};

use super::likelihood::{Place, Usages, evaluate};
use crate::fitting::newton::{Peak, Surface, climb};

pub(super) struct Search<'a> {
    pub lives: &'a [Usages],
    /// The threshold stays below this, or at it where the likelihood is bounded.
    pub bound: f64,
    /// Near the bound the likelihood grows without end: only a top with a shape of one or more counts.
    pub unbounded: bool,
}

/// Where the best threshold stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ended {
    Inside,
    AtZero,
    OnKink,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Best {
    pub at: Place,
    pub surface: Surface<3>,
    pub iterations: u32,
    pub ended: Ended,
}

/// Each threshold of the row lies nearer to the bound than the one before by this factor.
const NEARER: f64 = 0.82;
/// The row ends this near to the bound; nearer, the rounding of a usage would show.
const NEAREST: f64 = 1e-9;
/// Log shapes beyond these are never a top.
const LOG_SHAPES: std::ops::Range<f64> = -6.0..25.0;

impl Search<'_> {
    /// The highest top; none if there is none.
    pub(super) fn best(&self, start: Place) -> Option<Best> {
        let row = self.profile(start);
        let first = row.first()?;
        let mut found: Vec<Best> = Vec::new();
        if first.slope() <= 0.0 && self.counts(first) {
            found.push(first.ended(Ended::AtZero));
        }
        for (before, after) in row.iter().zip(row.iter().skip(1)) {
            if before.slope() > 0.0 && after.slope() <= 0.0 {
                found.extend(self.between(before, after));
            }
        }
        let best = |found: Vec<Best>| {
            found
                .into_iter()
                .filter(|best| !self.unbounded || best.at.y >= 0.0)
                .max_by(|a, b| a.surface.value.total_cmp(&b.surface.value))
        };
        let last = row.last()?;
        if self.unbounded {
            return best(found);
        }
        if last.at.z >= self.bound {
            // With a shape below one the likelihood may rise to a cusp at the very end.
            found.push(last.ended(Ended::OnKink));
            return best(found);
        }
        // No Weibull is best at the end itself: where the likelihood still rises towards it, there is no top.
        let reached = last.surface.value;
        best(found).filter(|best| last.slope() <= 0.0 || best.surface.value >= reached)
    }

    fn counts(&self, spot: &Spot) -> bool {
        !self.unbounded || spot.at.y >= 0.0
    }

    /// The best Weibull for thresholds from zero towards the bound.
    fn profile(&self, start: Place) -> Vec<Spot> {
        let mut spots: Vec<Spot> = Vec::new();
        let mut from = start;
        let mut left = self.bound;
        while left > NEAREST * self.bound {
            from.z = self.bound - left;
            left *= NEARER;
            let Some(spot) = self.at_threshold(from) else {
                continue;
            };
            from = spot.at;
            spots.push(spot);
            // With a shape below one the likelihood only grows from here on.
            if self.unbounded && spot.at.y < -0.2 {
                break;
            }
        }
        if !self.unbounded {
            from.z = self.bound;
            spots.extend(self.at_threshold(from));
        }
        spots
    }

    fn at_threshold(&self, from: Place) -> Option<Spot> {
        let threshold = from.z;
        let peak = climb(
            |at: &Vector2<f64>| {
                LOG_SHAPES.contains(&at.y).then(|| {
                    let whole = evaluate(self.lives, &Vector3::new(at.x, at.y, threshold));
                    Surface {
                        value: whole.value,
                        gradient: Vector2::new(whole.gradient.x, whole.gradient.y),
                        hessian: Matrix2::new(
                            whole.hessian.m11,
                            whole.hessian.m12,
                            whole.hessian.m12,
                            whole.hessian.m22,
                        ),
                    }
                })
            },
            Vector2::new(from.x, from.y),
            Vector2::new(8.0, 1.5),
        )?;
        if !peak.converged {
            return None;
        }
        let at = Vector3::new(peak.at.x, peak.at.y, threshold);
        Some(Spot {
            at,
            surface: evaluate(self.lives, &at),
            iterations: peak.iterations,
        })
    }

    /// The top between two thresholds of the row.
    fn between(&self, before: &Spot, after: &Spot) -> Option<Best> {
        let start = if before.surface.value > after.surface.value {
            before
        } else {
            after
        };
        let width = after.at.z - before.at.z;
        let peak = climb(
            |at: &Place| {
                (at.z >= 0.0 && at.z < self.bound && LOG_SHAPES.contains(&at.y))
                    .then(|| evaluate(self.lives, at))
            },
            start.at,
            Vector3::new(8.0, 1.0, width),
        );
        match peak {
            Some(Peak {
                at,
                surface,
                iterations,
                converged: true,
            }) if surface.value >= start.surface.value => Some(Best {
                at,
                surface,
                iterations,
                ended: Ended::Inside,
            }),
            _ => self.kink(before, after),
        }
    }

    /// Halves the stretch in which the slope along the threshold changes its sign.
    fn kink(&self, before: &Spot, after: &Spot) -> Option<Best> {
        let (mut low, mut high) = (*before, *after);
        for _ in 0..80 {
            let middle = 0.5 * (low.at.z + high.at.z);
            if high.at.z - low.at.z <= NEAREST * self.bound {
                break;
            }
            let spot = self.at_threshold(Vector3::new(low.at.x, low.at.y, middle))?;
            if spot.slope() > 0.0 {
                low = spot;
            } else {
                high = spot;
            }
        }
        let best = if low.surface.value > high.surface.value {
            low
        } else {
            high
        };
        Some(best.ended(Ended::OnKink))
    }
}

/// The best Weibull for one threshold.
#[derive(Clone, Copy, Debug)]
struct Spot {
    at: Place,
    surface: Surface<3>,
    iterations: u32,
}

impl Spot {
    /// Slope of the best likelihood along the threshold.
    fn slope(&self) -> f64 {
        self.surface.gradient.z
    }

    fn ended(&self, ended: Ended) -> Best {
        Best {
            at: self.at,
            surface: self.surface,
            iterations: self.iterations,
            ended,
        }
    }
}
