//! A scale mixed of two: usage is `(1 - weight) a + weight b`, each in units of its mean (Farewell and Cox 1979;
//! Kordonsky and Gertsbakh 1997). The weight is found along its profile likelihood.

use super::compare::ln_rates;
use super::error::ScaleError;
use super::lives::{ScaledLife, ScaledLives, end};
use crate::families::Family;
use crate::fitting::{Fit, FitError, fit};
use crate::intervals::{Level, Side};
use crate::observation::Observation;
use crate::sample::{Sample, SampleError};
use crate::solve::root;
use crate::summation::Sum;

/// The best mixture of two scales.
#[derive(Clone, Debug, PartialEq)]
pub struct MixedScale {
    /// The first scale, all of it at weight 0.
    pub first: String,
    /// The second, all of it at weight 1.
    pub second: String,
    /// Mean usage at the end of lives on each scale, by which it is divided.
    pub units: [f64; 2],
    /// Best weight of the second scale, in [0, 1].
    pub weight: f64,
    /// Weights whose likelihood is within a chi-square of the best; at an end of the range, that end.
    pub limits: [f64; 2],
    /// The fit on the mixed scale.
    pub fit: Fit,
    /// Log-likelihood with densities per unit of the first scale.
    pub log_likelihood: f64,
    /// The same at weights 0 and 1; none where there is no fit.
    pub at_ends: [Option<f64>; 2],
    /// Akaike's criterion, the weight counted as a parameter.
    pub aic: f64,
}

const STEPS: u32 = 40;

/// Finds the mixture of two scales that explains wear best, with two-sided limits of the weight at the
/// confidence of `level`, whatever its side.
///
/// # Errors
/// For a family with more than location and shape, an unknown scale, or no fit at any weight.
pub fn mixed_scale(
    lives: &ScaledLives,
    [first, second]: [&str; 2],
    family: Family,
    level: Level,
) -> Result<MixedScale, ScaleError> {
    if !family.is_log_location_scale() {
        return Err(ScaleError::Family { family });
    }
    let places = [lives.place(first)?, lives.place(second)?];
    let units = places.map(|place| mean_end(lives, place));
    let mix = Mix {
        lives,
        places,
        units,
        family,
    };
    let value = |weight: f64| mix.at(weight).map_or(f64::NEG_INFINITY, |(value, _)| value);
    let grid: Vec<(f64, f64)> = (0..=STEPS)
        .map(|step| {
            let weight = f64::from(step) / f64::from(STEPS);
            (weight, value(weight))
        })
        .collect();
    let mut top = (0.0, f64::NEG_INFINITY);
    for point in &grid {
        if point.1 > top.1 {
            top = *point;
        }
    }
    if top.1 == f64::NEG_INFINITY {
        return Err(mix
            .at(0.0)
            .err()
            .unwrap_or(FitError::OutOfRange { family }.into()));
    }
    let width = 1.0 / f64::from(STEPS);
    let (mut a, mut b) = ((top.0 - width).max(0.0), (top.0 + width).min(1.0));
    let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
    let mut inner = [b - ratio * (b - a), a + ratio * (b - a)].map(|w| (w, value(w)));
    while b - a > 1e-7 {
        let [c, d] = inner;
        for point in inner {
            if point.1 > top.1 {
                top = point;
            }
        }
        if c.1 >= d.1 {
            b = d.0;
            let w = b - ratio * (b - a);
            inner = [(w, value(w)), c];
        } else {
            a = c.0;
            let w = a + ratio * (b - a);
            inner = [d, (w, value(w))];
        }
    }
    let (log_likelihood, fit) = mix.at(top.0)?;
    let both = Level::new(level.level(), Side::TwoSided).unwrap_or(Level::TWO_SIDED_95);
    let fall = 0.5 * both.distance() * both.distance();
    let gap = |weight: f64| (value(weight) - log_likelihood + fall).max(-1e6);
    // The outermost crossing on each side of the grid, so that no far weight within the fall is left out.
    let kept = |point: &&(f64, f64)| point.1 - log_likelihood + fall >= 0.0;
    let outer_low = grid.iter().find(kept).map_or(top.0, |p| p.0.min(top.0));
    let outer_high = grid
        .iter()
        .rev()
        .find(kept)
        .map_or(top.0, |p| p.0.max(top.0));
    let crossing = |inside: f64, step: f64| {
        let outside = (inside + step).clamp(0.0, 1.0);
        root(gap, outside, inside).unwrap_or(outside)
    };
    let ends = [grid.first(), grid.last()];
    Ok(MixedScale {
        first: first.to_owned(),
        second: second.to_owned(),
        units,
        weight: top.0,
        limits: [crossing(outer_low, -width), crossing(outer_high, width)],
        aic: 2.0 * (f64::from(family.parameters()) + 1.0) - 2.0 * log_likelihood,
        fit,
        log_likelihood,
        at_ends: ends.map(|end| end.map(|end| end.1).filter(|value| value.is_finite())),
    })
}

struct Mix<'a> {
    lives: &'a ScaledLives,
    places: [usize; 2],
    units: [f64; 2],
    family: Family,
}

impl Mix<'_> {
    fn mixed(&self, life: &[Observation], weight: f64) -> Option<Observation> {
        let [a, b] = self.places;
        let (one, other) = (life.get(a)?, life.get(b)?);
        let [u, v] = self.units;
        let joined = |x: f64, y: f64| (1.0 - weight) * (x / u) + weight * (y / v);
        Some(Observation {
            entry: joined(one.entry, other.entry),
            lower: joined(one.lower, other.lower),
            upper: if one.upper.is_finite() {
                joined(one.upper, other.upper)
            } else {
                f64::INFINITY
            },
            cause: one.cause.clone(),
            count: one.count,
        })
    }

    /// Log-likelihood per unit of the first scale, with the fit.
    fn at(&self, weight: f64) -> Result<(f64, Fit), ScaleError> {
        let rows = self
            .lives
            .lives()
            .iter()
            .filter_map(|life: &ScaledLife| self.mixed(&life.on, weight));
        let sample =
            Sample::new(rows).map_err(|SampleError { faults }| ScaleError::Observations {
                scale: "mixed".to_owned(),
                faults,
            })?;
        let fit = fit(&sample, self.family)?;
        let rates = ln_rates(self.lives, self.places[0], |life| {
            self.mixed(life, weight).map(|mixed| end(&mixed))
        });
        Ok((fit.log_likelihood + rates, fit))
    }
}

fn mean_end(lives: &ScaledLives, place: usize) -> f64 {
    let (mut total, mut count) = (Sum::default(), 0.0);
    for life in lives.lives() {
        if let Some(on) = life.on.get(place) {
            total.add(on.count as f64 * end(on));
            count += on.count as f64;
        }
    }
    let mean = total.total() / count;
    if mean.is_finite() && mean > 0.0 {
        mean
    } else {
        1.0
    }
}
