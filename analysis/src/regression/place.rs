//! A covariate point in the coordinates of the search, and the curve of an accelerated-life model there.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::DVector;

use super::accelerated_life::AcceleratedLifeFit;
use super::covariates::CovariatePoint;
use super::design::scaled;
use super::error::PredictionError;
use crate::intervals::LimitsError;

/// A point in the coordinates of the search.
pub(super) struct Place {
    pub(super) scaled: DVector<f64>,
    pub(super) intercept: usize,
    pub(super) shape: usize,
}

impl AcceleratedLifeFit {
    pub(super) fn place(&self, point: &CovariatePoint) -> Result<Place, PredictionError> {
        let scaled = scaled(&self.columns, &self.names, &point.values)?;
        let per_stratum = self.intercepts.len() > 1 || self.sigmas.len() > 1;
        let stratum = match self.strata.binary_search(&point.stratum) {
            Ok(stratum) => stratum,
            Err(_) if !per_stratum => 0,
            Err(_) => {
                return Err(PredictionError::Stratum {
                    stratum: point.stratum.clone(),
                });
            }
        };
        let own = |values: usize| if values > 1 { stratum } else { 0 };
        Ok(Place {
            scaled,
            intercept: own(self.intercepts.len()),
            shape: own(self.sigmas.len()),
        })
    }

    fn shape_place(&self, place: &Place) -> Option<usize> {
        let first = self.intercepts.len() + self.columns.len();
        (self.inner.theta.len() > first).then_some(first + place.shape)
    }

    pub(super) fn log_shape(&self, place: &Place) -> f64 {
        self.shape_place(place)
            .map_or(0.0, |at| self.inner.theta[at])
    }

    pub(super) fn location(&self, place: &Place) -> f64 {
        let theta = &self.inner.theta;
        let effects = theta.rows(self.intercepts.len(), self.columns.len());
        self.inner.centre + theta[place.intercept] + effects.dot(&place.scaled)
    }

    pub(super) fn log_quantile(&self, place: &Place, z: f64) -> f64 {
        self.location(place) + z * (-self.log_shape(place)).exp()
    }

    pub(super) fn standard(&self, place: &Place, usage: f64) -> f64 {
        (usage.ln() - self.location(place)) * self.log_shape(place).exp()
    }

    pub(super) fn survival_at(&self, z: f64) -> f64 {
        (-self.model.family.cumulative_hazard(z)).exp()
    }

    pub(super) fn standard_quantile(&self, p: f64) -> Result<f64, LimitsError> {
        if p > 0.0 && p < 1.0 {
            Ok(self.model.family.standard_quantile(-(-p).ln_1p()))
        } else {
            Err(LimitsError::Share { value: p })
        }
    }

    /// Standard error of a quantity from its derivatives in location and log shape.
    pub(super) fn error(&self, place: &Place, by_location: f64, by_log_shape: f64) -> Option<f64> {
        let covariance = self.inner.covariance.as_ref()?;
        let mut gradient = DVector::zeros(self.inner.theta.len());
        gradient[place.intercept] = by_location;
        gradient
            .rows_mut(self.intercepts.len(), self.columns.len())
            .copy_from(&(by_location * &place.scaled));
        if let Some(at) = self.shape_place(place) {
            gradient[at] = by_log_shape;
        }
        let variance = gradient.dot(&(covariance * &gradient));
        (variance.is_finite() && variance >= 0.0).then(|| variance.sqrt())
    }
}
