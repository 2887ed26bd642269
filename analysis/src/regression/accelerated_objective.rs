//! Log-likelihood of accelerated-life models, over intercepts, coefficients and log shapes.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{DMatrix, DVector};

use super::covariates::CovariateSample;
use super::newton::{Evaluation, Objective};
use crate::families::Family;
use crate::fitting::likelihood::{Member, Term, contribution};
use crate::fitting::matrix::Symmetric;
use crate::fitting::rows::Row;
use crate::summation::Sum;

/// Rows summed plainly before they go to a compensated sum.
const BLOCK: usize = 64;

/// The lives of a sample with the places of their parameters.
#[derive(Clone, Debug)]
pub(crate) struct Lives {
    pub family: Family,
    /// Mean log usage at the end of the lives.
    pub centre: f64,
    pub lives: Vec<Row>,
    /// Which intercept and which shape each life has.
    pub intercept_of: Vec<usize>,
    pub shape_of: Vec<usize>,
    pub intercepts: usize,
    pub shapes: usize,
}

impl Lives {
    pub(crate) fn new(
        sample: &CovariateSample,
        family: Family,
        intercept_of: Vec<usize>,
        shape_of: Vec<usize>,
    ) -> Self {
        let count_of = |places: &[usize]| places.iter().max().map_or(1, |most| most + 1);
        let centre = centre(sample);
        Self {
            family,
            centre,
            lives: sample
                .rows()
                .iter()
                .map(|row| Row::new(&row.life, centre))
                .collect(),
            intercepts: count_of(&intercept_of),
            shapes: if family == Family::Exponential {
                0
            } else {
                count_of(&shape_of)
            },
            intercept_of,
            shape_of,
        }
    }
}

fn centre(sample: &CovariateSample) -> f64 {
    let (mut total, mut weight) = (Sum::default(), Sum::default());
    for row in sample.rows() {
        let life = &row.life;
        let at = if life.upper.is_finite() {
            life.upper
        } else {
            life.lower
        };
        if at > 0.0 {
            total.add(life.count as f64 * at.ln());
            weight.add(life.count as f64);
        }
    }
    if weight.total() > 0.0 {
        total.total() / weight.total()
    } else {
        0.0
    }
}

/// The likelihood over `theta`: anchored intercepts, coefficients, log shapes.
///
/// An anchored intercept is the log usage, at the origin of the covariates, at which the standard variable is the
/// anchor: `intercept = anchored - anchor * exp(-log shape)`. So one parameter can be any quantile, or, with the
/// usage held, any survival.
#[derive(Clone, Debug)]
pub(crate) struct AcceleratedObjective<'a> {
    pub lives: &'a Lives,
    /// Scaled covariates, one row per life.
    pub covariates: &'a DMatrix<f64>,
    /// Per intercept: its anchor and the shape that goes with it.
    pub anchors: Vec<(f64, usize)>,
}

impl AcceleratedObjective<'_> {
    pub(crate) fn size(&self) -> usize {
        self.lives.intercepts + self.covariates.ncols() + self.lives.shapes
    }

    /// Place of a log shape; none for the exponential, whose shape is one.
    pub(crate) fn shape_place(&self, shape: usize) -> Option<usize> {
        (self.lives.shapes > 0).then(|| self.lives.intercepts + self.covariates.ncols() + shape)
    }

    pub(crate) fn log_shape(&self, theta: &DVector<f64>, shape: usize) -> f64 {
        self.shape_place(shape).map_or(0.0, |place| theta[place])
    }

    /// Intercept where the standard variable is zero.
    pub(crate) fn intercept(&self, theta: &DVector<f64>, place: usize) -> f64 {
        let (anchor, shape) = self.anchors.get(place).copied().unwrap_or((0.0, 0));
        theta[place] - anchor * (-self.log_shape(theta, shape)).exp()
    }

    /// Sums in the coordinates of plain intercepts.
    fn plain(&self, theta: &DVector<f64>) -> Option<Evaluation> {
        let lives = self.lives;
        let columns = self.covariates.ncols();
        let mut sums = Sums::new(self.size());
        let coefficients = theta.rows(lives.intercepts, columns).clone_owned();
        let intercepts: Vec<f64> = (0..lives.intercepts)
            .map(|place| self.intercept(theta, place))
            .collect();
        let rows = lives
            .lives
            .iter()
            .zip(lives.intercept_of.iter().zip(&lives.shape_of));
        for (row, (life, (intercept, shape))) in rows.enumerate() {
            let covariates = self.covariates.row(row);
            let mut location = intercepts.get(*intercept).copied().unwrap_or(0.0);
            for j in 0..columns {
                location += covariates[j] * coefficients[j];
            }
            let member = Member {
                family: lives.family.curve(),
                location,
                log_shape: self.log_shape(theta, *shape),
                anchor: 0.0,
            };
            let term = contribution(life, lives.centre, &member);
            if !term.value.is_finite() {
                return None;
            }
            let shape_place = self.shape_place(*shape);
            sums.add(
                life.count,
                &term,
                *intercept,
                shape_place,
                |j| covariates[j],
                (lives.intercepts, columns),
            );
            if row % BLOCK == BLOCK - 1 {
                sums.flush();
            }
        }
        sums.flush();
        sums.evaluation()
    }
}

impl Objective for AcceleratedObjective<'_> {
    fn at(&self, theta: &DVector<f64>) -> Option<Evaluation> {
        let mut at = self.plain(theta)?;
        // Carry the derivatives from plain to anchored intercepts.
        for (place, (anchor, shape)) in self.anchors.iter().enumerate() {
            let Some(shape_place) = self.shape_place(*shape) else {
                continue;
            };
            if *anchor == 0.0 {
                continue;
            }
            let slope = anchor * (-theta[shape_place]).exp();
            let pull = at.gradient[place];
            at.gradient[shape_place] += slope * pull;
            for j in 0..self.size() {
                let cell = at.hessian[(place, j)];
                at.hessian[(shape_place, j)] += slope * cell;
            }
            for j in 0..self.size() {
                let cell = at.hessian[(j, place)];
                at.hessian[(j, shape_place)] += slope * cell;
            }
            at.hessian[(shape_place, shape_place)] -= slope * pull;
        }
        Some(at)
    }

    fn units(&self, theta: &DVector<f64>) -> DVector<f64> {
        let steepest = (0..self.lives.shapes.max(1))
            .map(|shape| self.log_shape(theta, shape))
            .fold(f64::INFINITY, f64::min);
        let first_shape = self.size() - self.lives.shapes;
        DVector::from_fn(self.size(), |j, _| {
            if j < first_shape {
                (-steepest).exp()
            } else {
                0.5
            }
        })
    }
}

/// Running sums of value, gradient and upper triangle.
struct Sums {
    size: usize,
    block: DVector<f64>,
    total: Vec<Sum>,
}

impl Sums {
    fn new(size: usize) -> Self {
        let cells = 1 + size + size * size;
        Self {
            size,
            block: DVector::zeros(cells),
            total: vec![Sum::default(); cells],
        }
    }

    fn add(
        &mut self,
        count: f64,
        term: &Term,
        intercept: usize,
        shape: Option<usize>,
        covariate: impl Fn(usize) -> f64,
        (first, columns): (usize, usize),
    ) {
        let size = self.size;
        let Term {
            value,
            gradient: [g, h],
            hessian: Symmetric { a, b, d },
        } = *term;
        let block = &mut self.block;
        let cell = |i: usize, j: usize| 1 + size + i * size + j;
        block[0] += count * value;
        block[1 + intercept] += count * g;
        block[cell(intercept, intercept)] += count * a;
        for j in 0..columns {
            let x = covariate(j);
            let place = first + j;
            block[1 + place] += count * g * x;
            block[cell(intercept, place)] += count * a * x;
            for k in j..columns {
                block[cell(place, first + k)] += count * a * x * covariate(k);
            }
        }
        if let Some(shape) = shape {
            block[1 + shape] += count * h;
            block[cell(shape, shape)] += count * d;
            block[cell(intercept, shape)] += count * b;
            for j in 0..columns {
                block[cell(first + j, shape)] += count * b * covariate(j);
            }
        }
    }

    fn flush(&mut self) {
        for (total, part) in self.total.iter_mut().zip(self.block.iter_mut()) {
            total.add(*part);
            *part = 0.0;
        }
    }

    fn evaluation(&self) -> Option<Evaluation> {
        let size = self.size;
        let all = DVector::from_iterator(self.total.len(), self.total.iter().map(Sum::total));
        let evaluation = Evaluation {
            value: all[0],
            gradient: all.rows(1, size).clone_owned(),
            hessian: DMatrix::from_fn(size, size, |i, j| {
                all[1 + size + i.min(j) * size + i.max(j)]
            }),
        };
        all.iter()
            .all(|cell| cell.is_finite())
            .then_some(evaluation)
    }
}
