//! Anderson-Darling distance adjusted for censoring, for ranking models only.

use super::GoodnessError;
use crate::fitting::Fit;
use crate::ranks::{Positions, adjusted_ranks};
use crate::sample::Sample;
use crate::summation::Sum;

/// Share failed at which the integral stops. It is arbitrary, and the value grows without end as it nears 1.
pub const CUT_OFF: f64 = 1.0 - 1e-12;

/// Anderson-Darling distance between the model and the plotting positions of the failures, times the number of
/// failures. Its size depends on [`CUT_OFF`] and on the censoring: compare models on the same sample with it, and
/// nothing else.
///
/// # Errors
/// For samples without ranks, or a model under which a life seen cannot happen.
pub fn anderson_darling_adjusted(
    sample: &Sample,
    fit: &Fit,
    positions: Positions,
) -> Result<f64, GoodnessError> {
    let ranked = adjusted_ranks(sample)?;
    // Between tied failures the model does not move, so only the last position of each usage counts.
    let steps = ranked.iter().map(|group| {
        let hazard = fit.cumulative_hazard(group.time);
        (
            Model::new(hazard),
            positions.share_at(group.last(), sample.lives()),
        )
    });
    let end = Model {
        ln_failed: CUT_OFF.ln(),
        hazard: -(1.0 - CUT_OFF).ln(),
    };
    let mut sum = Sum::default();
    let mut from = Model {
        ln_failed: f64::NEG_INFINITY,
        hazard: 0.0,
    };
    let mut share = 0.0_f64;
    for (to, next) in steps.chain([(end, 1.0)]) {
        // A model that is beyond the cut-off already has nothing more to add.
        if to.hazard > from.hazard {
            let rest = 1.0 - share;
            // Integral of (share - F)^2 / (F (1 - F)) over F between the two.
            sum.add(from.failed() - to.failed());
            sum.add(rest * rest * (to.hazard - from.hazard));
            if share > 0.0 {
                sum.add(share * share * (to.ln_failed - from.ln_failed));
            }
            from = to;
        }
        share = next;
    }
    let value = sample.failures() as f64 * sum.total();
    if value.is_finite() {
        Ok(value)
    } else {
        Err(GoodnessError::OutOfRange)
    }
}

/// The model at one usage.
#[derive(Clone, Copy)]
struct Model {
    ln_failed: f64,
    hazard: f64,
}

impl Model {
    fn new(hazard: f64) -> Self {
        let ln_failed = if hazard > 0.7 {
            (-(-hazard).exp()).ln_1p()
        } else {
            (-(-hazard).exp_m1()).ln()
        };
        Self { ln_failed, hazard }
    }

    fn failed(self) -> f64 {
        -(-self.hazard).exp_m1()
    }
}
