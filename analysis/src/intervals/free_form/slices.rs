//! Where slices come from: the best fit for any value of the third parameter.

use std::borrow::Cow;

use super::slice::Slice;
use crate::families::{Curve, Family, GeneralisedGamma};
use crate::fitting::Fit;
use crate::fitting::LifeDistribution;
use crate::fitting::fitted::location_covariance;
use crate::fitting::likelihood::Member;
use crate::fitting::maximise::{Ended, Free, Top, maximise};
use crate::fitting::rows::Rows;
use crate::fitting::start::start;
use crate::intervals::LimitsError;
use crate::observation::{Ending, Observation};
use crate::sample::Sample;
use crate::summation::Sum;

/// Bounds of `q`, as the fit has them.
const FORMS: (f64, f64) = (-12.0, 12.0);
/// Bounds of the logarithm of the gamma's shape.
const LN_GAMMA_SHAPES: (f64, f64) = (-6.5, 40.0);
/// Thresholds come this near to the end of their range.
const NEAREST: f64 = 1e-9;

/// The slices of a fit, by the third parameter: `q`, the threshold, or the logarithm of the gamma's shape.
pub(super) struct Slices<'a> {
    sample: &'a Sample,
    rows: &'a Rows,
    pub fit: &'a Fit,
    /// Third parameter of the fit.
    pub best: f64,
    /// Range of the third parameter.
    pub range: (f64, f64),
    /// The likelihood is unbounded near the upper end of the range, so that only best shapes of one or more count.
    pub spike: bool,
    /// Cumulative hazard at the share failed, where the data know location best.
    hazard: f64,
    /// Found so far, to start from: third parameter, location and log shape.
    found: Vec<(f64, f64, f64)>,
}

impl<'a> Slices<'a> {
    pub(super) fn new(
        sample: &'a Sample,
        rows: &'a Rows,
        fit: &'a Fit,
    ) -> Result<Self, LimitsError> {
        let (best, range, spike) = match (fit.family, fit.life.curve) {
            (Family::Gamma, _) => (2.0 * fit.log_shape, LN_GAMMA_SHAPES, false),
            (Family::GeneralisedGamma, Curve::GeneralisedGamma(curve)) => {
                (curve.form(), FORMS, false)
            }
            (Family::ThresholdWeibull, _) => {
                let (bound, spike) = bound(sample, fit.recorded);
                // At a cusp the estimate may stand at the bound itself.
                let end = if fit.recorded.is_some() {
                    bound
                } else {
                    bound * (1.0 - NEAREST)
                };
                let best = fit.life.threshold;
                (best, (0.0, end.max(best)), spike)
            }
            _ => return Err(LimitsError::Family { family: fit.family }),
        };
        let share = fit.failures as f64 / (fit.lives as f64 + 1.0);
        Ok(Self {
            sample,
            rows,
            fit,
            best,
            range,
            spike,
            hazard: -(-share.clamp(1e-12, 0.63)).ln_1p(),
            found: vec![(best, fit.location, fit.log_shape)],
        })
    }

    /// The best fit there; none where there is none.
    pub(super) fn at(&mut self, third: f64) -> Option<Slice<'a>> {
        let (near, location, log_shape) = self
            .found
            .iter()
            .copied()
            .min_by(|a, b| (a.0 - third).abs().total_cmp(&(b.0 - third).abs()))?;
        let slice = match self.fit.family {
            Family::Gamma => self.gamma(third, location)?,
            Family::GeneralisedGamma => self.form(third, near, location, log_shape)?,
            _ => {
                let typical = near + location.exp() - third;
                let guess = if typical > 0.0 {
                    typical.ln()
                } else {
                    location
                };
                self.threshold(third, guess, log_shape)?
            }
        };
        self.found
            .push((third, slice.fit.location, slice.fit.log_shape));
        Some(slice)
    }

    fn gamma(&self, ln_shape: f64, location: f64) -> Option<Slice<'a>> {
        let first = Member {
            family: Curve::GeneralisedGamma(GeneralisedGamma::new((-0.5 * ln_shape).exp())),
            location: location - self.rows.centre,
            log_shape: 0.5 * ln_shape,
            anchor: 0.0,
        };
        let top = maximise(self.rows, first, Free::Location);
        self.slice(top, Cow::Borrowed(self.rows), Family::Gamma, 0.0, 0.0)
    }

    fn form(&self, form: f64, near: f64, location: f64, log_shape: f64) -> Option<Slice<'a>> {
        let curve = Curve::GeneralisedGamma(GeneralisedGamma::new(form));
        let from = Curve::GeneralisedGamma(GeneralisedGamma::new(near));
        // The usage at which a share has failed changes little with the form.
        let first = Member {
            family: from,
            location: location - self.rows.centre,
            log_shape,
            anchor: 0.0,
        }
        .anchored_at(from.standard_quantile(self.hazard));
        let first = Member {
            family: curve,
            anchor: curve.standard_quantile(self.hazard),
            ..first
        };
        let mut top = maximise(self.rows, first, Free::Both);
        if top.ended != Ended::Converged {
            top = maximise(self.rows, start(self.rows, curve), Free::Both);
        }
        let rows = Cow::Borrowed(self.rows);
        self.slice(top, rows, Family::GeneralisedGamma, 0.0, 0.0)
    }

    fn threshold(&self, threshold: f64, location: f64, log_shape: f64) -> Option<Slice<'a>> {
        let (sample, density) = since(self.sample, threshold, self.fit.recorded)?;
        let rows = Rows::new(&sample);
        let first = Member {
            family: Curve::Weibull,
            location: location - rows.centre,
            log_shape,
            anchor: 0.0,
        }
        .anchored_at(self.hazard.ln());
        let mut top = maximise(&rows, first, Free::Both);
        if top.ended != Ended::Converged {
            top = maximise(&rows, start(&rows, Curve::Weibull), Free::Both);
        }
        let rows = Cow::Owned(rows);
        self.slice(top, rows, Family::Weibull, threshold, density)
    }

    fn slice(
        &self,
        top: Top,
        rows: Cow<'a, Rows>,
        family: Family,
        threshold: f64,
        density: f64,
    ) -> Option<Slice<'a>> {
        if top.ended != Ended::Converged || !top.at.value.is_finite() {
            return None;
        }
        let mut member = top.member.anchored_at(0.0);
        member.location += rows.centre;
        let life = LifeDistribution::of_member(family, &member, 0.0);
        let names = family.parameter_names().iter();
        let parameters = names
            .map(|name| super::reading::read(&life, crate::intervals::Quantity::Parameter(name)))
            .collect::<Option<Vec<f64>>>()?;
        Some(Slice {
            top: top.at.value,
            fit: Fit {
                family,
                parameters,
                log_likelihood: top.at.value + density,
                location: life.location,
                log_shape: life.log_shape,
                location_covariance: (family != Family::Gamma)
                    .then(|| location_covariance(&top))
                    .flatten(),
                life,
                ..self.fit.clone()
            },
            rows,
            threshold,
        })
    }
}

/// The end of the range of thresholds, and whether the likelihood is unbounded there.
fn bound(sample: &Sample, recorded: Option<f64>) -> (f64, bool) {
    let (mut bound, mut exact) = (f64::INFINITY, f64::INFINITY);
    for life in sample.observations() {
        if life.ending() == Ending::Exact {
            match recorded {
                Some(precision) => {
                    bound = bound.min((life.lower - 0.5 * precision).max(life.entry))
                }
                None => exact = exact.min(life.lower),
            }
        }
        if life.upper.is_finite() {
            bound = bound.min(life.upper);
        }
    }
    (bound, exact <= bound)
}

/// The lives counted from a threshold, and what makes the log-likelihood by recording one of density.
fn since(sample: &Sample, threshold: f64, recorded: Option<f64>) -> Option<(Sample, f64)> {
    let mut density = Sum::default();
    let mut lives = Vec::with_capacity(sample.observations().len());
    for row in sample.observations() {
        let mut life = Observation::from(row);
        if let (Ending::Exact, Some(precision)) = (row.ending(), recorded) {
            life.lower = (row.lower - 0.5 * precision).max(row.entry);
            life.upper = row.upper + 0.5 * precision;
            density.add(-(row.count as f64) * (life.upper - life.lower).ln());
        }
        life.entry = (life.entry - threshold).max(0.0);
        life.lower = (life.lower - threshold).max(0.0);
        life.upper -= threshold;
        if life.upper <= 0.0 {
            return None;
        }
        lives.push(life);
    }
    Some((Sample::new(lives).ok()?, density.total()))
}
