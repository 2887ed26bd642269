//! Pointwise limits of survival on the scale asked for (Klein and Moeschberger 2003, section 4.3).

use super::LimitKind;
use crate::special::vector::{Kernel, exp, ln};
use crate::summation::BLOCK;

/// Limits of a block of points. Greenwood's sums become their roots on the way.
pub(super) struct PointLimits<'a> {
    pub(super) survival: &'a [f64; BLOCK],
    pub(super) errors: &'a mut [f64; BLOCK],
    pub(super) z: f64,
    pub(super) kind: LimitKind,
    pub(super) lower: &'a mut [f64; BLOCK],
    pub(super) upper: &'a mut [f64; BLOCK],
}

impl Kernel for PointLimits<'_> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        let z = self.z;
        for error in self.errors.iter_mut() {
            *error = error.sqrt();
        }
        let given = self.survival.iter().zip(self.errors.iter());
        let out = self.lower.iter_mut().zip(self.upper.iter_mut());
        match self.kind {
            LimitKind::Plain => {
                for ((survival, error), (lower, upper)) in given.zip(out) {
                    *lower = survival * (1.0 - z * error);
                    *upper = survival * (1.0 + z * error);
                }
            }
            LimitKind::Log => {
                for ((survival, error), (lower, upper)) in given.zip(out) {
                    let factor = exp(z * error);
                    *lower = survival / factor;
                    *upper = survival * factor;
                }
            }
            LimitKind::LogLog => {
                for ((survival, error), (lower, upper)) in given.zip(out) {
                    let ln_survival = ln(*survival);
                    let stretch = exp(z * error / -ln_survival);
                    *lower = exp(ln_survival * stretch);
                    *upper = exp(ln_survival / stretch);
                }
            }
        }
    }
}
