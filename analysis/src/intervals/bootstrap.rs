//! The signed root of the likelihood ratio, referred to samples drawn from the fit instead of to the normal curve
//! (parametric bootstrap of the signed root: Jeng and Meeker 2000, Technometrics 42).

use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rayon::prelude::*;

use super::method::Resampling;
use super::profile::Measure;
use super::quantity::Quantity;
use super::resample::Scheme;
use super::{Level, LimitsError};
use crate::fitting::rows::Rows;
use crate::fitting::{Fit, fit};
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

/// Signed roots at the truth in samples drawn from a fit, in order.
#[derive(Clone, Debug)]
pub(crate) struct Roots {
    roots: Vec<f64>,
    drawn: u32,
}

impl Roots {
    /// Draws samples and finds the signed root of each. Every sample has its own stream of random numbers, so that
    /// neither the number of threads nor their order matters.
    pub(crate) fn draw(
        sample: &Sample,
        fit: &Fit,
        quantity: Quantity,
        resampling: Resampling,
    ) -> Result<Self, LimitsError> {
        let scheme = Scheme::new(sample, fit, resampling.resamples)?;
        let rows = Rows::new(sample);
        let aim = quantity.aim(fit, rows.centre)?;
        let truth = aim.shown(aim.target).ok_or(LimitsError::OutOfRange)?;
        let mut roots: Vec<f64> = (0..u64::from(resampling.resamples))
            .into_par_iter()
            .filter_map(|stream| {
                let mut random = ChaCha8Rng::seed_from_u64(resampling.seed);
                random.set_stream(stream);
                root(&scheme.sample(&mut random)?, fit, quantity, truth)
            })
            .collect();
        roots.sort_by(f64::total_cmp);
        Ok(Self {
            roots,
            drawn: resampling.resamples,
        })
    }

    /// Fall of the profile at the limit on the side of the target given by `sign`; 0 or less at the estimate.
    pub(crate) fn distance(&self, sign: f64, level: Level) -> Result<f64, LimitsError> {
        let tail = level.tail();
        let place = (self.roots.len() as f64 + 1.0) * if sign > 0.0 { 1.0 - tail } else { tail };
        let below = place.floor();
        let at = |place: f64| -> Option<f64> {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a place in the list"
            )]
            let index = (place >= 1.0).then_some(place as usize)? - 1;
            self.roots.get(index).copied()
        };
        let too_few = LimitsError::TooFewResamples {
            resamples: self.drawn,
        };
        let here = at(below).ok_or_else(|| too_few.clone())?;
        let part = place - below;
        let root = if part < 1e-9 {
            here
        } else {
            here + part * (at(below + 1.0).ok_or(too_few)? - here)
        };
        Ok(sign * root)
    }

    /// Share of the roots at or below one.
    pub(crate) fn share_below(&self, root: f64) -> f64 {
        let below = self.roots.partition_point(|drawn| *drawn <= root);
        (below as f64 + 0.5) / (self.roots.len() as f64 + 1.0)
    }

    /// The caution where many samples had no estimate.
    pub(crate) fn warning(&self) -> Option<Warning> {
        let lost = f64::from(self.drawn) - self.roots.len() as f64;
        (lost > 0.01 * f64::from(self.drawn)).then(|| {
            Warning::new(
                WarningCode::ResamplesLost,
                format!(
                    "Of {} samples drawn from the fit, {lost} have no estimate and are left out, so the limits hold only given that there is one.",
                    self.drawn
                ),
            )
        })
    }
}

/// The signed root at the true value in one sample; none without an estimate.
fn root(sample: &Sample, from: &Fit, quantity: Quantity, truth: f64) -> Option<f64> {
    let fitted = fit(sample, from.family).ok()?;
    let rows = Rows::new(sample);
    let aim = quantity.aim(&fitted, rows.centre).ok()?;
    aim.profile(&rows, &fitted)
        .signed(aim.target_of(truth)?, Measure::Root)
        .filter(|root| root.is_finite())
}

/// A unit exponential.
pub(super) fn exponential(random: &mut impl Rng) -> f64 {
    -(-random.random::<f64>()).ln_1p()
}
