//! Weibull fit to exact failures and survivors, with or without late entry, in the shape alone.
//!
//! At shape `b` the best scale is `(S_0(b) / r)^(1/b)`, which leaves one equation,
//! `1/b + mean failed y = S_1/S_0` (Cohen 1965, Technometrics 7; with entries taken off the sums). Halley's steps
//! on it need the sums up to `S_3`, one pass over the exponentials each.

use super::exposure::Exposure;
use super::likelihood::{Evaluation, Member};
use super::matrix::Symmetric;
use super::maximise::{Ended, Top};
use crate::families::Curve;
use crate::sample::Sample;

const MOST_PASSES: u32 = 40;
/// Beyond this many rows the search starts on a thinned sample.
const THIN_ABOVE: usize = 4_096;
const THINNED_ROWS: usize = 512;
/// After a step this short in log shape, cubic convergence has reached the last bits.
const LAST_STEP: f64 = 1e-6;
/// Enough for a start.
const ROUGH_STEP: f64 = 0.03;
const LOG_SHAPE: std::ops::Range<f64> = -4.5..7.0;

/// The top, and the centre its location is counted from. None where this way does not serve: failures not known
/// exactly, or no clear top; the general search then decides.
pub(crate) fn top(sample: &Sample) -> Option<(Top, f64)> {
    let exposure = Exposure::new(sample)?;
    let mut passes = 0;
    let mut start = spread_start(&exposure);
    let stride = exposure.rows() / THINNED_ROWS;
    if exposure.rows() > THIN_ABOVE
        && let Some(thinned) = exposure.thinned(sample, stride)
        && let Some(found) = search(&thinned, start, ROUGH_STEP, &mut passes)
    {
        start = found.log_shape;
    }
    passes = 0;
    let found = search(&exposure, start, LAST_STEP, &mut passes)?;
    Some((found.top(&exposure, passes)?, exposure.longest))
}

/// The best member for lives given by log usage at the end, width since a late entry, count, and whether failed.
pub(crate) fn placed(lives: impl Iterator<Item = (f64, Option<f64>, f64, bool)>) -> Option<Member> {
    let exposure = Exposure::from_logs(lives)?;
    let found = search(&exposure, spread_start(&exposure), ROUGH_STEP, &mut 0)?;
    let mut member = found.top(&exposure, 0)?.member;
    member.location += exposure.longest;
    Some(member)
}

/// The logarithm of a Weibull life has standard deviation `pi / (shape sqrt 6)`.
fn spread_start(exposure: &Exposure) -> f64 {
    let [first, second] = exposure.failed.map(|sum| sum / exposure.failures);
    let spread = (second - first * first).max(0.0).sqrt();
    let start = Curve::Weibull.starting_shape(spread).ln();
    if start.is_finite() {
        start.clamp(-2.0, 4.0)
    } else {
        0.0
    }
}

/// A root of the profile equation, with the sums there.
struct Found {
    log_shape: f64,
    sums: [f64; 4],
}

/// Slope of the profile in the log shape, and its next two derivatives.
fn profile(exposure: &Exposure, b: f64, sums: [f64; 4]) -> [f64; 3] {
    let r = exposure.failures;
    let [s0, s1, s2, s3] = sums;
    let (m1, m2, m3) = (s1 / s0, s2 / s0, s3 / s0);
    let variance = m2 - m1 * m1;
    let third = m3 - 3.0 * m1 * m2 + 2.0 * m1 * m1 * m1;
    let [failed, _] = exposure.failed;
    let pull = b * (failed - r * m1);
    let bend = r * b * b * variance;
    [
        r + pull,
        pull - bend,
        pull - 3.0 * bend - r * b * b * b * third,
    ]
}

fn search(exposure: &Exposure, start: f64, last_step: f64, passes: &mut u32) -> Option<Found> {
    let (mut low, mut high) = (LOG_SHAPE.start, LOG_SHAPE.end);
    let mut log_shape = start;
    while *passes < MOST_PASSES {
        *passes += 1;
        let b = log_shape.exp();
        let sums = exposure.sums(b);
        if !(sums.iter().all(|sum| sum.is_finite()) && sums.first().is_some_and(|s0| *s0 > 0.0)) {
            return None;
        }
        let [slope, bend, third] = profile(exposure, b, sums);
        if slope > 0.0 {
            low = log_shape;
        } else {
            high = log_shape;
        }
        let newton = -slope / bend;
        // Halley's step; where it is no shortening or lengthening of Newton's by a little, Newton's own.
        let factor = 1.0 / (1.0 - 0.5 * slope * third / (bend * bend));
        let step = if (0.5..2.0).contains(&factor) {
            newton * factor
        } else {
            newton
        };
        let next = log_shape + step;
        if bend < 0.0 && step.abs() <= last_step {
            return Some(Found {
                log_shape: next,
                sums: carried(sums, next.exp() - b),
            });
        }
        log_shape = if bend < 0.0 && next > low && next < high && step.abs() < 1.5 {
            next
        } else if bend < 0.0
            && step.abs() >= 1.5
            && log_shape + step.signum() > low
            && log_shape + step.signum() < high
        {
            log_shape + step.signum()
        } else {
            0.5 * (low + high)
        };
        if high - low < 1e-12 {
            return None;
        }
    }
    None
}

/// The sums at a shape very near, by their Taylor series: `S_k' = S_(k+1)`.
fn carried(sums: [f64; 4], by: f64) -> [f64; 4] {
    let [s0, s1, s2, s3] = sums;
    [
        s0 + by * (s1 + by * (s2 / 2.0 + by * s3 / 6.0)),
        s1 + by * (s2 + by * s3 / 2.0),
        s2 + by * s3,
        s3,
    ]
}

impl Found {
    /// The member is described by the quantile at `S_1/S_0`, where location and shape do not disturb each other.
    fn top(&self, exposure: &Exposure, passes: u32) -> Option<Top> {
        let r = exposure.failures;
        let b = self.log_shape.exp();
        let [s0, s1, s2, _] = self.sums;
        let [failed, _] = exposure.failed;
        let mean = s1 / s0;
        let ln_rate = (s0 / r).ln();
        let information = 1.0 + b * b * (s2 / s0 - mean * mean);
        let value = r * (self.log_shape - ln_rate - 1.0 - exposure.longest) + (b - 1.0) * failed;
        if !(value.is_finite() && information > 0.0) {
            return None;
        }
        Some(Top {
            member: Member {
                family: Curve::Weibull,
                location: mean,
                log_shape: self.log_shape,
                anchor: b * mean - ln_rate,
            },
            at: Evaluation {
                value,
                gradient: [0.0; 2],
                hessian: Symmetric {
                    a: -r * b * b,
                    b: 0.0,
                    d: -r * information,
                },
            },
            iterations: passes,
            ended: Ended::Converged,
        })
    }
}

/// The exponential's mean is usage over failures; none where some failure is not known exactly.
pub(crate) fn exponential_top(sample: &Sample) -> Option<Top> {
    if sample.left_censored() + sample.interval_censored() > 0 {
        return None;
    }
    let r = sample.failures() as f64;
    let location = (sample.total_usage() / r).ln();
    location.is_finite().then_some(Top {
        member: Member {
            family: Curve::Exponential,
            location,
            log_shape: 0.0,
            anchor: 0.0,
        },
        at: Evaluation {
            value: -r * (location + 1.0),
            gradient: [0.0; 2],
            hessian: Symmetric {
                a: -r,
                b: 0.0,
                d: 0.0,
            },
        },
        iterations: 0,
        ended: Ended::Converged,
    })
}
