//! Partial likelihood of proportional hazards (Cox 1972, JRSS B 34), by risk sets from the latest failure back.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{DMatrix, DVector};

use super::covariates::CovariateSample;
use super::exact_ties::Subsets;
use super::newton::{Evaluation, Objective};
use super::proportional_hazards::Ties;
use crate::summation::Sum;

/// One stratum's lives, told by their rows in the sample.
#[derive(Clone, Debug)]
pub(crate) struct StratumLives {
    pub stratum: Option<String>,
    /// Rows by exit, latest first.
    exits: Vec<(f64, usize)>,
    /// Rows that entered above zero, latest first.
    entries: Vec<(f64, usize)>,
    /// Usages with failures, latest first.
    pub failures: Vec<FailuresAt>,
}

/// Failures at one usage.
#[derive(Clone, Debug)]
pub(crate) struct FailuresAt {
    pub usage: f64,
    pub rows: Vec<usize>,
    pub count: u64,
}

/// Splits a sample of exact and right-censored lives.
pub(crate) fn strata(sample: &CovariateSample, stratum_of: &[usize]) -> Vec<StratumLives> {
    let most = stratum_of.iter().max().map_or(0, |most| most + 1);
    (0..most)
        .map(|stratum| {
            let mut lives = StratumLives {
                stratum: sample.strata().get(stratum).cloned().flatten(),
                exits: Vec::new(),
                entries: Vec::new(),
                failures: Vec::new(),
            };
            let mine = sample.rows().iter().zip(stratum_of).enumerate();
            for (row, (covariate_life, _)) in mine.filter(|(_, (_, place))| **place == stratum) {
                let life = &covariate_life.life;
                lives.exits.push((life.lower, row));
                if life.entry > 0.0 {
                    lives.entries.push((life.entry, row));
                }
                if life.upper.is_infinite() {
                    continue;
                }
                // Rows come in order of usage, so ties stand together.
                match lives.failures.last_mut() {
                    Some(at) if at.usage == life.upper => {
                        at.rows.push(row);
                        at.count += life.count;
                    }
                    _ => lives.failures.push(FailuresAt {
                        usage: life.upper,
                        rows: vec![row],
                        count: life.count,
                    }),
                }
            }
            lives.failures.reverse();
            lives
                .exits
                .sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            lives
                .entries
                .sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            lives
        })
        .collect()
}

/// The partial likelihood over the scaled coefficients.
#[derive(Clone, Debug)]
pub(crate) struct PartialLikelihood<'a> {
    pub strata: &'a [StratumLives],
    /// How many lives each row stands for.
    pub counts: &'a DVector<f64>,
    /// Scaled covariates, one row per life.
    pub covariates: &'a DMatrix<f64>,
    pub ties: Ties,
}

/// Sums over lives: weights, weighted covariates, weighted products (upper triangle).
#[derive(Clone, Debug)]
pub(crate) struct Weights {
    sums: Vec<Sum>,
    size: usize,
}

/// The totals of [`Weights`].
#[derive(Clone, Debug)]
pub(crate) struct Totals {
    pub weight: f64,
    pub first: DVector<f64>,
    pub second: DMatrix<f64>,
}

impl Weights {
    fn new(size: usize) -> Self {
        Self {
            sums: vec![Sum::default(); 1 + size + size * (size + 1) / 2],
            size,
        }
    }

    fn add(&mut self, weight: f64, covariates: &DMatrix<f64>, row: usize) {
        let mut sums = self.sums.iter_mut();
        let mut put = |value: f64| {
            if let Some(sum) = sums.next() {
                sum.add(value);
            }
        };
        put(weight);
        for j in 0..self.size {
            put(weight * covariates[(row, j)]);
        }
        for j in 0..self.size {
            let part = weight * covariates[(row, j)];
            for k in j..self.size {
                put(part * covariates[(row, k)]);
            }
        }
    }

    fn totals(&self) -> Totals {
        let size = self.size;
        let mut sums = self.sums.iter().map(Sum::total);
        let mut take = || sums.next().unwrap_or(0.0);
        let weight = take();
        let first = DVector::from_fn(size, |_, _| take());
        let mut second = DMatrix::zeros(size, size);
        for j in 0..size {
            for k in j..size {
                second[(j, k)] = take();
                second[(k, j)] = second[(j, k)];
            }
        }
        Totals {
            weight,
            first,
            second,
        }
    }
}

impl PartialLikelihood<'_> {
    fn size(&self) -> usize {
        self.covariates.ncols()
    }

    fn row(&self, row: usize) -> DVector<f64> {
        self.covariates.row(row).transpose()
    }

    /// Calls `visit` at every usage with failures, latest first, with the sums over the lives at risk and over the
    /// failures, both with weights divided by `exp(shift)`, and the rows at risk where they are asked for.
    pub(crate) fn walk(
        &self,
        lives: &StratumLives,
        theta: &DVector<f64>,
        mut visit: impl FnMut(&FailuresAt, &Totals, &Totals, &[usize], f64) -> Option<()>,
    ) -> Option<()> {
        let predictors = self.covariates * theta;
        let shift = lives
            .exits
            .iter()
            .map(|(_, row)| predictors[*row])
            .fold(f64::NEG_INFINITY, f64::max);
        let weight = |row: usize| self.counts[row] * (predictors[row] - shift).exp();
        let listed = self.ties == Ties::Exact;
        let mut at_risk = Weights::new(self.size());
        let mut rows: Vec<usize> = Vec::new();
        let (mut exits, mut entries) = (
            lives.exits.iter().peekable(),
            lives.entries.iter().peekable(),
        );
        for at in &lives.failures {
            while let Some((_, row)) = exits.next_if(|(exit, _)| *exit >= at.usage) {
                at_risk.add(weight(*row), self.covariates, *row);
                if listed {
                    rows.push(*row);
                }
            }
            while let Some((_, row)) = entries.next_if(|(entry, _)| *entry >= at.usage) {
                at_risk.add(-weight(*row), self.covariates, *row);
                if listed {
                    rows.retain(|other| other != row);
                }
            }
            let mut failed = Weights::new(self.size());
            for row in &at.rows {
                failed.add(weight(*row), self.covariates, *row);
            }
            visit(at, &at_risk.totals(), &failed.totals(), &rows, shift)?;
        }
        Some(())
    }

    /// Adds the failures at one usage.
    fn add(
        &self,
        at: &FailuresAt,
        (at_risk, failed): (&Totals, &Totals),
        shift: f64,
        into: &mut Totalled,
    ) -> Option<()> {
        match self.ties {
            Ties::Breslow | Ties::Exact => {
                let count = at.count as f64;
                self.take_off(at_risk, count, shift, into)
            }
            Ties::Efron => {
                for earlier in 0..at.count {
                    let part = earlier as f64 / at.count as f64;
                    self.take_off(&without(at_risk, failed, part), 1.0, shift, into)?;
                }
                Some(())
            }
        }
    }

    fn take_off(&self, totals: &Totals, times: f64, shift: f64, into: &mut Totalled) -> Option<()> {
        let Totals {
            weight,
            first,
            second,
        } = totals;
        if !(*weight > 0.0 && weight.is_finite()) {
            return None;
        }
        into.value.add(-times * (weight.ln() + shift));
        let mean = first / *weight;
        let spread = second / *weight - &mean * mean.transpose();
        into.gradient -= times * mean;
        into.hessian -= times * spread;
        Some(())
    }
}

/// The lives at risk, with a part of those who fail at this usage gone (Efron 1977, JASA 72).
pub(crate) fn without(at_risk: &Totals, failed: &Totals, part: f64) -> Totals {
    if part == 0.0 {
        return at_risk.clone();
    }
    Totals {
        weight: at_risk.weight - part * failed.weight,
        first: &at_risk.first - part * &failed.first,
        second: &at_risk.second - part * &failed.second,
    }
}

struct Totalled {
    value: Sum,
    gradient: DVector<f64>,
    hessian: DMatrix<f64>,
}

impl Objective for PartialLikelihood<'_> {
    fn at(&self, theta: &DVector<f64>) -> Option<Evaluation> {
        let size = self.size();
        let mut into = Totalled {
            value: Sum::default(),
            gradient: DVector::zeros(size),
            hessian: DMatrix::zeros(size, size),
        };
        for lives in self.strata {
            self.walk(lives, theta, |at, at_risk, failed, rows, shift| {
                for row in &at.rows {
                    let covariates = self.row(*row);
                    into.value.add(self.counts[*row] * covariates.dot(theta));
                    into.gradient += self.counts[*row] * covariates;
                }
                if self.ties == Ties::Exact && at.count > 1 {
                    let mut subsets = Subsets::new(at.count, size);
                    let lives = rows.iter().map(|row| {
                        let covariates = self.row(*row);
                        let ln_weight = covariates.dot(theta) - shift;
                        (self.counts[*row], ln_weight, covariates)
                    });
                    subsets.fill(lives, at_risk.weight)?;
                    let (ln_sum, first, second) = subsets.logarithm()?;
                    into.value.add(-(ln_sum + at.count as f64 * shift));
                    into.gradient -= first;
                    into.hessian -= second;
                    return Some(());
                }
                self.add(at, (at_risk, failed), shift, &mut into)
            })?;
        }
        let evaluation = Evaluation {
            value: into.value.total(),
            gradient: into.gradient,
            hessian: into.hessian,
        };
        let finite = evaluation.value.is_finite()
            && evaluation.gradient.iter().all(|cell| cell.is_finite())
            && evaluation.hessian.iter().all(|cell| cell.is_finite());
        finite.then_some(evaluation)
    }

    fn units(&self, theta: &DVector<f64>) -> DVector<f64> {
        DVector::from_element(theta.len(), 1.0)
    }
}
