//! Lines through the points of probability paper, by least squares (Abernethy et al. 1983, AFWAL-TR-83-2079).

use serde::{Deserialize, Serialize};

use super::{Line, Positions, RankError, adjusted_ranks, line_of, place};
use crate::families::Family;
use crate::sample::Sample;
use crate::summation::Sum;

/// Which coordinate of the paper carries the error.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// The share failed, on the family's scale, is fitted from the usage.
    YOnX,
    /// The usage is fitted from the share failed.
    XOnY,
}

/// A family fitted by rank regression.
#[derive(Clone, Debug, PartialEq)]
pub struct RankFit {
    /// The family fitted.
    pub family: Family,
    /// How ranks became shares.
    pub positions: Positions,
    /// Which coordinate was fitted from which.
    pub direction: Direction,
    /// Natural parameters in the order of [`Family::parameter_names`].
    pub parameters: Vec<f64>,
    /// Correlation of the points on the paper; its square is r squared in either direction.
    pub correlation: f64,
    /// Points on the paper: failures.
    pub points: u64,
}

impl RankFit {
    /// Square of the correlation.
    #[must_use]
    pub fn r_squared(&self) -> f64 {
        self.correlation * self.correlation
    }

    /// The parameter of that name.
    #[must_use]
    pub fn parameter(&self, name: &str) -> Option<f64> {
        let place = self
            .family
            .parameter_names()
            .iter()
            .position(|known| *known == name)?;
        self.parameters.get(place).copied()
    }
}

/// The most failures ranked one by one.
const MOST: u64 = 100_000;

/// Fits a family by least squares on its paper. The exponential line runs through the origin of usage against
/// cumulative hazard; all others are free lines over the logarithm of usage.
///
/// # Errors
/// As [`adjusted_ranks`]; for a family that no paper makes straight, failures at one usage only, too many failures, or
/// a parameter out of the range of numbers.
pub fn rank_regression(
    sample: &Sample,
    family: Family,
    positions: Positions,
    direction: Direction,
) -> Result<RankFit, RankError> {
    let kind = line_of(family)?;
    let ranked = adjusted_ranks(sample)?;
    let failures = sample.failures();
    if failures > MOST {
        return Err(RankError::TooManyFailures {
            failures,
            most: MOST,
        });
    }
    if ranked.len() < 2 {
        return Err(RankError::OneUsage);
    }
    // Usage in units of the longest, so that no square overflows.
    let longest = ranked.last().map_or(1.0, |group| group.time);
    let points: Vec<(f64, f64)> = ranked
        .iter()
        .flat_map(|group| group.ranks().map(|rank| (group.time, rank)))
        .map(|(time, rank)| {
            place(
                family,
                time / longest,
                positions.hazard_at(rank, sample.lives()),
            )
        })
        .collect();
    let out_of_range = RankError::OutOfRange { family };
    let free_line = || {
        let (location, spread) = line(&points, direction).ok_or(out_of_range.clone())?;
        Ok((location + longest.ln(), spread))
    };
    let parameters = match kind {
        Line::ThroughOrigin => vec![longest * slope_through_origin(&points, direction)],
        Line::LocationSpread => {
            let (location, spread) = free_line()?;
            vec![location, spread]
        }
        Line::ScaleShape => {
            let (location, spread) = free_line()?;
            vec![location.exp(), 1.0 / spread]
        }
    };
    let usable = |value: &f64| value.is_finite() && (kind == Line::LocationSpread || *value > 0.0);
    let correlation = correlation(&points).ok_or(out_of_range.clone())?;
    if !parameters.iter().all(usable) {
        return Err(out_of_range);
    }
    Ok(RankFit {
        family,
        positions,
        direction,
        parameters,
        correlation,
        points: failures,
    })
}

/// Usage per unit of hazard.
fn slope_through_origin(points: &[(f64, f64)], direction: Direction) -> f64 {
    let sum = |term: fn(&(f64, f64)) -> f64| points.iter().map(term).collect::<Sum>().total();
    let cross = sum(|(x, y)| x * y);
    match direction {
        Direction::YOnX => sum(|(x, _)| x * x) / cross,
        Direction::XOnY => cross / sum(|(_, y)| y * y),
    }
}

/// Location and spread of `x = location + spread y`.
fn line(points: &[(f64, f64)], direction: Direction) -> Option<(f64, f64)> {
    let moments = Moments::of(points);
    let spread = match direction {
        Direction::YOnX => moments.xx / moments.xy,
        Direction::XOnY => moments.xy / moments.yy,
    };
    let location = moments.x - spread * moments.y;
    (spread.is_finite() && spread > 0.0 && location.is_finite()).then_some((location, spread))
}

/// Correlation of points; none where one coordinate does not vary.
pub(crate) fn correlation(points: &[(f64, f64)]) -> Option<f64> {
    let moments = Moments::of(points);
    let r = moments.xy / (moments.xx * moments.yy).sqrt();
    r.is_finite().then(|| r.clamp(-1.0, 1.0))
}

/// Means, and sums of squares and products about them.
struct Moments {
    x: f64,
    y: f64,
    xx: f64,
    yy: f64,
    xy: f64,
}

impl Moments {
    fn of(points: &[(f64, f64)]) -> Self {
        let n = points.len() as f64;
        let x = points.iter().map(|point| point.0).collect::<Sum>().total() / n;
        let y = points.iter().map(|point| point.1).collect::<Sum>().total() / n;
        let sum = |term: &dyn Fn(f64, f64) -> f64| {
            let terms = points.iter().map(|(px, py)| term(px - x, py - y));
            terms.collect::<Sum>().total()
        };
        Self {
            x,
            y,
            xx: sum(&|dx, _| dx * dx),
            yy: sum(&|_, dy| dy * dy),
            xy: sum(&|dx, dy| dx * dy),
        }
    }
}
