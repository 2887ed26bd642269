//! The Newton step on all hazards together.

use super::SLACK;
use super::state::{ALL_FAILED, NO_HAZARD, State};
use crate::nonparametric::innermost::Support;
use crate::nonparametric::newton;

impl State {
    /// A Newton step on all hazards together, kept if it meets the gradient condition better; gives how far the
    /// gradient then breaks it.
    pub(super) fn newton_step(&mut self, support: &Support) -> f64 {
        let excess = self.gradient_excess(support);
        if excess <= SLACK || !support.short_runs {
            return excess;
        }
        let slopes: Vec<f64> = self
            .pulls(support)
            .iter()
            .zip(&support.unfailed)
            .map(|(pull, unfailed)| pull - unfailed)
            .collect();
        let moving: Vec<usize> = self
            .gained
            .iter()
            .zip(&slopes)
            .enumerate()
            .filter(|(_, (gained, slope))| {
                **gained < ALL_FAILED && (**gained > NO_HAZARD || **slope > 0.0)
            })
            .map(|(place, _)| place)
            .collect();
        let before = self.log_likelihood(support);
        for share in [1.0, 0.5, 0.1] {
            let Some(next) =
                newton::moved(support, &self.gained, &self.gains, &slopes, &moving, share)
            else {
                break;
            };
            let next = next.iter().map(|gain| gain.min(ALL_FAILED)).collect();
            let next = Self::of(next, support);
            let (there, after) = (next.gradient_excess(support), next.log_likelihood(support));
            if there < excess && after >= before - 1e-9 * (1.0 + before.abs()) {
                *self = next;
                return there;
            }
        }
        excess
    }
}
