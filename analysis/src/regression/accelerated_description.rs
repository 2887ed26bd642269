//! An accelerated-life fit from the top of its likelihood: parameters in raw covariates, their covariance and tests.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{DMatrix, DVector};

use super::accelerated_life::{
    AcceleratedLife, AcceleratedLifeFit, Inner, PerStratum, StratumValue,
};
use super::accelerated_objective::{AcceleratedObjective, Lives};
use super::accelerated_search::Fitting;
use super::coefficient::{ChiSquareTest, Coefficient};
use super::covariates::CovariateSample;
use super::design::{Column, Design};
use super::newton::{Top, covariance, table};

pub(super) fn described(
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
