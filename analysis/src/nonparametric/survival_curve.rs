//! A step curve of survival, as it is read.

use super::Limits;
use super::kaplan_meier::Product;
use super::point_limits::PointLimits;
use super::risk::{Moment, Place, RiskSets};
use crate::special::normal;
use crate::special::vector::wide;
use crate::summation::{BLOCK, Sum};
use crate::warning::Warning;

/// A step curve of survival; 1 before the first point.
///
/// It keeps the product at every 256th point and the lives it came from: a million points in a fraction of a megabyte.
/// A point and its limits are worked out as they are read, to the same bits each time.
#[derive(Clone, Debug)]
pub struct SurvivalCurve {
    /// How the limits are made.
    pub limits: Limits,
    /// Cautions about the curve.
    pub warnings: Vec<Warning>,
    sets: RiskSets,
    marks: Vec<Mark>,
    points: usize,
}

/// Where a block of points begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark {
    /// Usage of its first point.
    pub(super) time: f64,
    pub(super) place: Place,
    /// The product before it.
    pub(super) product: Product,
}

/// Survival just after one usage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Usage.
    pub time: f64,
    /// Lives with `entry < time <= exit`.
    pub at_risk: u64,
    /// Failures at this usage.
    pub failed: u64,
    /// Lives that stopped being watched at this usage; they count as at risk for the failures here.
    pub censored: u64,
    /// Estimated survival.
    pub survival: f64,
    /// Standard error by Greenwood's formula; none where survival is 0.
    pub std_error: Option<f64>,
    /// Lower limit; none where survival is 0.
    pub lower: Option<f64>,
    /// Upper limit; none where survival is 0.
    pub upper: Option<f64>,
}

/// Usage by which a share has failed, read off the curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct QuantileEstimate {
    /// First usage with survival at or below `1 - p`; none if the curve does not get there.
    pub value: Option<f64>,
    /// The same, read off the lower limit of the curve.
    pub lower: Option<f64>,
    /// The same, read off the upper limit of the curve.
    pub upper: Option<f64>,
}

/// Mean usage up to a horizon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RestrictedMean {
    /// Usage at which the mean is cut off.
    pub horizon: f64,
    /// Area under the curve up to the horizon.
    pub value: f64,
    /// Standard error (Klein and Moeschberger 2003, section 4.5).
    pub std_error: f64,
}

/// One point without its limits.
struct Step {
    moment: Moment,
    survival: f64,
    /// Greenwood's sum.
    relative: f64,
}

/// Curves are equal when they read the same, whatever lives they came from.
impl PartialEq for SurvivalCurve {
    fn eq(&self, other: &Self) -> bool {
        self.limits == other.limits
            && self.warnings == other.warnings
            && self.points().eq(other.points())
    }
}

/// A product of ratios may miss an exact level by rounding.
const SLACK: f64 = 1e-12;

/// The first usage at which a falling curve is at a level or below.
fn first_at(level: f64, curve: impl Iterator<Item = (f64, f64)>) -> Option<f64> {
    let mut reached = curve.skip_while(|(_, value)| *value > level + SLACK);
    let (time, value) = reached.next()?;
    if value < level - SLACK {
        return Some(time);
    }
    let next = reached.find(|(_, value)| *value < level - SLACK);
    // Halved first, so that the largest usages do not overflow.
    Some(next.map_or(time, |(next, _)| 0.5 * time + 0.5 * next))
}

impl SurvivalCurve {
    pub(super) fn new(
        limits: Limits,
        warnings: Vec<Warning>,
        sets: RiskSets,
        marks: Vec<Mark>,
        points: usize,
    ) -> Self {
        Self {
            limits,
            warnings,
            sets,
            marks,
            points,
        }
    }

    /// How many points there are: usages at which a life ends.
    #[must_use]
    pub fn len(&self) -> usize {
        self.points
    }

    /// Whether there is no point: nobody was watched for any usage.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.points == 0
    }

    /// One point at every usage at which a life ends, in order.
    pub fn points(&self) -> impl DoubleEndedIterator<Item = CurvePoint> + Clone {
        (0..self.marks.len()).flat_map(|block| self.block(block))
    }

    /// The last point.
    #[must_use]
    pub fn last(&self) -> Option<CurvePoint> {
        self.points().next_back()
    }

    /// The points of one block, without limits.
    fn steps(&self, block: usize) -> impl Iterator<Item = Step> {
        let mark = self.marks.get(block);
        let mut product = mark.map(|mark| mark.product).unwrap_or_default();
        let moments = mark.map(|mark| self.sets.from(mark.place).take(BLOCK));
        moments.into_iter().flatten().map(move |(moment, _)| {
            product.take(&moment);
            Step {
                moment,
                survival: product.survival,
                relative: product.relative.total(),
            }
        })
    }

    /// The points of one block.
    fn block(&self, block: usize) -> Vec<CurvePoint> {
        let steps: Vec<Step> = self.steps(block).collect();
        let (mut survival, mut errors) = ([1.0; BLOCK], [0.0; BLOCK]);
        for (step, (survival, error)) in steps.iter().zip(survival.iter_mut().zip(&mut errors)) {
            *survival = step.survival;
            *error = step.relative;
        }
        let (mut lower, mut upper) = ([0.0; BLOCK], [0.0; BLOCK]);
        wide(PointLimits {
            survival: &survival,
            errors: &mut errors,
            z: normal::upper_quantile((0.5 * (1.0 - self.limits.level)).ln()),
            kind: self.limits.kind,
            lower: &mut lower,
            upper: &mut upper,
        });
        let numbers = errors.iter().zip(lower.iter().zip(&upper));
        let points = steps.iter().zip(numbers);
        points
            .map(|(step, (error, (lower, upper)))| {
                let alive = step.survival > 0.0;
                let shown = |value: f64| alive.then(|| value.clamp(0.0, 1.0));
                let whole = step.survival >= 1.0;
                CurvePoint {
                    time: step.moment.time,
                    at_risk: step.moment.at_risk,
                    failed: step.moment.failed,
                    censored: step.moment.censored,
                    survival: step.survival,
                    std_error: alive.then_some(step.survival * error),
                    lower: shown(if whole { 1.0 } else { *lower }),
                    upper: shown(if whole { 1.0 } else { *upper }),
                }
            })
            .collect()
    }

    /// Survival just after `usage`; none beyond the last point, unless the curve ended at 0.
    #[must_use]
    pub fn survival_at(&self, usage: f64) -> Option<f64> {
        let last = self.last()?;
        if usage.is_nan() || (usage > last.time && last.survival > 0.0) {
            return None;
        }
        let begun = self.marks.partition_point(|mark| mark.time <= usage);
        let Some(block) = begun.checked_sub(1) else {
            return Some(1.0);
        };
        self.steps(block)
            .take_while(|step| step.moment.time <= usage)
            .last()
            .map(|step| step.survival)
    }

    /// Usage by which a share `p` has failed, with limits from the limits of the curve.
    ///
    /// Where a curve runs exactly at `1 - p` between two failures, the middle of that stretch is taken.
    #[must_use]
    pub fn quantile(&self, p: f64) -> QuantileEstimate {
        let level = 1.0 - p;
        // Survival falls, so no earlier block gets there; limits need not.
        let above = |mark: &Mark| mark.product.survival > level + SLACK;
        let first = self.marks.partition_point(above).saturating_sub(1);
        let steps = (first..self.marks.len()).flat_map(|block| self.steps(block));
        let limit = |read: fn(CurvePoint) -> Option<f64>| {
            let read = |point: CurvePoint| Some((point.time, read(point)?));
            first_at(level, self.points().filter_map(read))
        };
        QuantileEstimate {
            value: first_at(level, steps.map(|step| (step.moment.time, step.survival))),
            lower: limit(|point| point.lower),
            upper: limit(|point| point.upper),
        }
    }

    /// Usage by which half have failed.
    #[must_use]
    pub fn median(&self) -> QuantileEstimate {
        self.quantile(0.5)
    }

    /// Mean usage up to `horizon`; none where the curve does not reach it, for a horizon that is negative or not finite,
    /// and where the error leaves the range of numbers.
    #[must_use]
    pub fn restricted_mean(&self, horizon: f64) -> Option<RestrictedMean> {
        if !(horizon.is_finite() && horizon >= 0.0) {
            return None;
        }
        self.survival_at(horizon)?;
        let reached: Vec<Step> = (0..self.marks.len())
            .flat_map(|block| self.steps(block))
            .take_while(|step| step.moment.time <= horizon)
            .collect();
        let mut steps: Vec<(f64, f64)> = vec![(0.0, 1.0)];
        steps.extend(reached.iter().map(|step| (step.moment.time, step.survival)));
        let ends = steps.iter().skip(1).map(|step| step.0).chain([horizon]);
        let areas: Vec<f64> = steps
            .iter()
            .zip(ends)
            .map(|((from, height), to)| height * (to - from))
            .collect();
        let mut left = areas.iter().copied().collect::<Sum>().total();
        let value = left;
        let mut variance = Sum::default();
        for (Step { moment, .. }, area) in reached.iter().zip(&areas) {
            left -= area;
            let (n, d) = (moment.at_risk as f64, moment.failed as f64);
            if moment.failed > 0 && moment.failed < moment.at_risk {
                variance.add(left * left * d / (n * (n - d)));
            }
        }
        let std_error = variance.total().sqrt();
        std_error.is_finite().then_some(RestrictedMean {
            horizon,
            value,
            std_error,
        })
    }
}
