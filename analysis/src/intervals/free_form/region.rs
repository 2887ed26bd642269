//! The values of the third parameter whose slices meet the region of the likelihood ratio.

use std::f64::consts::FRAC_PI_2;

use super::highest::highest;
use super::slices::Slices;
use super::{LimitsError, Quantity};
use crate::families::Family;
use crate::solve::root;

/// Why the region ends there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// The likelihood has fallen.
    Fallen,
    /// The range of the third parameter ends.
    OfRange,
    /// From there on the best shape is below one, beside a likelihood without bound.
    Cut,
}

/// From where to where, with the fall from the top of the whole that ends it.
pub(super) struct Region {
    distance: f64,
    bounds: [f64; 2],
    pub ends: [End; 2],
}

/// Places at which to look for further hills of the likelihood, between an end found and that of the range.
const LOOKS: u32 = 6;
/// Places at which to look for hills of a limit along the third parameter.
const STEPS: u32 = 12;
/// The angle of the third parameter is found to within this.
const SETTLED: f64 = 1e-5;
/// A slice counts as fallen where it ends within this of the fall.
const CLOSE: f64 = 1e-3;

impl Region {
    /// The region about the estimate, and beyond a gap where a look finds the likelihood high again.
    pub(super) fn around(slices: &mut Slices<'_>, distance: f64) -> Result<Self, LimitsError> {
        let mut region = Self {
            distance,
            bounds: [slices.best; 2],
            ends: [End::Fallen; 2],
        };
        let (low, end_low) = region.march(slices, -1.0, slices.best)?;
        let (high, end_high) = region.march(slices, 1.0, slices.best)?;
        region.bounds = [low, high];
        region.ends = [end_low, end_high];
        Ok(region)
    }

    fn march(
        &self,
        slices: &mut Slices<'_>,
        sign: f64,
        from: f64,
    ) -> Result<(f64, End), LimitsError> {
        let last = if sign < 0.0 {
            slices.range.0
        } else {
            slices.range.1
        };
        let mut near = from;
        loop {
            let (at, end) = self.climb_down(slices, sign, near, last)?;
            if end != End::Fallen {
                return Ok((at, end));
            }
            let again = (1..=LOOKS)
                .map(|look| at + (last - at) * f64::from(look) / f64::from(LOOKS))
                .filter(|place| (place - at) * sign > 0.0)
                .filter(|place| self.room(slices, *place).is_some_and(|room| room > 0.0))
                .last();
            match again {
                Some(place) => near = place,
                None => return Ok((at, end)),
            }
        }
    }

    /// The first end of the region from a place inside.
    fn climb_down(
        &self,
        slices: &mut Slices<'_>,
        sign: f64,
        from: f64,
        last: f64,
    ) -> Result<(f64, End), LimitsError> {
        let mut near = from;
        let mut step = first_step(slices) * self.distance.max(0.1);
        loop {
            if (last - near) * sign <= 0.0 {
                return Ok((last, End::OfRange));
            }
            let mut far = near + sign * step;
            if (last - far) * sign <= 0.0 {
                far = last;
            }
            if self.room(slices, far).is_some_and(|room| room >= 0.0) {
                near = far;
                step *= 1.7;
                continue;
            }
            let mut inside = near;
            let fall = |third: f64| match self.room(slices, third) {
                Some(room) => {
                    if room >= 0.0 && (third - inside) * sign > 0.0 {
                        inside = third;
                    }
                    room
                }
                None => f64::NEG_INFINITY,
            };
            let edge = root(fall, near, far).ok_or(LimitsError::NotConverged)?;
            let room = self.room(slices, edge);
            if room.is_some_and(|room| room.abs() <= CLOSE) {
                return Ok((edge, End::Fallen));
            }
            return if slices.spike && sign > 0.0 {
                Ok((inside, End::Cut))
            } else {
                Err(LimitsError::NotConverged)
            };
        }
    }

    /// How much further than the best of a slice its limits may fall, as a signed root; none without a slice.
    fn room(&self, slices: &mut Slices<'_>, third: f64) -> Option<f64> {
        let spike = slices.spike;
        let slice = slices.at(third)?;
        if spike && slice.fit.log_shape < -1e-9 {
            return None;
        }
        let fall = (slices.fit.log_likelihood - slice.fit.log_likelihood).max(0.0);
        Some(self.distance - (2.0 * fall).sqrt())
    }

    /// The limit of the third parameter itself; none where its range ends before the likelihood has fallen.
    pub(super) fn third(&self, family: Family, up: bool) -> Option<f64> {
        let [low, high] = self.bounds;
        let [end_low, end_high] = self.ends;
        let (at, end) = if up { (high, end_high) } else { (low, end_low) };
        match end {
            End::Fallen if family == Family::Gamma => Some(at.exp()),
            End::Fallen => Some(at),
            End::OfRange if family == Family::ThresholdWeibull => Some(at),
            End::OfRange | End::Cut => None,
        }
    }

    /// Whether the region reaches a threshold of zero.
    pub(super) fn at_zero(&self, family: Family) -> bool {
        let [end, _] = self.ends;
        family == Family::ThresholdWeibull && end == End::OfRange
    }

    /// The furthest limit among the slices; none where it is open.
    ///
    /// The third parameter goes as the sine of an angle, so that limits leave the ends of the region smoothly.
    pub(super) fn outermost(
        &self,
        slices: &mut Slices<'_>,
        quantity: Quantity,
        up: bool,
    ) -> Result<Option<f64>, LimitsError> {
        let [low, high] = self.bounds;
        let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
        let mut climb = Climb {
            region: self,
            slices,
            quantity,
            up,
            best: None,
            stopped: None,
        };
        let spots: Vec<(f64, f64)> = (0..=STEPS)
            .map(|step| FRAC_PI_2 * (2.0 * f64::from(step) / f64::from(STEPS) - 1.0))
            .map(|angle| {
                (
                    angle,
                    climb.score((middle + half * angle.sin()).clamp(low, high)),
                )
            })
            .collect();
        let hills: Vec<(f64, f64)> = spots
            .iter()
            .enumerate()
            .filter_map(|(place, (angle, score))| {
                let before = place.checked_sub(1).and_then(|place| spots.get(place));
                let after = spots.get(place + 1);
                let top = before.is_none_or(|other| other.1 <= *score)
                    && after.is_none_or(|other| other.1 < *score);
                let from = before.map_or(*angle, |other| other.0);
                top.then(|| (from, after.map_or(*angle, |other| other.0)))
            })
            .collect();
        for (from, to) in hills {
            if climb.stopped.is_some() {
                break;
            }
            highest(
                |angle| climb.score((middle + half * angle.sin()).clamp(low, high)),
                from,
                to,
                SETTLED,
            );
        }
        if let Some(stopped) = climb.stopped {
            return stopped;
        }
        let Some((third, _, value)) = climb.best else {
            return Err(LimitsError::NotConverged);
        };
        let near = |bound: f64, end: End| {
            end == End::OfRange && (third - bound).abs() <= SETTLED * SETTLED * (high - low)
        };
        let [end_low, end_high] = self.ends;
        // Limits that still grow where the search for the third parameter ends are not limits.
        let open = slices.fit.family != Family::ThresholdWeibull
            && (near(low, end_low) || near(high, end_high));
        Ok((!open).then_some(value))
    }
}

/// A climb along the third parameter to the furthest limit.
struct Climb<'r, 's, 'a> {
    region: &'r Region,
    slices: &'s mut Slices<'a>,
    quantity: Quantity,
    up: bool,
    /// Third parameter, score and limit.
    best: Option<(f64, f64, f64)>,
    /// An answer that no further slice can change: open, or a failure.
    stopped: Option<Result<Option<f64>, LimitsError>>,
}

impl Climb<'_, '_, '_> {
    /// The limit in a slice, on a scale on which more is further out.
    fn score(&mut self, third: f64) -> f64 {
        if self.stopped.is_some() {
            return f64::NEG_INFINITY;
        }
        match self.limit(third) {
            Ok(Some(value)) => {
                let scaled = match self.quantity {
                    Quantity::Survival(_)
                    | Quantity::ConditionalSurvival { .. }
                    | Quantity::Parameter("mu") => value,
                    _ => value.ln(),
                };
                let score = if self.up { scaled } else { -scaled };
                if self.best.is_none_or(|(_, best, _)| score > best) {
                    self.best = Some((third, score, value));
                }
                score
            }
            Ok(None) => {
                self.stopped = Some(Ok(None));
                f64::INFINITY
            }
            Err(error) => {
                self.stopped = Some(Err(error));
                f64::NEG_INFINITY
            }
        }
    }

    fn limit(&mut self, third: f64) -> Result<Option<f64>, LimitsError> {
        let slice = self.slices.at(third).ok_or(LimitsError::NotConverged)?;
        let fall = 2.0 * (self.slices.fit.log_likelihood - slice.fit.log_likelihood);
        let left = self.region.distance.powi(2) - fall;
        slice.reach(self.quantity, self.up, left.max(0.0).sqrt())
    }
}

/// A first step along the third parameter: its standard error where it has one.
fn first_step(slices: &Slices<'_>) -> f64 {
    let (low, high) = slices.range;
    let error = slices
        .fit
        .log_covariance
        .as_ref()
        .and_then(|table| match slices.fit.family {
            Family::Gamma => table.first()?.first().copied(),
            _ => table.get(2)?.get(2).copied(),
        })
        .map(f64::sqrt)
        .filter(|error| error.is_finite() && *error > 0.0);
    match error {
        Some(error) => error.min(0.25 * (high - low)),
        None => 0.05 * (high - low),
    }
}
