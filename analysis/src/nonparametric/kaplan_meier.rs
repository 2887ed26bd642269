//! Product-limit estimate of survival with delayed entry (Kaplan and Meier 1958, JASA 53).

use super::risk::{Moment, each_moment};
use super::{EstimateError, LimitKind, Limits};
use crate::sample::Sample;
use crate::special::normal;
use crate::special::vector::{Kernel, exp, ln, wide};
use crate::summation::{BLOCK, Sum};
use crate::warning::{Warning, WarningCode};

/// A step curve of survival; 1 before the first point.
#[derive(Clone, Debug, PartialEq)]
pub struct SurvivalCurve {
    /// How the limits were made.
    pub limits: Limits,
    /// One point at every usage at which a life ends.
    pub points: Vec<CurvePoint>,
    /// Cautions about the curve.
    pub warnings: Vec<Warning>,
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

/// Product-limit curve; failures come before censorings at ties.
///
/// # Errors
/// For an empty sample, a level outside (0, 1), or failures not known exactly (use [`super::turnbull`]).
pub fn kaplan_meier(sample: &Sample, limits: Limits) -> Result<SurvivalCurve, EstimateError> {
    if !(limits.level > 0.0 && limits.level < 1.0) {
        return Err(EstimateError::Level {
            value: limits.level,
        });
    }
    let z = normal::upper_quantile((0.5 * (1.0 - limits.level)).ln());
    let mut steps = Steps {
        survival: 1.0,
        relative: Sum::default(),
        z,
        kind: limits.kind,
    };
    let mut points = Vec::new();
    let mut block: Vec<Moment> = Vec::with_capacity(BLOCK);
    each_moment(sample, |moment| {
        if points.capacity() == 0 {
            points.reserve_exact(sample.observations().len());
        }
        block.push(moment);
        if block.len() == BLOCK {
            steps.take(&block, &mut points);
            block.clear();
        }
    })?;
    steps.take(&block, &mut points);
    Ok(SurvivalCurve {
        limits,
        warnings: cautions(&points),
        points,
    })
}

/// The product so far.
struct Steps {
    survival: f64,
    /// Greenwood's sum, the variance of survival over its square.
    relative: Sum,
    z: f64,
    kind: LimitKind,
}

impl Steps {
    /// Adds the points of at most a block of moments.
    fn take(&mut self, moments: &[Moment], points: &mut Vec<CurvePoint>) {
        let (mut survival, mut errors) = ([1.0; BLOCK], [0.0; BLOCK]);
        for (moment, (survival, error)) in moments.iter().zip(survival.iter_mut().zip(&mut errors))
        {
            if moment.failed > 0 {
                let (n, d) = (moment.at_risk as f64, moment.failed as f64);
                self.survival *= 1.0 - d / n;
                if moment.failed < moment.at_risk {
                    self.relative.add(d / (n * (n - d)));
                }
            }
            *survival = self.survival;
            *error = self.relative.total();
        }
        let (mut lower, mut upper) = ([0.0; BLOCK], [0.0; BLOCK]);
        wide(PointLimits {
            survival: &survival,
            errors: &mut errors,
            z: self.z,
            kind: self.kind,
            lower: &mut lower,
            upper: &mut upper,
        });
        let numbers = survival.iter().zip(&errors).zip(lower.iter().zip(&upper));
        points.extend(moments.iter().zip(numbers).map(
            |(moment, ((survival, error), (lower, upper)))| {
                let alive = *survival > 0.0;
                let shown = |value: f64| alive.then(|| value.clamp(0.0, 1.0));
                let whole = *survival >= 1.0;
                CurvePoint {
                    time: moment.time,
                    at_risk: moment.at_risk,
                    failed: moment.failed,
                    censored: moment.censored,
                    survival: *survival,
                    std_error: alive.then_some(survival * error),
                    lower: shown(if whole { 1.0 } else { *lower }),
                    upper: shown(if whole { 1.0 } else { *upper }),
                }
            },
        ));
    }
}

/// Limits of a block of points. Greenwood's sums become their roots on the way.
struct PointLimits<'a> {
    survival: &'a [f64; BLOCK],
    errors: &'a mut [f64; BLOCK],
    z: f64,
    kind: LimitKind,
    lower: &'a mut [f64; BLOCK],
    upper: &'a mut [f64; BLOCK],
}

impl Kernel for PointLimits<'_> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        let z = self.z;
        for error in self.errors.iter_mut() {
            *error = error.sqrt();
        }
        let given = self.survival.iter().zip(self.errors.iter());
        let out = self.lower.iter_mut().zip(self.upper.iter_mut());
        match self.kind {
            LimitKind::Plain => {
                for ((survival, error), (lower, upper)) in given.zip(out) {
                    *lower = survival * (1.0 - z * error);
                    *upper = survival * (1.0 + z * error);
                }
            }
            LimitKind::Log => {
                for ((survival, error), (lower, upper)) in given.zip(out) {
                    let factor = exp(z * error);
                    *lower = survival / factor;
                    *upper = survival * factor;
                }
            }
            LimitKind::LogLog => {
                for ((survival, error), (lower, upper)) in given.zip(out) {
                    let ln_survival = ln(*survival);
                    let stretch = exp(z * error / -ln_survival);
                    *lower = exp(ln_survival * stretch);
                    *upper = exp(ln_survival / stretch);
                }
            }
        }
    }
}

fn cautions(points: &[CurvePoint]) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let before_last = points.len().saturating_sub(1);
    let early = points.iter().take(before_last);
    if let Some(stop) = early.clone().find(|point| point.failed == point.at_risk) {
        warnings.push(Warning::new(
            WarningCode::CurveStopsEarly,
            format!(
                "At usage {} every life then at risk failed, so the curve is 0 from there although later lives follow. Look at survival given survival to a later usage instead.",
                stop.time
            ),
        ));
    } else if let Some(gap) = early
        .clone()
        .find(|point| point.failed + point.censored == point.at_risk)
    {
        warnings.push(Warning::new(
            WarningCode::EarlyEmptyRiskSet,
            format!("After usage {} nobody was at risk for a while; the curve says nothing about that stretch.", gap.time),
        ));
    }
    warnings
}

impl SurvivalCurve {
    /// Survival just after `usage`; none beyond the last point, unless the curve ended at 0.
    #[must_use]
    pub fn survival_at(&self, usage: f64) -> Option<f64> {
        let last = self.points.last()?;
        if usage > last.time && last.survival > 0.0 {
            return None;
        }
        let passed = self.points.partition_point(|point| point.time <= usage);
        match passed.checked_sub(1) {
            None => Some(1.0),
            Some(place) => self.points.get(place).map(|point| point.survival),
        }
    }

    /// Usage by which a share `p` has failed, with limits from the limits of the curve.
    ///
    /// Where a curve runs exactly at `1 - p` between two failures, the middle of that stretch is taken.
    #[must_use]
    pub fn quantile(&self, p: f64) -> QuantileEstimate {
        QuantileEstimate {
            value: self.first_at(1.0 - p, |point| Some(point.survival)),
            lower: self.first_at(1.0 - p, |point| point.lower),
            upper: self.first_at(1.0 - p, |point| point.upper),
        }
    }

    fn first_at(&self, level: f64, read: impl Fn(&CurvePoint) -> Option<f64>) -> Option<f64> {
        // A product of ratios may miss an exact level by rounding.
        let slack = 1e-12;
        let mut reached = self
            .points
            .iter()
            .filter_map(|point| Some((point.time, read(point)?)))
            .skip_while(|(_, value)| *value > level + slack);
        let (time, value) = reached.next()?;
        if value < level - slack {
            return Some(time);
        }
        let next = reached.find(|(_, value)| *value < level - slack);
        Some(next.map_or(time, |(next, _)| 0.5 * (time + next)))
    }

    /// Usage by which half have failed.
    #[must_use]
    pub fn median(&self) -> QuantileEstimate {
        self.quantile(0.5)
    }

    /// Mean usage up to `horizon`; none where the curve does not reach it or its error is undefined.
    #[must_use]
    pub fn restricted_mean(&self, horizon: f64) -> Option<RestrictedMean> {
        self.survival_at(horizon)?;
        let mut steps: Vec<(f64, f64)> = vec![(0.0, 1.0)];
        let reached = || self.points.iter().take_while(|point| point.time <= horizon);
        steps.extend(reached().map(|point| (point.time, point.survival)));
        let ends = steps.iter().skip(1).map(|step| step.0).chain([horizon]);
        let areas: Vec<f64> = steps
            .iter()
            .zip(ends)
            .map(|((from, height), to)| height * (to - from))
            .collect();
        let mut left = areas.iter().copied().collect::<Sum>().total();
        let value = left;
        let mut variance = Sum::default();
        for (point, area) in reached().zip(&areas) {
            left -= area;
            let (n, d) = (point.at_risk as f64, point.failed as f64);
            if point.failed > 0 && point.failed < point.at_risk {
                variance.add(left * left * d / (n * (n - d)));
            }
        }
        Some(RestrictedMean {
            horizon,
            value,
            std_error: variance.total().sqrt(),
        })
    }
}
