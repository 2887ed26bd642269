//! Accelerated life: log usage is a linear function of covariates plus an error of fixed form
//! (Lawless 2003, chapter 6; Meeker and Escobar 1998, chapter 17).
//!
//! `ln T = intercept + b . x + sigma W`, with `W` standard smallest extreme value (Weibull, exponential), normal
//! (lognormal) or logistic (loglogistic). A factor `exp(b)` multiplies every quantile of life per unit of a covariate.

use nalgebra::{DMatrix, DVector};

use super::accelerated_description::described;
use super::accelerated_objective::Lives;
use super::accelerated_search::Fitting;
use super::coefficient::{ChiSquareTest, Coefficient};
use super::covariates::CovariateSample;
use super::design::{Column, Design};
use super::error::RegressionError;
use crate::families::Family;

/// Whether strata share a parameter or have one each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PerStratum {
    /// One for all.
    #[default]
    Shared,
    /// One for each stratum.
    Own,
}

/// Which accelerated-life model to fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AcceleratedLife {
    /// Form of the error.
    pub family: Family,
    /// Whether strata have intercepts of their own.
    pub intercepts: PerStratum,
    /// Whether strata have shapes (`1 / sigma`) of their own; of no effect for the exponential.
    pub shapes: PerStratum,
}

impl AcceleratedLife {
    /// One intercept and one shape for all strata.
    #[must_use]
    pub fn new(family: Family) -> Self {
        Self {
            family,
            intercepts: PerStratum::Shared,
            shapes: PerStratum::Shared,
        }
    }
}

/// A parameter that belongs to one stratum, or to all.
#[derive(Clone, Debug, PartialEq)]
pub struct StratumValue {
    /// The stratum it belongs to; none as well for lives without one, and where it is shared.
    pub stratum: Option<String>,
    /// The best value.
    pub value: f64,
}

/// An accelerated-life model fitted by maximum likelihood.
#[derive(Clone, Debug)]
pub struct AcceleratedLifeFit {
    /// The model fitted.
    pub model: AcceleratedLife,
    /// Strata in the order of [`Self::intercepts`] or [`Self::sigmas`] where these are per stratum.
    pub strata: Vec<Option<String>>,
    /// Log usage at covariates zero where `W = 0`: one, or one per stratum.
    pub intercepts: Vec<StratumValue>,
    /// Effects on log usage, in the order of the covariates.
    pub coefficients: Vec<Coefficient>,
    /// Sizes of the error: one, or one per stratum. One for the exponential, where it is 1 and not fitted.
    pub sigmas: Vec<StratumValue>,
    /// Names in the order of the covariance: `intercept`, the covariates, `log_sigma`; of a stratum as
    /// `intercept[stratum]`.
    pub parameter_names: Vec<String>,
    /// Inverse observed information in that order; none where it is not positive definite.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Log-likelihood by the density of usage.
    pub log_likelihood: f64,
    /// Log-likelihood of the same model without covariates.
    pub log_likelihood_without: f64,
    /// All covariates at once, by likelihood ratio; none without covariates.
    pub likelihood_ratio: Option<ChiSquareTest>,
    /// All covariates at once, by Wald's test.
    pub wald: Option<ChiSquareTest>,
    /// Akaike's criterion.
    pub aic: f64,
    /// Akaike's criterion corrected for small samples, with all lives as its size; none when too few lives.
    pub aicc: Option<f64>,
    /// Schwarz's criterion, with all lives as its size.
    pub bic: f64,
    /// Lives seen to fail.
    pub failures: u64,
    /// All lives, without those dead on arrival.
    pub lives: u64,
    /// Failures at usage zero, which enter no model.
    pub dead_on_arrival: u64,
    /// Steps of the search.
    pub iterations: u32,
    pub(crate) names: Vec<String>,
    pub(crate) columns: Vec<Column>,
    pub(crate) inner: Inner,
    pub(crate) longest_usage: f64,
    pub(crate) digest: String,
}

/// The fit in the coordinates of the search: centred log usage, scaled covariates.
#[derive(Clone, Debug)]
pub(crate) struct Inner {
    pub centre: f64,
    /// Plain intercepts, scaled coefficients, log shapes.
    pub theta: DVector<f64>,
    /// Covariance of these.
    pub covariance: Option<DMatrix<f64>>,
}

/// Fits `ln T = intercept + b . x + sigma W` under any mixture of censoring and delayed entry.
///
/// # Errors
/// [`RegressionError`]: a family with more than location and shape, covariates that are constant or follow from others, fewer failures than parameters, effects
/// that the data do not bound, no estimate without covariates either, or a search that fails.
pub fn accelerated_life(
    sample: &CovariateSample,
    model: AcceleratedLife,
) -> Result<AcceleratedLifeFit, RegressionError> {
    if !model.family.is_log_location_scale() {
        return Err(RegressionError::Family {
            family: model.family,
        });
    }
    let stratum_of = stratum_places(sample);
    let own = |choice| match choice {
        PerStratum::Shared => vec![0; stratum_of.len()],
        PerStratum::Own => stratum_of.clone(),
    };
    let intercept_of = own(model.intercepts);
    let within = (model.intercepts == PerStratum::Own).then_some(intercept_of.as_slice());
    let design = Design::new(sample, within)?;
    let lives = Lives::new(sample, model.family, intercept_of, own(model.shapes));
    let parameters = lives.intercepts + design.columns.len() + lives.shapes;
    let plain = lives.intercepts + lives.shapes == model.family.parameters() as usize;
    let single = design.columns.is_empty() && plain;
    let failures = sample.lives().failures();
    if !single && failures > 0 && failures < parameters as u64 {
        return Err(RegressionError::TooFewFailures {
            failures,
            parameters,
        });
    }
    let search = Fitting {
        lives: &lives,
        names: sample.names(),
    };
    let anchor = search.anchor(sample.lives(), model);
    let start = search.start(sample.lives(), anchor)?;
    let bare = DMatrix::zeros(lives.lives.len(), 0);
    let without = search.top(&bare, anchor, start.clone())?;
    let top = if design.columns.is_empty() {
        without.clone()
    } else {
        let mut from = search.with_columns(&without.theta, design.columns.len());
        from = from.map(|value| if value.is_finite() { value } else { 0.0 });
        search.top(&design.scaled, anchor, from)?
    };
    let mut fit = described(sample, model, &design, &lives, anchor, &top, &without);
    let far: Vec<String> = fit
        .coefficients
        .iter()
        .filter(|coefficient| !coefficient.value.is_finite())
        .map(|coefficient| coefficient.name.clone())
        .collect();
    if !far.is_empty() {
        return Err(RegressionError::OutOfRange { covariates: far });
    }
    for (place, coefficient) in fit.coefficients.iter_mut().enumerate() {
        let reduced = design.scaled.clone().remove_column(place);
        let from = top.theta.clone().remove_row(lives.intercepts + place);
        let without_it = if reduced.ncols() == 0 {
            Ok(without.clone())
        } else {
            search.top(&reduced, anchor, from)
        };
        coefficient.likelihood_ratio = without_it
            .ok()
            .and_then(|other| ChiSquareTest::new(2.0 * (top.at.value - other.at.value), 1));
    }
    Ok(fit)
}

/// Per life, the place of its stratum in the list of strata.
pub(crate) fn stratum_places(sample: &CovariateSample) -> Vec<usize> {
    sample
        .rows()
        .iter()
        .map(|row| sample.strata().binary_search(&row.stratum).unwrap_or(0))
        .collect()
}
