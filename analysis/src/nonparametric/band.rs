//! A band that holds a whole stretch of a survival curve at once (Nair 1984, Technometrics 26).

use super::aalen_johansen::incidence_limits;
use super::survival_curve::{CurvePoint, SurvivalCurve};
use super::{EstimateError, LimitKind};
use crate::solve::root;
use crate::special::normal;

/// Equal-precision band of a survival curve: as wide as pointwise limits of a higher level.
#[derive(Clone, Debug, PartialEq)]
pub struct SimultaneousBand {
    /// Confidence that the true curve lies inside throughout the stretch.
    pub level: f64,
    /// Scale on which the curve is taken as normal.
    pub kind: LimitKind,
    /// First usage of the stretch.
    pub from: f64,
    /// Last usage of the stretch.
    pub to: f64,
    /// Standard errors on either side.
    pub critical: f64,
    /// One point per usage of the curve within the stretch.
    pub points: Vec<BandPoint>,
}

/// The band just after one usage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandPoint {
    /// Usage.
    pub time: f64,
    /// Estimated survival.
    pub survival: f64,
    /// Lower edge.
    pub lower: f64,
    /// Upper edge.
    pub upper: f64,
}

impl SurvivalCurve {
    /// Equal-precision band over the points between two usages, `from` at or after the first failure. The critical
    /// value is Nair's approximation, which holds for levels from 0.8 on and is wide rather than narrow on short
    /// stretches.
    ///
    /// # Errors
    /// For a level outside [0.8, 1), and a stretch without a point at which survival is between 0 and 1.
    pub fn simultaneous_band(
        &self,
        from: f64,
        to: f64,
        level: f64,
        kind: LimitKind,
    ) -> Result<SimultaneousBand, EstimateError> {
        if !(0.8..1.0).contains(&level) {
            return Err(EstimateError::BandLevel { value: level });
        }
        let inside: Vec<(CurvePoint, f64)> = self
            .points()
            .filter(|point| from <= point.time && point.time <= to)
            .filter_map(|point| Some((point, point.std_error.filter(|error| *error > 0.0)?)))
            .collect();
        let relative = |place: Option<&(CurvePoint, f64)>| {
            place.map(|(point, error)| (error / point.survival).powi(2))
        };
        let (Some(least), Some(most)) = (relative(inside.first()), relative(inside.last())) else {
            return Err(EstimateError::NothingInStretch { from, to });
        };
        let critical = critical((most / least).ln(), level).ok_or(EstimateError::NotConverged)?;
        let points = inside
            .into_iter()
            .map(|(point, error)| {
                let (low, high) =
                    incidence_limits(1.0 - point.survival, point.survival, error, critical, kind);
                BandPoint {
                    time: point.time,
                    survival: point.survival,
                    lower: (1.0 - high).clamp(0.0, 1.0),
                    upper: (1.0 - low).clamp(0.0, 1.0),
                }
            })
            .collect();
        Ok(SimultaneousBand {
            level,
            kind,
            from,
            to,
            critical,
            points,
        })
    }
}

/// Solves `phi(c) (4/c + (c - 1/c) ln(ratio of variances)) = 1 - level`; the number of lives cancels from the ratio.
fn critical(ln_ratio: f64, level: f64) -> Option<f64> {
    let pointwise = normal::upper_quantile((0.5 * (1.0 - level)).ln());
    root(
        |c| {
            let crossings = 4.0 / c + (c - 1.0 / c) * ln_ratio.max(0.0);
            normal::ln_density(c) + crossings.ln() - (1.0 - level).ln()
        },
        pointwise,
        60.0,
    )
}
