//! The search for the top of an accelerated-life likelihood: where it starts, and what makes its end no estimate.

use nalgebra::{DMatrix, DVector};

use super::accelerated_life::{AcceleratedLife, PerStratum};
use super::accelerated_objective::{AcceleratedObjective, Lives};
use super::error::RegressionError;
use super::newton::{Ended, Top, maximise};
use crate::fitting::fit;
use crate::sample::Sample;

pub(super) struct Fitting<'a> {
    pub(super) lives: &'a Lives,
    pub(super) names: &'a [String],
}

impl Fitting<'_> {
    pub(super) fn objective<'b>(
        &'b self,
        covariates: &'b DMatrix<f64>,
        anchor: f64,
    ) -> AcceleratedObjective<'b> {
        AcceleratedObjective {
            lives: self.lives,
            covariates,
            anchors: (0..self.lives.intercepts)
                .map(|place| (anchor, if self.lives.shapes > 1 { place } else { 0 }))
                .collect(),
        }
    }

    /// The quantile at about the share failed is what heavy censoring leaves best known. One intercept for several
    /// shapes is no quantile of all of them and stays plain.
    pub(super) fn anchor(&self, sample: &Sample, model: AcceleratedLife) -> f64 {
        if self.lives.shapes > 1 && model.intercepts == PerStratum::Shared {
            return 0.0;
        }
        let share = sample.failures() as f64 / (sample.lives() as f64 + 1.0);
        let share = share.clamp(1e-12, 0.63);
        self.lives.family.standard_quantile(-(-share).ln_1p())
    }

    /// The fit of all lives as one, which has an estimate wherever a larger model has.
    pub(super) fn start(
        &self,
        sample: &Sample,
        anchor: f64,
    ) -> Result<DVector<f64>, RegressionError> {
        let fitted = fit(sample, self.lives.family)?;
        let log_shape = fitted.log_shape;
        let anchored = fitted.location - self.lives.centre + anchor * (-log_shape).exp();
        let (intercepts, shapes) = (self.lives.intercepts, self.lives.shapes);
        Ok(DVector::from_fn(intercepts + shapes, |j, _| {
            if j < intercepts { anchored } else { log_shape }
        }))
    }

    pub(super) fn with_columns(&self, theta: &DVector<f64>, columns: usize) -> DVector<f64> {
        theta
            .clone()
            .insert_rows(self.lives.intercepts, columns, 0.0)
    }

    pub(super) fn top(
        &self,
        covariates: &DMatrix<f64>,
        anchor: f64,
        start: DVector<f64>,
    ) -> Result<Top, RegressionError> {
        let objective = self.objective(covariates, anchor);
        let top = maximise(&objective, start, None).ok_or(RegressionError::NotConverged)?;
        let shapes = (0..self.lives.shapes).map(|shape| objective.log_shape(&top.theta, shape));
        let runs_off = shapes
            .into_iter()
            .any(|log_shape| !SHAPES_WITH_A_TOP.contains(&log_shape));
        match &top.ended {
            _ if runs_off => Err(RegressionError::NoFiniteMaximum),
            Ended::Drifting(places) => Err(self.unbounded(places, covariates.ncols())),
            Ended::Converged => Ok(top),
            Ended::Exhausted => Err(RegressionError::NotConverged),
        }
    }

    fn unbounded(&self, places: &[usize], columns: usize) -> RegressionError {
        let first = self.lives.intercepts;
        let covariates: Vec<String> = places
            .iter()
            .filter(|place| **place >= first && **place < first + columns)
            .filter_map(|place| self.names.get(place - first).cloned())
            .collect();
        let shape_moves = places.iter().any(|place| *place >= first + columns);
        if covariates.is_empty() || shape_moves {
            RegressionError::NoFiniteMaximum
        } else {
            RegressionError::Unbounded { covariates }
        }
    }
}

/// Bounds of the log shape of any fit that is believed.
const SHAPES_WITH_A_TOP: std::ops::Range<f64> = -5.0..23.0;
