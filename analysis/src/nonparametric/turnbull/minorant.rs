//! The step to a convex minorant.

use super::state::{ALL_FAILED, State};
use crate::nonparametric::innermost::Support;
use crate::nonparametric::isotonic::isotonic;
use crate::summation::Sum;

impl State {
    /// One Newton step on the cumulative hazard with a diagonal second derivative, projected on increasing functions
    /// and shortened until the likelihood does not fall.
    pub(super) fn minorant_step(&mut self, support: &Support) {
        let m = self.gained.len();
        let (mut slopes, mut weights) = (vec![0.0; m + 1], vec![0.0; m + 1]);
        for (run, share) in support.rows.iter().zip(&self.shares) {
            let pull = (1.0 - share) / share;
            for (place, sign) in [(run.end, 1.0), (run.start, -1.0)] {
                if let (Some(slope), Some(weight)) = (slopes.get_mut(place), weights.get_mut(place))
                {
                    *slope += sign * run.count as f64 * pull;
                    *weight += run.count as f64 * pull * (1.0 + pull);
                }
            }
        }
        // Lives unfailed over an interval weigh on its end and lift its beginning.
        let mut last = 0.0;
        for (place, unfailed) in support.unfailed.iter().chain([&0.0]).enumerate() {
            if let Some(slope) = slopes.get_mut(place) {
                *slope += unfailed - last;
            }
            last = *unfailed;
        }
        let inner = |values: &[f64]| -> Vec<f64> { values.iter().skip(1).copied().collect() };
        let now: Vec<f64> = self.before.iter().skip(1).map(Sum::total).collect();
        let slopes = inner(&slopes);
        let weights: Vec<f64> = inner(&weights)
            .iter()
            .zip(&slopes)
            .map(|(weight, slope)| weight.max(slope.abs()).max(1e-300))
            .collect();
        let wished: Vec<f64> = now
            .iter()
            .zip(&slopes)
            .zip(&weights)
            .map(|((now, slope), weight)| now + slope / weight)
            .collect();
        let target = isotonic(&wished, &weights);
        let before = self.log_likelihood(support);
        let mut share = 1.0;
        while share > 1e-6 {
            let mut last = 0.0_f64;
            let tried: Vec<f64> = now
                .iter()
                .zip(&target)
                .map(|(from, to)| {
                    // Written so that equal targets give exactly equal sums.
                    let to = to.max(0.0);
                    let sum = if share < 1.0 {
                        from + share * (to - from)
                    } else {
                        to
                    };
                    let gain = (sum - last).clamp(0.0, ALL_FAILED);
                    last = sum;
                    gain
                })
                .collect();
            let tried = Self::of(tried, support);
            let after = tried.log_likelihood(support);
            if after.is_finite() && after >= before {
                *self = tried;
                return;
            }
            share *= 0.5;
        }
    }
}
