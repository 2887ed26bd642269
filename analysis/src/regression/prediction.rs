//! What an accelerated-life model says at a covariate point, with limits.
//!
//! Likelihood ratio is the default (Meeker and Escobar 1998, section 17.4.2): the covariates are counted from the
//! point, so that the quantile or the survival asked for is itself one parameter, and the rest is free.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{DMatrix, DVector};

use super::accelerated_life::{AcceleratedLifeFit, PerStratum, stratum_places};
use super::accelerated_objective::{AcceleratedObjective, Lives};
use super::covariates::{CovariatePoint, CovariateSample};
use super::error::PredictionError;
use super::newton::{Ended, maximise};
use super::profile::{Search, Spot};
use crate::intervals::{Level, Limits, LimitsError, unbounded};
use crate::warning::{Warning, WarningCode};

/// How the limits of a regression are made: the two of [`crate::intervals::Method`] that covariates allow.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RegressionLimitMethod {
    /// Values whose best likelihood is within a chi-square of the top.
    #[default]
    LikelihoodRatio,
    /// Normal on the log scale; too short upward with few failures.
    Delta,
}

/// Log usage beyond these bounds is out of the range of numbers.
const LOG_USAGE: (f64, f64) = (-690.0, 690.0);
/// Standard variable: beyond these the failed or the surviving share is nothing, in every family.
const STANDARD: (f64, f64) = (-600.0, 600.0);

/// A point in the coordinates of the search.
struct Place {
    scaled: DVector<f64>,
    intercept: usize,
    shape: usize,
}

impl AcceleratedLifeFit {
    /// Usage by which a share `p` has failed at a point.
    ///
    /// # Errors
    /// For a point that does not fit the model, `p` outside (0, 1), or a usage beyond the range of numbers.
    pub fn quantile(&self, point: &CovariatePoint, p: f64) -> Result<f64, PredictionError> {
        let place = self.place(point)?;
        let z = self.standard_quantile(p)?;
        let usage = self.log_quantile(&place, z).exp();
        if usage.is_finite() && usage > 0.0 {
            Ok(usage)
        } else {
            Err(LimitsError::OutOfRange.into())
        }
    }

    /// Share of lives that survive `usage >= 0` at a point.
    ///
    /// # Errors
    /// For a point that does not fit the model, or a usage that is negative or not finite.
    pub fn survival(&self, point: &CovariatePoint, usage: f64) -> Result<f64, PredictionError> {
        let place = self.place(point)?;
        if !(usage.is_finite() && usage >= 0.0) {
            return Err(LimitsError::Usage {
                rule: "at least 0",
                value: usage,
            }
            .into());
        }
        if usage == 0.0 {
            return Ok(1.0);
        }
        Ok(self.survival_at(self.standard(&place, usage)))
    }

    /// Limits of the usage by which a share `p` has failed at a point. `sample` is the one fitted.
    ///
    /// # Errors
    /// As [`Self::quantile`]; another sample; a fit without covariance (delta); a search that fails.
    pub fn quantile_limits(
        &self,
        sample: &CovariateSample,
        point: &CovariatePoint,
        p: f64,
        level: Level,
        method: RegressionLimitMethod,
    ) -> Result<Limits, PredictionError> {
        let value = self.quantile(point, p)?;
        let place = self.place(point)?;
        let z = self.standard_quantile(p)?;
        let sigma = (-self.log_shape(&place)).exp();
        // ln t_p = intercept + b . x + z exp(-log shape)
        let error = self.error(&place, 1.0, -z * sigma);
        let mut limits = match method {
            RegressionLimitMethod::Delta => {
                let factor = (level.distance() * error.ok_or(LimitsError::NoCovariance)?).exp();
                kept(value, Some(value / factor), Some(value * factor), level)
            }
            RegressionLimitMethod::LikelihoodRatio => {
                let held = Held {
                    z,
                    place: &place,
                    target: Target::Quantile,
                };
                let target = self.log_quantile(&place, z) - self.inner.centre;
                let range = (
                    LOG_USAGE.0 - self.inner.centre,
                    LOG_USAGE.1 - self.inner.centre,
                );
                let [lower, upper] =
                    self.sides(sample, &held, target, error, range, level, [-1.0, 1.0])?;
                let usage = |target: f64| (target + self.inner.centre).exp();
                kept(value, lower.map(usage), upper.map(usage), level)
            }
        };
        limits.warnings.extend(self.cautions(point, value));
        Ok(limits)
    }

    /// Limits of the survival at `usage > 0` at a point; where the data leave a side open, the limit is 0 or 1.
    /// `sample` is the one fitted.
    ///
    /// # Errors
    /// As [`Self::survival`], and for usage 0; another sample; a fit without covariance (delta); a search that fails.
    pub fn survival_limits(
        &self,
        sample: &CovariateSample,
        point: &CovariatePoint,
        usage: f64,
        level: Level,
        method: RegressionLimitMethod,
    ) -> Result<Limits, PredictionError> {
        if !(usage.is_finite() && usage > 0.0) {
            return Err(LimitsError::Usage {
                rule: "above 0",
                value: usage,
            }
            .into());
        }
        let value = self.survival(point, usage)?;
        let place = self.place(point)?;
        let z = self.standard(&place, usage);
        let shape = self.log_shape(&place).exp();
        let error = self.error(&place, -shape, z);
        let [lower, upper] = match method {
            RegressionLimitMethod::Delta => {
                let reach = level.distance() * error.ok_or(LimitsError::NoCovariance)?;
                [Some(z + reach), Some(z - reach)]
            }
            RegressionLimitMethod::LikelihoodRatio => {
                let held = Held {
                    z,
                    place: &place,
                    target: Target::Standard(usage.ln() - self.inner.centre),
                };
                self.sides(sample, &held, z, error, STANDARD, level, [1.0, -1.0])?
            }
        };
        let side = |wanted: bool, z: Option<f64>, natural: f64| {
            wanted.then(|| z.map_or(natural, |z| self.survival_at(z)))
        };
        Ok(Limits {
            value,
            lower: side(level.wants_lower(), lower, 0.0),
            upper: side(level.wants_upper(), upper, 1.0),
            warnings: self.cautions(point, usage),
        })
    }

    /// Limits of the acceleration factor `exp(b)` of a covariate: what multiplies every quantile of life per unit of
    /// it. `sample` is the one fitted.
    ///
    /// # Errors
    /// For an unknown covariate; another sample; a fit without covariance (delta); a search that fails.
    pub fn acceleration_factor(
        &self,
        sample: &CovariateSample,
        covariate: &str,
        level: Level,
        method: RegressionLimitMethod,
    ) -> Result<Limits, PredictionError> {
        let unknown = || PredictionError::Covariate {
            name: covariate.to_owned(),
        };
        let j = self
            .names
            .iter()
            .position(|name| name == covariate)
            .ok_or_else(unknown)?;
        let coefficient = self.coefficients.get(j).ok_or_else(unknown)?;
        let scale = self.columns.get(j).ok_or_else(unknown)?.scale;
        let value = coefficient.value.exp();
        if !(value.is_finite() && value > 0.0) {
            return Err(LimitsError::OutOfRange.into());
        }
        match method {
            RegressionLimitMethod::Delta => {
                let error = coefficient.std_error.ok_or(LimitsError::NoCovariance)?;
                let factor = (level.distance() * error).exp();
                Ok(kept(
                    value,
                    Some(value / factor),
                    Some(value * factor),
                    level,
                ))
            }
            RegressionLimitMethod::LikelihoodRatio => {
                let place = Place {
                    scaled: DVector::zeros(self.columns.len()),
                    intercept: 0,
                    shape: 0,
                };
                let target = coefficient.value * scale;
                let held = Held {
                    z: 0.0,
                    place: &place,
                    target: Target::Coefficient(j),
                };
                let error = coefficient.std_error.map(|error| error * scale);
                let [lower, upper] =
                    self.sides(sample, &held, target, error, LOG_USAGE, level, [-1.0, 1.0])?;
                let factor = |target: f64| (target / scale).exp();
                Ok(kept(value, lower.map(factor), upper.map(factor), level))
            }
        }
    }

    fn place(&self, point: &CovariatePoint) -> Result<Place, PredictionError> {
        if point.values.len() != self.columns.len() {
            return Err(PredictionError::Length {
                expected: self.columns.len(),
                given: point.values.len(),
            });
        }
        for (value, name) in point.values.iter().zip(&self.names) {
            if !value.is_finite() {
                return Err(PredictionError::NotFinite {
                    covariate: name.clone(),
                    value: *value,
                });
            }
        }
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
            scaled: DVector::from_iterator(
                self.columns.len(),
                self.columns
                    .iter()
                    .zip(&point.values)
                    .map(|(column, value)| column.scaled(*value)),
            ),
            intercept: own(self.intercepts.len()),
            shape: own(self.sigmas.len()),
        })
    }

    fn shape_place(&self, place: &Place) -> Option<usize> {
        let first = self.intercepts.len() + self.columns.len();
        (self.inner.theta.len() > first).then_some(first + place.shape)
    }

    fn log_shape(&self, place: &Place) -> f64 {
        self.shape_place(place)
            .map_or(0.0, |at| self.inner.theta[at])
    }

    fn location(&self, place: &Place) -> f64 {
        let theta = &self.inner.theta;
        let effects = theta.rows(self.intercepts.len(), self.columns.len());
        self.inner.centre + theta[place.intercept] + effects.dot(&place.scaled)
    }

    fn log_quantile(&self, place: &Place, z: f64) -> f64 {
        self.location(place) + z * (-self.log_shape(place)).exp()
    }

    fn standard(&self, place: &Place, usage: f64) -> f64 {
        (usage.ln() - self.location(place)) * self.log_shape(place).exp()
    }

    fn survival_at(&self, z: f64) -> f64 {
        (-self.model.family.cumulative_hazard(z)).exp()
    }

    fn standard_quantile(&self, p: f64) -> Result<f64, LimitsError> {
        if p > 0.0 && p < 1.0 {
            Ok(self.model.family.standard_quantile(-(-p).ln_1p()))
        } else {
            Err(LimitsError::Share { value: p })
        }
    }

    /// Standard error of a quantity from its derivatives in location and log shape.
    fn error(&self, place: &Place, by_location: f64, by_log_shape: f64) -> Option<f64> {
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

    #[expect(
        clippy::too_many_arguments,
        reason = "one search, told apart by its caller"
    )]
    fn sides(
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

    /// Cautions for an answer beyond the data.
    fn cautions(&self, point: &CovariatePoint, usage: f64) -> Vec<Warning> {
        let mut cautions = Vec::new();
        let far = |message: String| Warning::new(WarningCode::Extrapolation, message);
        for ((value, column), name) in point.values.iter().zip(&self.columns).zip(&self.names) {
            if *value < column.least || *value > column.most {
                cautions.push(far(format!(
                    "{name} {value} lies outside the values seen, {} to {}.",
                    column.least, column.most
                )));
            }
        }
        if usage > self.longest_usage {
            cautions.push(far(format!(
                "The usage {usage} lies beyond the longest usage seen, {}.",
                self.longest_usage
            )));
        }
        cautions
    }
}

/// Which quantity is held at the target.
#[derive(Clone, Copy, Debug)]
enum Target {
    /// Centred log usage at which the standard variable has its given value.
    Quantile,
    /// Standard variable at this centred log usage.
    Standard(f64),
    /// A scaled coefficient.
    Coefficient(usize),
}

struct Held<'a> {
    z: f64,
    place: &'a Place,
    target: Target,
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

/// Limits with only the sides asked for; a side that is missing or out of range is told.
pub(super) fn kept(value: f64, lower: Option<f64>, upper: Option<f64>, level: Level) -> Limits {
    let mut warnings = Vec::new();
    let mut side = |wanted: bool, limit: Option<f64>, name: &str| {
        let limit = limit.filter(|limit| limit.is_finite() && *limit > 0.0);
        if wanted && limit.is_none() {
            warnings.push(unbounded(name));
        }
        limit.filter(|_| wanted)
    };
    Limits {
        value,
        lower: side(level.wants_lower(), lower, "lower"),
        upper: side(level.wants_upper(), upper, "upper"),
        warnings,
    }
}
