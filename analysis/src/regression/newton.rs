//! Damped Newton search over several parameters.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// A function to be maximised.
pub(crate) trait Objective {
    /// Value and derivatives; none where the function is not a number.
    fn at(&self, theta: &DVector<f64>) -> Option<Evaluation>;

    /// Size of a change in each parameter that changes the model by about one unit of its standard variable.
    fn units(&self, theta: &DVector<f64>) -> DVector<f64>;
}

#[derive(Clone, Debug)]
pub(crate) struct Evaluation {
    pub value: f64,
    pub gradient: DVector<f64>,
    pub hessian: DMatrix<f64>,
}

/// Where a search ended.
#[derive(Clone, Debug)]
pub(crate) struct Top {
    pub theta: DVector<f64>,
    pub at: Evaluation,
    pub iterations: u32,
    pub ended: Ended,
}

#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Ended {
    Converged,
    /// The function is flat to working precision but the step stays long: these parameters run off.
    Drifting(Vec<usize>),
    Exhausted,
}

const MOST_STEPS: u32 = 300;
/// Longest step in units of each parameter.
const LONGEST: f64 = 4.0;
/// At a true top the last step is far shorter than this many units; on a ridge without a top it stays near one.
const DRIFT: f64 = 1e-2;
/// A parameter this many units from its start has run off.
const FURTHEST: f64 = 3_000.0;

/// Climbs from `start`, with the parameter `held` kept where it is.
pub(crate) fn maximise(
    objective: &impl Objective,
    start: DVector<f64>,
    held: Option<usize>,
) -> Option<Top> {
    let mut theta = start;
    let mut at = objective.at(&theta)?;
    let mut damping = 0.0_f64;
    let mut iterations = 0;
    let first = theta.clone();
    let first_units = objective.units(&first);
    while iterations < MOST_STEPS {
        iterations += 1;
        let units = objective.units(&theta);
        let step = step(&at, &units, damping, held);
        let promise = 0.5 * step.dot(&at.gradient).abs();
        let flat = 1.0 + at.value.abs();
        let next = &theta + &step;
        let there = objective
            .at(&next)
            .filter(|there| there.value >= at.value && there.value.is_finite());
        if damping <= 1e-6 && promise <= 1e-12 * flat || there.is_none() && promise <= 1e-10 * flat
        {
            return Some(settled(objective, theta, at, iterations, held));
        }
        match there {
            Some(there) => {
                (theta, at) = (next, there);
                damping = if damping < 1e-6 { 0.0 } else { damping * 0.1 };
            }
            None => {
                damping = (damping * 8.0).max(1e-3);
                if damping > 1e12 {
                    break;
                }
            }
        }
        let far: Vec<usize> = (0..theta.len())
            .filter(|j| (theta[*j] - first[*j]).abs() > FURTHEST * units[*j].max(first_units[*j]))
            .collect();
        if !far.is_empty() {
            return Some(Top {
                theta,
                at,
                iterations,
                ended: Ended::Drifting(far),
            });
        }
    }
    Some(Top {
        theta,
        at,
        iterations,
        ended: Ended::Exhausted,
    })
}

/// Full Newton steps as long as they bring the gradient down, then the verdict.
fn settled(
    objective: &impl Objective,
    mut theta: DVector<f64>,
    mut at: Evaluation,
    iterations: u32,
    held: Option<usize>,
) -> Top {
    let mut last = step(&at, &objective.units(&theta), 0.0, held);
    for _ in 0..3 {
        let next = &theta + &last;
        let Some(there) = objective.at(&next) else {
            break;
        };
        let after = step(&there, &objective.units(&next), 0.0, held);
        let shrinks = after.dot(&there.gradient).abs() < last.dot(&at.gradient).abs();
        if !shrinks || !there.value.is_finite() {
            break;
        }
        (theta, at, last) = (next, there, after);
    }
    let units = objective.units(&theta);
    let lengths = DVector::from_iterator(
        last.len(),
        last.iter().zip(units.iter()).map(|(s, u)| s.abs() / u),
    );
    let longest = lengths.max();
    let ended = if longest > DRIFT {
        Ended::Drifting(
            (0..lengths.len())
                .filter(|j| lengths[*j] > 0.1 * longest)
                .collect(),
        )
    } else {
        Ended::Converged
    };
    Top {
        theta,
        at,
        iterations,
        ended,
    }
}

/// A Newton step on a matrix made positive definite by raising its diagonal, cut to a sensible length.
fn step(at: &Evaluation, units: &DVector<f64>, damping: f64, held: Option<usize>) -> DVector<f64> {
    let size = at.gradient.len();
    let mut matrix = -at.hessian.clone();
    let mut gradient = at.gradient.clone();
    if let Some(held) = held.filter(|held| *held < size) {
        matrix.fill_row(held, 0.0);
        matrix.fill_column(held, 0.0);
        matrix[(held, held)] = 1.0;
        gradient[held] = 0.0;
    }
    // In units of the parameters the diagonal entries compare with one another.
    let scaled = DMatrix::from_fn(size, size, |i, j| matrix[(i, j)] * units[i] * units[j]);
    let pull = gradient.component_mul(units);
    let largest = scaled.diagonal().amax().max(1e-300);
    let mut raise = damping;
    for _ in 0..60 {
        let mut raised = scaled.clone();
        for j in 0..size {
            raised[(j, j)] += raise * scaled[(j, j)].abs().max(1e-8 * largest);
        }
        if let Some(root) = positive(raised) {
            let mut step = root.solve(&pull);
            let longest = step.amax();
            if longest.is_finite() {
                if longest > LONGEST {
                    step *= LONGEST / longest;
                }
                return step.component_mul(units);
            }
        }
        raise = (raise * 4.0).max(1e-3);
    }
    DVector::zeros(size)
}

fn positive(matrix: DMatrix<f64>) -> Option<Cholesky<f64, Dyn>> {
    matrix
        .iter()
        .all(|cell| cell.is_finite())
        .then(|| Cholesky::new(matrix))
        .flatten()
}

/// The inverse of the observed information; none where it is not positive definite to working precision.
pub(crate) fn covariance(hessian: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let size = hessian.nrows();
    let information = -hessian.clone();
    let sizes = information.diagonal().map(f64::sqrt);
    if sizes.iter().any(|size| !(size.is_finite() && *size > 0.0)) {
        return None;
    }
    // To unit diagonal first: columns of very different size then lose nothing.
    let unit = DMatrix::from_fn(size, size, |i, j| {
        information[(i, j)] / (sizes[i] * sizes[j])
    });
    let root = positive(unit)?;
    let pivots = root.l_dirty().diagonal();
    if pivots.iter().any(|pivot| *pivot < 1e-7) {
        return None;
    }
    let inverse = root.inverse();
    let covariance = DMatrix::from_fn(size, size, |i, j| {
        // Both triangles from one, so that the matrix is symmetric to the bit.
        inverse[(i.max(j), i.min(j))] / (sizes[i] * sizes[j])
    });
    covariance
        .iter()
        .all(|cell| cell.is_finite())
        .then_some(covariance)
}

/// Rows of a matrix.
pub(crate) fn table(matrix: &DMatrix<f64>) -> Vec<Vec<f64>> {
    matrix
        .row_iter()
        .map(|row| row.iter().copied().collect())
        .collect()
}
