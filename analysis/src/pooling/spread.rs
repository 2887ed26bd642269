//! How groups differ: mean and spread of log scale and log shape, by the marginal likelihood of all groups.
//!
//! The integral over each group's effects, and over the common mean with a flat prior, is by Laplace's method at their
//! joint top. For normal likelihoods that is restricted maximum likelihood, exactly (Patterson and Thompson 1971;
//! Breslow and Clayton 1993, JASA 88; Lee and Nelder 1996, JRSS B 58).

use nalgebra::{Cholesky, DMatrix, DVector};

use super::posterior::{GroupLives, Peak, Setting, Work};
use crate::summation::Sum;

/// Best common mean and every group's top, at one spread.
#[derive(Clone, Debug)]
pub(crate) struct Fitted {
    /// Lower triangular root of the covariance between groups.
    pub root: DMatrix<f64>,
    pub mean: DVector<f64>,
    /// Covariance of the common mean.
    pub mean_covariance: DMatrix<f64>,
    pub peaks: Vec<Peak>,
    /// Log of the marginal likelihood, the mean integrated out, up to a constant.
    pub restricted: f64,
}

/// A root from its free numbers: (log scale) or (log scale, cross, log shape).
pub(crate) fn root_of(free: &DVector<f64>) -> DMatrix<f64> {
    let cell = |place: usize| free.get(place).copied().unwrap_or(0.0);
    if free.len() == 1 {
        return DMatrix::from_element(1, 1, cell(0).abs());
    }
    // The sign of a column of the root does not matter.
    let sign = if cell(0) < 0.0 { -1.0 } else { 1.0 };
    DMatrix::from_row_slice(2, 2, &[cell(0).abs(), 0.0, sign * cell(1), cell(2).abs()])
}

/// What one group says of the mean, its own effects integrated out: `D - D L (1 + L'D L)^-1 L'D`.
fn said_of_mean(peak: &Peak, root: &DMatrix<f64>) -> DMatrix<f64> {
    let d = &peak.information;
    let cross = root.transpose() * d;
    d - cross.transpose() * peak.precision.solve(&cross)
}

/// The joint top over the mean and all effects at one spread, searched from a mean and effects nearby.
pub(crate) fn at_spread(
    setting: &Setting,
    groups: &[GroupLives],
    root: DMatrix<f64>,
    mean: &DVector<f64>,
    starts: &[DVector<f64>],
    work: &Work,
) -> Option<Fitted> {
    let look = |mean: &DVector<f64>, starts: &[DVector<f64>]| -> Option<Vec<Peak>> {
        groups
            .iter()
            .zip(starts)
            .map(|(group, start)| setting.peak(group, mean, &root, start, work))
            .collect()
    };
    let height = |peaks: &[Peak]| {
        peaks
            .iter()
            .map(|peak| peak.value - 0.5 * peak.u.norm_squared())
            .collect::<Sum>()
            .total()
    };
    let mut mean = mean.clone();
    let mut peaks = look(&mean, starts)?;
    let mut shortened = 1.0;
    for _ in 0..100 {
        let mut pull = DVector::zeros(setting.size);
        let mut said = DMatrix::zeros(setting.size, setting.size);
        for (peak, group) in peaks.iter().zip(groups) {
            let theta = &mean + &root * &peak.u;
            pull += setting.slope(group, &theta)?.gradient;
            said += said_of_mean(peak, &root);
        }
        // Far from the top the information may not be positive: then climb along a raised diagonal.
        let mut raise = 0.0;
        let solver = loop {
            let raised = &said
                + DMatrix::identity(setting.size, setting.size) * (raise * (1e-3 + said.norm()));
            if let Some(solver) = Cholesky::new(raised) {
                break solver;
            }
            raise = f64::max(raise * 4.0, 1e-2);
            if raise >= 1e6 {
                return None;
            }
        };
        let mut step = solver.solve(&pull) * shortened;
        let promise = step.dot(&pull).abs();
        let flat = 1.0 + height(&peaks).abs();
        if raise == 0.0 && promise <= 1e-13 * flat * shortened {
            let mean_covariance = solver.inverse();
            let logs: f64 = peaks
                .iter()
                .map(|peak| peak.precision.l_dirty().diagonal().map(f64::ln).sum())
                .sum();
            let said_log = solver.l_dirty().diagonal().map(f64::ln).sum();
            let restricted = height(&peaks) - logs - said_log;
            return restricted.is_finite().then_some(Fitted {
                root,
                mean,
                mean_covariance,
                peaks,
                restricted,
            });
        }
        if step.amax() > 2.0 {
            step *= 2.0 / step.amax();
        }
        let next = &mean + &step;
        let starts: Vec<DVector<f64>> = peaks.iter().map(|peak| peak.u.clone()).collect();
        match look(&next, &starts) {
            Some(there) if height(&there) >= height(&peaks) - 1e-12 * flat => {
                (mean, peaks) = (next, there);
                shortened = f64::min(1.0, shortened * 4.0);
            }
            _ => {
                shortened *= 0.25;
                if shortened < 1e-12 {
                    return None;
                }
            }
        }
    }
    None
}

/// The best spread, by the simplex method of Nelder and Mead (1965, Computer Journal 7), started twice.
pub(crate) fn best_spread(
    setting: &Setting,
    groups: &[GroupLives],
    start: &DVector<f64>,
    work: &Work,
) -> Option<Fitted> {
    let still = vec![DVector::zeros(setting.size); groups.len()];
    let alike = DMatrix::zeros(setting.size, setting.size);
    let none = at_spread(setting, groups, alike, start, &still, work)?;
    let mut best = none.clone();
    let try_at = |free: &DVector<f64>, near: &Fitted| -> Option<Fitted> {
        let u: Vec<DVector<f64>> = near.peaks.iter().map(|peak| peak.u.clone()).collect();
        at_spread(setting, groups, root_of(free), &near.mean, &u, work)
            .or_else(|| at_spread(setting, groups, root_of(free), &none.mean, &still, work))
    };
    let length = if setting.size == 1 { 1 } else { 3 };
    let first = DVector::from_fn(length, |place, _| if place == 1 { 0.0 } else { 0.4 });
    let mut centre = first;
    for size in [0.3, 0.05] {
        let mut simplex: Vec<(DVector<f64>, f64)> = Vec::new();
        let mut value = |free: &DVector<f64>| -> f64 {
            match try_at(free, &best) {
                Some(fitted) => {
                    let value = fitted.restricted;
                    if value > best.restricted {
                        best = fitted;
                    }
                    value
                }
                None => f64::NEG_INFINITY,
            }
        };
        for place in 0..=length {
            let corner = DVector::from_fn(length, |j, _| {
                let base = centre.get(j).copied().unwrap_or(0.0);
                if j + 1 == place { base + size } else { base }
            });
            let height = value(&corner);
            simplex.push((corner, height));
        }
        climb(&mut simplex, &mut value);
        if let Some((corner, _)) = simplex.first() {
            centre = corner.clone();
        }
    }
    best.restricted.is_finite().then_some(best)
}

/// Moves the simplex until it is small; its first corner ends as the best.
fn climb(simplex: &mut Vec<(DVector<f64>, f64)>, value: &mut impl FnMut(&DVector<f64>) -> f64) {
    for _ in 0..250 {
        simplex.sort_by(|a, b| b.1.total_cmp(&a.1));
        let Some((best, rest)) = simplex.split_first() else {
            return;
        };
        let wide = rest
            .iter()
            .any(|(corner, _)| (corner - &best.0).amax() > 1e-6);
        let uneven = rest.iter().any(|(_, height)| best.1 - height > 1e-9);
        if !wide || !uneven {
            return;
        }
        let best = best.clone();
        let Some((worst, worst_height)) = simplex.pop() else {
            return;
        };
        let others = simplex.len() as f64;
        let middle = simplex
            .iter()
            .fold(DVector::zeros(worst.len()), |sum, (corner, _)| sum + corner)
            / others;
        let mut at = |by: f64| {
            let corner = &middle + (&worst - &middle) * by;
            let height = value(&corner);
            (corner, height)
        };
        let mirrored = at(-1.0);
        let second = simplex.last().map_or(f64::NEG_INFINITY, |last| last.1);
        if mirrored.1 > best.1 {
            let further = at(-2.0);
            simplex.push(if further.1 > mirrored.1 {
                further
            } else {
                mirrored
            });
        } else if mirrored.1 > second {
            simplex.push(mirrored);
        } else {
            let nearer = at(if mirrored.1 > worst_height { -0.5 } else { 0.5 });
            if nearer.1 > worst_height.max(mirrored.1) {
                simplex.push(nearer);
            } else {
                simplex.push((worst, worst_height));
                for (corner, height) in simplex.iter_mut().skip(1) {
                    *corner = &best.0 + (&*corner - &best.0) * 0.5;
                    *height = value(corner);
                }
            }
        }
    }
    simplex.sort_by(|a, b| b.1.total_cmp(&a.1));
}
