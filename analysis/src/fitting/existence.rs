//! Whether a finite maximum exists, asked before the search.

use super::error::FitError;
use crate::families::Family;
use crate::sample::Sample;

/// Refuses data on which the likelihood has no finite maximum.
///
/// A two-parameter model collapses onto one usage when some usage lies in every failure's bounds and no survivor
/// was seen beyond it. The exponential needs only some usage known unfailed.
pub(crate) fn check(sample: &Sample, family: Family) -> Result<(), FitError> {
    let refuse = |reason| Err(FitError::NoFiniteMaximum { family, reason });
    if sample.lives() == 0 {
        return Err(FitError::NoLives);
    }
    if sample.failures() == 0 {
        return Err(FitError::NoFailures);
    }
    if family == Family::Exponential {
        if sample.total_usage() <= 0.0 {
            return refuse(
                "every failure is only known to lie before some usage, so the mean shrinks to zero",
            );
        }
        return Ok(());
    }
    let (mut earliest, mut latest, mut survived) = (0.0_f64, f64::INFINITY, 0.0_f64);
    for row in sample.observations() {
        if row.upper.is_finite() {
            earliest = earliest.max(row.lower);
            latest = latest.min(row.upper);
        } else {
            survived = survived.max(row.lower);
        }
    }
    if earliest.max(survived) <= latest {
        return refuse(if sample.failures() == sample.left_censored() {
            "every failure is only known to lie before some usage, and no life was seen to survive beyond the earliest of them"
        } else if sample.failures() == 1 {
            "the only failure is the longest life, so the shape grows without end"
        } else {
            "all failures may have happened at one and the same usage and no life was seen to survive beyond it, so the shape cannot be told"
        });
    }
    Ok(())
}
