//! The curve as hazards gained in innermost intervals, its likelihood, and the gradient condition.

use crate::nonparametric::innermost::Support;
use crate::special::vector::{exp_m1_all, ln_all};
use crate::summation::Sum;

/// Hazards at or below this are on their way to zero.
pub(super) const NO_HAZARD: f64 = 1e-11;
/// Hazard in one interval after which nobody is left.
pub(super) const ALL_FAILED: f64 = 36.0;

/// Cumulative hazard gained in each interval.
pub(super) struct State {
    pub(super) gained: Vec<f64>,
    /// Cumulative hazard before each interval and, last, after all.
    pub(super) before: Vec<Sum>,
    /// For each failure the hazard gained over its run, and the share that fails of it.
    pub(super) gains: Vec<f64>,
    pub(super) shares: Vec<f64>,
}

/// Kept as sums, because small gains late are differences of large ones.
fn cumulative(gained: &[f64]) -> Vec<Sum> {
    let mut sum = Sum::default();
    let mut sums = Vec::with_capacity(gained.len() + 1);
    sums.push(sum);
    for gain in gained {
        sum.add(*gain);
        sums.push(sum);
    }
    sums
}

impl State {
    pub(super) fn start(support: &Support) -> Self {
        let share = 1.0 / (support.intervals.len() + 1) as f64;
        Self::of(vec![share; support.intervals.len()], support)
    }

    pub(super) fn of(mut gained: Vec<f64>, support: &Support) -> Self {
        // Where nobody is known to have passed, all the hazard there can be is best.
        for (gained, unfailed) in gained.iter_mut().zip(&support.unfailed) {
            if *unfailed <= 0.0 {
                *gained = ALL_FAILED;
            }
        }
        let before = cumulative(&gained);
        let at = |place: usize| before.get(place).copied().unwrap_or_default();
        let gains: Vec<f64> = support
            .rows
            .iter()
            .map(|run| at(run.end).less(&at(run.start)))
            .collect();
        let mut shares: Vec<f64> = gains.iter().map(|gain| -gain).collect();
        exp_m1_all(&mut shares);
        for share in &mut shares {
            *share = -*share;
        }
        Self {
            gained,
            before,
            gains,
            shares,
        }
    }

    pub(super) fn log_likelihood(&self, support: &Support) -> f64 {
        let mut sum = Sum::default();
        let mut logs = self.shares.clone();
        ln_all(&mut logs);
        for (run, ln) in support.rows.iter().zip(logs) {
            sum.add(run.count as f64 * ln);
        }
        for (unfailed, gain) in support.unfailed.iter().zip(&self.gained) {
            sum.add(-unfailed * gain);
        }
        sum.total()
    }

    /// Sum over the failures that may lie in each interval of `count / (exp(gain) - 1)`.
    pub(super) fn pulls(&self, support: &Support) -> Vec<f64> {
        let m = self.gained.len();
        let mut pulls = vec![0.0; m];
        let mut changes = vec![0.0; m + 1];
        for (run, share) in support.rows.iter().zip(&self.shares) {
            let pull = run.count as f64 * ((1.0 - share) / share);
            if support.short_runs {
                for slot in pulls.get_mut(run.start..run.end).unwrap_or_default() {
                    *slot += pull;
                }
                continue;
            }
            if let Some(change) = changes.get_mut(run.start) {
                *change += pull;
            }
            if let Some(change) = changes.get_mut(run.end) {
                *change -= pull;
            }
        }
        let mut level = Sum::default();
        for (pull, change) in pulls.iter_mut().zip(changes) {
            level.add(change);
            *pull += level.total();
        }
        pulls
    }

    /// How far the gradient breaks its bound: at most zero everywhere, and zero where there is hazard.
    pub(super) fn gradient_excess(&self, support: &Support) -> f64 {
        let at_risk = support.unfailed.iter().zip(&support.covered);
        self.pulls(support)
            .iter()
            .zip(at_risk)
            .zip(&self.gained)
            .map(|((pull, (unfailed, covered)), gained)| {
                let over = (pull - unfailed) / (unfailed + covered);
                if *gained > NO_HAZARD && *gained < ALL_FAILED {
                    over.abs()
                } else if *gained >= ALL_FAILED {
                    (-over).max(0.0)
                } else {
                    over.max(0.0)
                }
            })
            .fold(0.0, f64::max)
    }
}
