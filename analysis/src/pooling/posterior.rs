//! One group's log scale and log shape, given what groups have in common.
//!
//! Effects are `theta = mean + root u` with `u` standard normal, so that no spread between groups (a root of zero) is
//! a value like any other.

use std::cell::Cell;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn, SymmetricEigen};

use crate::families::Family;
use crate::fitting::likelihood::{Member, contribution};
use crate::fitting::matrix::Symmetric;
use crate::fitting::rows::Row;
use crate::summation::Sum;

/// Lives of one group.
#[derive(Clone, Debug)]
pub(crate) struct GroupLives {
    pub lives: Vec<Row>,
}

/// Log-likelihood of a group with derivatives in (log scale, log shape), or in log mean alone.
pub(crate) struct Slope {
    pub value: f64,
    pub gradient: DVector<f64>,
    pub hessian: DMatrix<f64>,
}

/// Everything that stays while the search moves.
#[derive(Clone, Debug)]
pub(crate) struct Setting {
    pub family: Family,
    pub centre: f64,
    /// 2, or 1 for the exponential.
    pub size: usize,
}

/// The posterior of one group at its top.
#[derive(Clone, Debug)]
pub(crate) struct Peak {
    pub u: DVector<f64>,
    /// Log-likelihood there.
    pub value: f64,
    /// Minus the second derivatives of the log-likelihood there.
    pub information: DMatrix<f64>,
    /// Minus the second derivatives of the log posterior in `u`.
    pub precision: Cholesky<f64, Dyn>,
}

/// Terms of the likelihood that a search may still take. On flat likelihoods every step of every search takes all it may
/// and their product would run for minutes.
pub(crate) struct Work(Cell<u64>);

impl Work {
    pub(crate) fn new(terms: u64) -> Self {
        Self(Cell::new(terms))
    }

    /// None when the work is used up.
    fn take(&self, terms: usize) -> Option<()> {
        // A look costs something even without lives.
        let terms = u64::try_from(terms).ok()?.saturating_add(1);
        self.0.set(self.0.get().checked_sub(terms)?);
        Some(())
    }
}

impl Setting {
    pub(crate) fn slope(&self, group: &GroupLives, theta: &DVector<f64>) -> Option<Slope> {
        let cell = |place: usize| theta.get(place).copied().unwrap_or(0.0);
        let member = Member {
            family: self.family.curve(),
            location: cell(0),
            log_shape: cell(1),
            anchor: 0.0,
        };
        let mut sums = [Sum::default(); 6];
        for life in &group.lives {
            let term = contribution(life, self.centre, &member);
            let [g, h] = term.gradient;
            let Symmetric { a, b, d } = term.hessian;
            for (sum, part) in sums.iter_mut().zip([term.value, g, h, a, b, d]) {
                sum.add(life.count * part);
            }
        }
        let [value, g, h, a, b, d] = sums.map(|sum| sum.total());
        let finite = [value, g, h, a, b, d].iter().all(|part| part.is_finite());
        finite.then(|| {
            let (gradient, hessian) = if self.size == 1 {
                (vec![g], vec![a])
            } else {
                (vec![g, h], vec![a, b, b, d])
            };
            Slope {
                value,
                gradient: DVector::from_vec(gradient),
                hessian: DMatrix::from_vec(self.size, self.size, hessian),
            }
        })
    }

    /// The top of log-likelihood minus half the square of `u`, by damped Newton steps.
    pub(crate) fn peak(
        &self,
        group: &GroupLives,
        mean: &DVector<f64>,
        root: &DMatrix<f64>,
        start: &DVector<f64>,
        work: &Work,
    ) -> Option<Peak> {
        let look = |u: &DVector<f64>| self.slope(group, &(mean + root * u));
        let height = |u: &DVector<f64>, slope: &Slope| slope.value - 0.5 * u.norm_squared();
        let mut u = start.clone();
        let mut slope = match look(&u) {
            Some(slope) => slope,
            None => {
                u.fill(0.0);
                look(&u)?
            }
        };
        let one = DMatrix::<f64>::identity(self.size, self.size);
        let mut damping = 0.0;
        for _ in 0..200 {
            work.take(group.lives.len())?;
            let pull = root.transpose() * &slope.gradient - &u;
            let curve = &one - root.transpose() * &slope.hessian * root;
            let raised = &curve + &one * (damping * (1.0 + curve.norm()));
            let Some(solver) = Cholesky::new(raised) else {
                damping = f64::max(damping * 4.0, 1e-3);
                continue;
            };
            let mut step = solver.solve(&pull);
            let promise = 0.5 * step.dot(&pull).abs();
            if damping <= 1e-6 && promise <= 1e-18 * (1.0 + slope.value.abs()) {
                break;
            }
            if step.amax() > 2.0 {
                step *= 2.0 / step.amax();
            }
            let next = &u + &step;
            match look(&next) {
                Some(there) if height(&next, &there) >= height(&u, &slope) => {
                    (u, slope) = (next, there);
                    damping = if damping < 1e-6 { 0.0 } else { damping * 0.1 };
                }
                _ if promise <= 1e-11 * (1.0 + slope.value.abs()) => break,
                _ => damping = f64::max(damping * 8.0, 1e-3),
            }
            if damping > 1e12 {
                return None;
            }
        }
        let curve = &one - root.transpose() * &slope.hessian * root;
        Some(Peak {
            value: slope.value,
            information: -slope.hessian,
            precision: Cholesky::new(curve)?,
            u,
        })
    }

    /// Posterior mean and covariance of `theta` and of any functions of it, by Gauss-Hermite sums about the top
    /// (Naylor and Smith 1982, Applied Statistics 31).
    pub(crate) fn moments(
        &self,
        group: &GroupLives,
        mean: &DVector<f64>,
        root: &DMatrix<f64>,
        peak: &Peak,
        functions: impl Fn(&DVector<f64>) -> DVector<f64>,
    ) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let rule = hermite(POINTS);
        // u = top + spread e, with e standard normal if the posterior is.
        let spread = peak.precision.l().transpose().try_inverse()?;
        let second: &[(f64, f64)] = if self.size == 2 { &rule } else { &[(0.0, 1.0)] };
        let mut nodes = Vec::new();
        for (x, wx) in &rule {
            for (y, wy) in second {
                let e = DVector::from_fn(self.size, |place, _| if place == 0 { *x } else { *y });
                let u = &peak.u + &spread * &e;
                let theta = mean + root * &u;
                let Some(slope) = self.slope(group, &theta) else {
                    continue;
                };
                let ln_weight = slope.value - peak.value - 0.5 * u.norm_squared()
                    + 0.5 * peak.u.norm_squared()
                    + 0.5 * e.norm_squared();
                nodes.push((ln_weight + (wx * wy).ln(), functions(&theta)));
            }
        }
        let most = nodes.iter().map(|n| n.0).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = nodes.iter().map(|n| (n.0 - most).exp()).sum();
        let length = nodes.first()?.1.len();
        let mut centre = DVector::zeros(length);
        for (ln_weight, values) in &nodes {
            centre += values * ((ln_weight - most).exp() / total);
        }
        let mut covariance = DMatrix::zeros(length, length);
        for (ln_weight, values) in &nodes {
            let gap = values - &centre;
            covariance += &gap * gap.transpose() * ((ln_weight - most).exp() / total);
        }
        let finite = centre
            .iter()
            .chain(covariance.iter())
            .all(|v| v.is_finite());
        finite.then_some((centre, covariance))
    }
}

const POINTS: usize = 21;

/// Points and weights of the standard normal, by the eigenvalues of the recursion (Golub and Welsch 1969,
/// Mathematics of Computation 23).
fn hermite(points: usize) -> Vec<(f64, f64)> {
    let recursion = DMatrix::from_fn(points, points, |i, j| {
        if i.abs_diff(j) == 1 {
            (i.max(j) as f64).sqrt()
        } else {
            0.0
        }
    });
    let eigen = SymmetricEigen::new(recursion);
    let mut rule: Vec<(f64, f64)> = eigen
        .eigenvalues
        .iter()
        .zip(eigen.eigenvectors.row(0).iter())
        .map(|(point, first)| (*point, first * first))
        .collect();
    rule.sort_by(|a, b| a.0.total_cmp(&b.0));
    rule
}
