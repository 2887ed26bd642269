//! The likelihood of an accelerated-life model with one quantity held: the covariates are counted from the point, so
//! that the quantity is itself one parameter, and the rest is free.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{DMatrix, DVector};

use super::accelerated_life::{AcceleratedLifeFit, PerStratum, stratum_places};
use super::accelerated_objective::{AcceleratedObjective, Lives};
use super::covariates::CovariateSample;
use super::error::PredictionError;
use super::newton::{Ended, maximise};
use super::place::Place;
use super::profile::{Search, Spot};
use crate::intervals::{Level, LimitsError};

/// Which quantity is held at the target.
#[derive(Clone, Copy, Debug)]
pub(super) enum Target {
    /// Centred log usage at which the standard variable has its given value.
    Quantile,
    /// Standard variable at this centred log usage.
    Standard(f64),
    /// A scaled coefficient.
    Coefficient(usize),
}

pub(super) struct Held<'a> {
    pub(super) z: f64,
    pub(super) place: &'a Place,
    pub(super) target: Target,
}

impl AcceleratedLifeFit {
    #[expect(
        clippy::too_many_arguments,
        reason = "one search, told apart by its caller"
    )]
    pub(super) fn sides(
        &self,
        sample: &CovariateSample,
        held: &Held<'_>,
        target: f64,
        error: Option<f64>,
        range: (f64, f64),
        level: Level,
        [to_lower, to_upper]: [f64; 2],
    ) -> Result<[Option<f64>; 2], PredictionError> {
        if sample.digest() != self.digest {
            return Err(PredictionError::OtherSample);
        }
        let profile = ProfileOf::new(self, sample, held);
        let search = Search {
            top: self.log_likelihood,
            target,
            error: error.unwrap_or(0.3),
            range,
        };
        let start = profile.start(self, target);
        let side = |wanted: bool, sign: f64| -> Result<Option<f64>, LimitsError> {
            if !wanted {
                return Ok(None);
            }
            search.limit(sign, level.distance(), &start, |target, guess| {
                profile.best(target, guess)
            })
        };
        Ok([
            side(level.wants_lower(), to_lower)?,
            side(level.wants_upper(), to_upper)?,
        ])
    }
}

/// The lives with covariates counted from the point.
struct ProfileOf<'a> {
    lives: Lives,
    covariates: DMatrix<f64>,
    held: &'a Held<'a>,
}

impl<'a> ProfileOf<'a> {
    fn new(fit: &AcceleratedLifeFit, sample: &CovariateSample, held: &'a Held<'a>) -> Self {
        let places = stratum_places(sample);
        let own = |choice| match choice {
            PerStratum::Shared => vec![0; places.len()],
            PerStratum::Own => places.clone(),
        };
        let model = fit.model;
        let lives = Lives::new(
            sample,
            model.family,
            own(model.intercepts),
            own(model.shapes),
        );
        let covariates = DMatrix::from_fn(sample.rows().len(), fit.columns.len(), |row, j| {
            let raw = sample.rows().get(row).and_then(|row| row.values.get(j));
            match (raw, fit.columns.get(j)) {
                (Some(raw), Some(column)) => column.scaled(*raw) - held.place.scaled[j],
                _ => 0.0,
            }
        });
        Self {
            lives,
            covariates,
            held,
        }
    }

    /// The top in the coordinates of the profile.
    fn start(&self, fit: &AcceleratedLifeFit, target: f64) -> DVector<f64> {
        let mut theta = fit.inner.theta.clone();
        let effects = theta.rows(fit.intercepts.len(), fit.columns.len());
        let shift = effects.dot(&self.held.place.scaled);
        for intercept in 0..fit.intercepts.len() {
            theta[intercept] += shift;
        }
        match self.held.target {
            Target::Quantile => theta[self.held.place.intercept] = target,
            Target::Standard(y) => theta[self.held.place.intercept] = y,
            Target::Coefficient(_) => {}
        }
        theta
    }

    fn best(&self, target: f64, guess: &DVector<f64>) -> Option<Spot> {
        let Held {
            z,
            place,
            target: held,
            ..
        } = self.held;
        let anchor = match held {
            Target::Quantile => *z,
            Target::Standard(_) => target,
            Target::Coefficient(_) => 0.0,
        };
        let objective = AcceleratedObjective {
            lives: &self.lives,
            covariates: &self.covariates,
            anchors: (0..self.lives.intercepts)
                .map(|intercept| {
                    let mine = intercept == place.intercept;
                    (if mine { anchor } else { 0.0 }, place.shape)
                })
                .collect(),
        };
        let mut start = guess.clone();
        let at = match held {
            Target::Quantile => {
                start[place.intercept] = target;
                place.intercept
            }
            Target::Standard(_) => place.intercept,
            Target::Coefficient(j) => {
                let at = self.lives.intercepts + j;
                start[at] = target;
                at
            }
        };
        let top = maximise(&objective, start, Some(at))?;
        if top.ended == Ended::Exhausted {
            return None;
        }
        let pull = top.at.gradient[at];
        let slope = match held {
            Target::Quantile | Target::Coefficient(_) => pull,
            Target::Standard(_) => {
                let sigma = (-objective.log_shape(&top.theta, place.shape)).exp();
                -pull * sigma
            }
        };
        Some(Spot {
            value: top.at.value,
            slope,
            theta: top.theta,
        })
    }
}
