//! Proportional hazards: covariates multiply a hazard of unknown form (Cox 1972, JRSS B 34).

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{Cholesky, DMatrix, DVector};

use super::accelerated_life::stratum_places;
use super::baseline::{StratumBaseline, baseline};
use super::coefficient::{ChiSquareTest, Coefficient};
use super::covariates::CovariateSample;
use super::design::{Column, Design, find};
use super::error::{PredictionError, RegressionError};
use super::newton::{Ended, Objective, Top, covariance, maximise, table};
use super::partial_likelihood::{PartialLikelihood, StratumLives, strata};
use super::prediction::{RegressionLimitMethod, kept};
use super::profile::{Search, Spot};
use crate::fitting::FitError;
use crate::intervals::{Level, Limits, LimitsError};

/// How failures at the same usage enter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ties {
    /// All against the full risk set (Breslow 1974, Biometrics 30).
    Breslow,
    /// As if in unknown order (Efron 1977, JASA 72).
    #[default]
    Efron,
    /// As truly simultaneous: the failed subset against all subsets of its size (Cox 1972, section 6).
    Exact,
}

impl Ties {
    /// Most failures at one usage; more would take too long or leave the range of numbers.
    fn most(self) -> u64 {
        match self {
            Self::Breslow => u64::MAX,
            Self::Efron => 1_000_000,
            Self::Exact => 300,
        }
    }
}

/// Which proportional-hazards model to fit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ProportionalHazards {
    /// How ties enter.
    pub ties: Ties,
    /// Whether each stratum has a hazard of its own; if not, strata are ignored.
    pub stratified: bool,
}

/// Tests of all covariates at once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OverallTests {
    /// By twice the rise of the log partial likelihood from zero.
    pub likelihood_ratio: ChiSquareTest,
    /// By the estimates and their covariance.
    pub wald: ChiSquareTest,
    /// By slope and information at zero (Rao 1948).
    pub score: ChiSquareTest,
}

/// A fitted proportional-hazards model.
#[derive(Clone, Debug)]
pub struct ProportionalHazardsFit {
    /// The model fitted.
    pub model: ProportionalHazards,
    /// Effects on the log hazard, in the order of the covariates.
    pub coefficients: Vec<Coefficient>,
    /// Inverse observed information in that order.
    pub covariance: Vec<Vec<f64>>,
    /// Log partial likelihood.
    pub log_likelihood: f64,
    /// Log partial likelihood with all coefficients zero.
    pub log_likelihood_without: f64,
    /// Tests of all covariates at once.
    pub tests: OverallTests,
    /// Cumulative baseline hazard, one per stratum fitted.
    pub baselines: Vec<StratumBaseline>,
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
    pub(crate) scaled_covariance: DMatrix<f64>,
    pub(crate) theta: DVector<f64>,
    digest: String,
}

/// The lives split by stratum, with scaled covariates.
struct Prepared {
    design: Design,
    strata: Vec<StratumLives>,
    counts: DVector<f64>,
}

impl Prepared {
    fn new(sample: &CovariateSample, model: ProportionalHazards) -> Result<Self, RegressionError> {
        let places = if model.stratified {
            stratum_places(sample)
        } else {
            vec![0; sample.rows().len()]
        };
        let design = Design::new(sample, model.stratified.then_some(places.as_slice()))?;
        let mut strata = strata(sample, &places);
        if !model.stratified {
            for lives in &mut strata {
                lives.stratum = None;
            }
        }
        Ok(Self {
            design,
            strata,
            counts: DVector::from_iterator(
                sample.rows().len(),
                sample.rows().iter().map(|row| row.life.count as f64),
            ),
        })
    }

    fn likelihood<'a>(&'a self, covariates: &'a DMatrix<f64>, ties: Ties) -> PartialLikelihood<'a> {
        PartialLikelihood {
            strata: &self.strata,
            counts: &self.counts,
            covariates,
            ties,
        }
    }
}

/// Fits proportional hazards to exact and right-censored lives, with delayed entry.
///
/// # Errors
/// [`RegressionError`]: no failures, failures that are not exact, covariates that are constant or follow from
/// others, fewer failures than covariates, effects that the data do not bound or do not show, ties too many for the
/// rule, or a search that fails.
pub fn proportional_hazards(
    sample: &CovariateSample,
    model: ProportionalHazards,
) -> Result<ProportionalHazardsFit, RegressionError> {
    let all = sample.lives();
    let inexact = all.left_censored() + all.interval_censored();
    if inexact > 0 {
        return Err(RegressionError::InexactFailures { lives: inexact });
    }
    if all.lives() == 0 {
        return Err(FitError::NoLives.into());
    }
    if all.failures() == 0 {
        return Err(FitError::NoFailures.into());
    }
    let prepared = Prepared::new(sample, model)?;
    let size = prepared.design.columns.len();
    if size == 0 {
        return Err(RegressionError::NoCovariates);
    }
    if all.failures() < size as u64 {
        return Err(RegressionError::TooFewFailures {
            failures: all.failures(),
            parameters: size,
        });
    }
    for at in prepared.strata.iter().flat_map(|lives| &lives.failures) {
        let most = model.ties.most();
        if at.count > most {
            return Err(RegressionError::TooManyTies {
                usage: at.usage,
                ties: at.count,
                most,
            });
        }
    }
    let likelihood = prepared.likelihood(&prepared.design.scaled, model.ties);
    let zero = DVector::zeros(size);
    let null = likelihood.at(&zero).ok_or(RegressionError::NotConverged)?;
    let blind: Vec<String> = named(sample, |j| {
        -null.hessian[(j, j)] <= 1e-12 * all.failures() as f64
    });
    if !blind.is_empty() {
        return Err(RegressionError::NotIdentifiable { covariates: blind });
    }
    let top = search(sample, &likelihood, zero)?;
    // A climb that ends below its start lost the digits of the likelihood on the way.
    if top.at.value < null.value - 1e-9 * (1.0 + null.value.abs()) {
        return Err(RegressionError::NotConverged);
    }
    let Some(scaled_covariance) = covariance(&top.at.hessian) else {
        return Err(RegressionError::NotIdentifiable {
            covariates: sample.names().to_vec(),
        });
    };
    let tests =
        overall(&null, &top, &scaled_covariance).ok_or(RegressionError::NotIdentifiable {
            covariates: sample.names().to_vec(),
        })?;
    let scale = DVector::from_iterator(
        size,
        prepared.design.columns.iter().map(|column| column.scale),
    );
    let natural = DMatrix::from_fn(size, size, |i, j| {
        scaled_covariance[(i, j)] / scale[i] / scale[j]
    });
    let far = named(sample, |j| {
        !(natural[(j, j)].is_finite() && (top.theta[j] / scale[j]).is_finite())
    });
    if !far.is_empty() {
        return Err(RegressionError::OutOfRange { covariates: far });
    }
    let without_one = |j: usize| {
        let reduced = prepared.design.scaled.clone().remove_column(j);
        if reduced.ncols() == 0 {
            return Some(null.value);
        }
        let start = top.theta.clone().remove_row(j);
        let other = maximise(&prepared.likelihood(&reduced, model.ties), start, None)?;
        (other.ended == Ended::Converged).then_some(other.at.value)
    };
    let coefficients = sample
        .names()
        .iter()
        .enumerate()
        .map(|(j, name)| {
            let variance = scaled_covariance[(j, j)];
            Coefficient {
                name: name.clone(),
                value: top.theta[j] / scale[j],
                std_error: Some(variance.sqrt() / scale[j]),
                wald: ChiSquareTest::new(top.theta[j] * top.theta[j] / variance, 1),
                likelihood_ratio: without_one(j)
                    .and_then(|value| ChiSquareTest::new(2.0 * (top.at.value - value), 1)),
            }
        })
        .collect();
    let baselines = prepared
        .strata
        .iter()
        .map(|lives| baseline(&likelihood, lives, &top.theta))
        .collect::<Option<Vec<_>>>()
        .ok_or(RegressionError::NotConverged)?;
    Ok(ProportionalHazardsFit {
        model,
        coefficients,
        covariance: table(&natural),
        log_likelihood: top.at.value,
        log_likelihood_without: null.value,
        tests,
        baselines,
        failures: all.failures(),
        lives: all.lives(),
        dead_on_arrival: all.dead_on_arrival(),
        iterations: top.iterations,
        names: sample.names().to_vec(),
        columns: prepared.design.columns.clone(),
        scaled_covariance,
        theta: top.theta,
        digest: sample.digest(),
    })
}

fn named(sample: &CovariateSample, chosen: impl Fn(usize) -> bool) -> Vec<String> {
    sample
        .names()
        .iter()
        .enumerate()
        .filter(|(j, _)| chosen(*j))
        .map(|(_, name)| name.clone())
        .collect()
}

fn search(
    sample: &CovariateSample,
    likelihood: &PartialLikelihood<'_>,
    start: DVector<f64>,
) -> Result<Top, RegressionError> {
    let top = maximise(likelihood, start, None).ok_or(RegressionError::NotConverged)?;
    match &top.ended {
        Ended::Converged => Ok(top),
        Ended::Drifting(places) => Err(RegressionError::Unbounded {
            covariates: named(sample, |j| places.contains(&j)),
        }),
        Ended::Exhausted => Err(RegressionError::NotConverged),
    }
}

fn overall(
    null: &super::newton::Evaluation,
    top: &Top,
    covariance: &DMatrix<f64>,
) -> Option<OverallTests> {
    let size = top.theta.len();
    let by = |vector: &DVector<f64>, matrix: DMatrix<f64>| {
        Some(vector.dot(&Cholesky::new(matrix)?.solve(vector)))
    };
    Some(OverallTests {
        likelihood_ratio: ChiSquareTest::new(2.0 * (top.at.value - null.value), size)?,
        wald: ChiSquareTest::new(by(&top.theta, covariance.clone())?, size)?,
        score: ChiSquareTest::new(by(&null.gradient, -null.hessian.clone())?, size)?,
    })
}

impl ProportionalHazardsFit {
    /// Limits of the hazard ratio `exp(b)` per unit of a covariate. `sample` is the one fitted.
    ///
    /// # Errors
    /// For an unknown covariate; another sample; a search that fails.
    pub fn hazard_ratio(
        &self,
        sample: &CovariateSample,
        covariate: &str,
        level: Level,
        method: RegressionLimitMethod,
    ) -> Result<Limits, PredictionError> {
        let (j, column) = find(&self.columns, &self.names, covariate)?;
        let scale = column.scale;
        let value = (self.theta[j] / scale).exp();
        if !(value.is_finite() && value > 0.0) {
            return Err(LimitsError::OutOfRange.into());
        }
        let error = self.scaled_covariance[(j, j)].sqrt();
        if method == RegressionLimitMethod::Delta {
            let factor = (level.distance() * error / scale).exp();
            return Ok(kept(
                value,
                Some(value / factor),
                Some(value * factor),
                level,
            ));
        }
        if sample.digest() != self.digest {
            return Err(PredictionError::OtherSample);
        }
        let prepared =
            Prepared::new(sample, self.model).map_err(|_| PredictionError::OtherSample)?;
        let likelihood = prepared.likelihood(&prepared.design.scaled, self.model.ties);
        let best = |target: f64, guess: &DVector<f64>| {
            let mut start = guess.clone();
            start[j] = target;
            let top = maximise(&likelihood, start, Some(j))?;
            (top.ended != Ended::Exhausted).then(|| Spot {
                value: top.at.value,
                slope: top.at.gradient[j],
                theta: top.theta,
            })
        };
        let search = Search {
            top: self.log_likelihood,
            target: self.theta[j],
            error,
            range: (-690.0, 690.0),
        };
        let side = |wanted: bool, sign: f64| -> Result<Option<f64>, LimitsError> {
            if !wanted {
                return Ok(None);
            }
            let limit = search.limit(sign, level.distance(), &self.theta, best)?;
            Ok(limit.map(|target| (target / scale).exp()))
        };
        let lower = side(level.wants_lower(), -1.0)?;
        let upper = side(level.wants_upper(), 1.0)?;
        Ok(kept(value, lower, upper, level))
    }
}
