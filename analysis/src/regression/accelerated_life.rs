//! Accelerated life: log usage is a linear function of covariates plus an error of fixed form
//! (Lawless 2003, chapter 6; Meeker and Escobar 1998, chapter 17).
//!
//! `ln T = intercept + b . x + sigma W`, with `W` standard smallest extreme value (Weibull, exponential), normal
//! (lognormal) or logistic (loglogistic). A factor `exp(b)` multiplies every quantile of life per unit of a covariate.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{DMatrix, DVector};

use super::accelerated_objective::{AcceleratedObjective, Lives};
use super::coefficient::{ChiSquareTest, Coefficient};
use super::covariates::CovariateSample;
use super::design::{Column, Design};
use super::error::RegressionError;
use super::newton::{Ended, Top, covariance, maximise, table};
use crate::families::Family;
use crate::fitting::fit;
use crate::sample::Sample;

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

struct Fitting<'a> {
    lives: &'a Lives,
    names: &'a [String],
}

impl Fitting<'_> {
    fn objective<'b>(
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
    fn anchor(&self, sample: &Sample, model: AcceleratedLife) -> f64 {
        if self.lives.shapes > 1 && model.intercepts == PerStratum::Shared {
            return 0.0;
        }
        let share = sample.failures() as f64 / (sample.lives() as f64 + 1.0);
        let share = share.clamp(1e-12, 0.63);
        self.lives.family.standard_quantile(-(-share).ln_1p())
    }

    /// The fit of all lives as one, which has an estimate wherever a larger model has.
    fn start(&self, sample: &Sample, anchor: f64) -> Result<DVector<f64>, RegressionError> {
        let family = self.lives.family;
        let fitted = fit(sample, family)?;
        let parameter = |name: &str| fitted.parameter(name).unwrap_or(1.0);
        let (location, log_shape) = match family {
            Family::Exponential => (parameter("mean").ln(), 0.0),
            Family::Lognormal => (parameter("mu"), -parameter("sigma").ln()),
            _ => (parameter("scale").ln(), parameter("shape").ln()),
        };
        let anchored = location - self.lives.centre + anchor * (-log_shape).exp();
        let (intercepts, shapes) = (self.lives.intercepts, self.lives.shapes);
        Ok(DVector::from_fn(intercepts + shapes, |j, _| {
            if j < intercepts { anchored } else { log_shape }
        }))
    }

    fn with_columns(&self, theta: &DVector<f64>, columns: usize) -> DVector<f64> {
        theta
            .clone()
            .insert_rows(self.lives.intercepts, columns, 0.0)
    }

    fn top(
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

fn described(
    sample: &CovariateSample,
    model: AcceleratedLife,
    design: &Design,
    lives: &Lives,
    anchor: f64,
    top: &Top,
    without: &Top,
) -> AcceleratedLifeFit {
    let search = Fitting {
        lives,
        names: sample.names(),
    };
    let objective = search.objective(&design.scaled, anchor);
    let inner = Inner {
        centre: lives.centre,
        covariance: covariance(&top.at.hessian).map(|cov| {
            let turn = to_plain(&objective, &top.theta);
            &turn * cov * turn.transpose()
        }),
        theta: DVector::from_fn(objective.size(), |j, _| {
            if j < lives.intercepts {
                objective.intercept(&top.theta, j)
            } else {
                top.theta[j]
            }
        }),
    };
    let turn = to_natural(lives, &design.columns);
    let natural = natural_values(lives, &design.columns, &inner.theta);
    let natural_covariance = inner
        .covariance
        .as_ref()
        .map(|cov| &turn * cov * turn.transpose())
        .filter(|cov| cov.iter().all(|cell| cell.is_finite()));
    let stratum = |choice: PerStratum, place: usize| match choice {
        PerStratum::Shared => None,
        PerStratum::Own => sample.strata().get(place).cloned().flatten(),
    };
    let columns = design.columns.len();
    let parameters = objective.size();
    let all = sample.lives();
    let (k, n) = (parameters as f64, all.lives() as f64);
    let deviance = -2.0 * top.at.value;
    let coefficients: Vec<Coefficient> = sample
        .names()
        .iter()
        .enumerate()
        .map(|(j, name)| {
            let place = lives.intercepts + j;
            let value = natural[place];
            let variance = natural_covariance.as_ref().map(|cov| cov[(place, place)]);
            Coefficient {
                name: name.clone(),
                value,
                std_error: variance.map(f64::sqrt),
                wald: variance.and_then(|variance| ChiSquareTest::new(value * value / variance, 1)),
                likelihood_ratio: None,
            }
        })
        .collect();
    let sigmas = (0..lives.shapes.max(1))
        .map(|place| StratumValue {
            stratum: stratum(model.shapes, place).filter(|_| lives.shapes > 0),
            value: (-objective.log_shape(&top.theta, place)).exp(),
        })
        .collect();
    AcceleratedLifeFit {
        model,
        strata: sample.strata().to_vec(),
        intercepts: (0..lives.intercepts)
            .map(|place| StratumValue {
                stratum: stratum(model.intercepts, place),
                value: natural[place],
            })
            .collect(),
        sigmas,
        parameter_names: parameter_names(sample, model, lives),
        wald: wald(&inner, lives.intercepts, columns),
        likelihood_ratio: ChiSquareTest::new(2.0 * (top.at.value - without.at.value), columns),
        coefficients,
        covariance: natural_covariance.as_ref().map(table),
        log_likelihood: top.at.value,
        log_likelihood_without: without.at.value,
        aic: deviance + 2.0 * k,
        aicc: (n > k + 1.0).then(|| deviance + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0)),
        bic: deviance + k * n.ln(),
        failures: all.failures(),
        lives: all.lives(),
        dead_on_arrival: all.dead_on_arrival(),
        iterations: top.iterations,
        names: sample.names().to_vec(),
        columns: design.columns.clone(),
        inner,
        longest_usage: all.longest_usage(),
        digest: sample.digest(),
    }
}

/// Derivatives of the plain parameters in the anchored ones.
fn to_plain(objective: &AcceleratedObjective<'_>, theta: &DVector<f64>) -> DMatrix<f64> {
    let mut turn = DMatrix::identity(objective.size(), objective.size());
    for (place, (anchor, shape)) in objective.anchors.iter().enumerate() {
        if let Some(shape_place) = objective.shape_place(*shape) {
            turn[(place, shape_place)] = anchor * (-theta[shape_place]).exp();
        }
    }
    turn
}

/// Derivatives of the natural parameters (raw covariates, log sigma) in the plain ones.
fn to_natural(lives: &Lives, columns: &[Column]) -> DMatrix<f64> {
    let size = lives.intercepts + columns.len() + lives.shapes;
    let mut turn = DMatrix::identity(size, size);
    for (j, column) in columns.iter().enumerate() {
        let place = lives.intercepts + j;
        for intercept in 0..lives.intercepts {
            turn[(intercept, place)] = -column.centre / column.scale;
        }
        turn[(place, place)] = 1.0 / column.scale;
    }
    for place in size - lives.shapes..size {
        turn[(place, place)] = -1.0;
    }
    turn
}

fn natural_values(lives: &Lives, columns: &[Column], theta: &DVector<f64>) -> DVector<f64> {
    let mut values = to_natural(lives, columns) * theta;
    for intercept in 0..lives.intercepts {
        values[intercept] += lives.centre;
    }
    values
}

/// Wald's test of all coefficients at once, in scaled coordinates where it loses least.
fn wald(inner: &Inner, first: usize, columns: usize) -> Option<ChiSquareTest> {
    let covariance = inner.covariance.as_ref()?;
    let block = covariance
        .view((first, first), (columns, columns))
        .clone_owned();
    let effects = inner.theta.rows(first, columns).clone_owned();
    let solved = nalgebra::Cholesky::new(block)?.solve(&effects);
    ChiSquareTest::new(effects.dot(&solved), columns)
}

fn parameter_names(sample: &CovariateSample, model: AcceleratedLife, lives: &Lives) -> Vec<String> {
    let named = |what: &str, choice: PerStratum, place: usize| match (
        choice,
        sample.strata().get(place).cloned().flatten(),
    ) {
        (PerStratum::Own, Some(stratum)) => format!("{what}[{stratum}]"),
        _ => what.to_owned(),
    };
    (0..lives.intercepts)
        .map(|place| named("intercept", model.intercepts, place))
        .chain(sample.names().iter().cloned())
        .chain((0..lives.shapes).map(|place| named("log_sigma", model.shapes, place)))
        .collect()
}
