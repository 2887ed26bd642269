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
    let (earliest, latest, survived) = bounds(sample);
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

/// The latest usage before which some failure cannot lie, the earliest usage by which some failure lay, and the
/// longest usage survived by a life not seen to fail.
fn bounds(sample: &Sample) -> (f64, f64, f64) {
    let columns = sample.columns();
    let rows = || columns.lower.iter().zip(&columns.upper);
    let failed = |row: &(&f64, &f64)| row.1.is_finite();
    // Rows are in order of their lower bounds.
    let earliest = rows().rev().find(failed).map_or(0.0, |row| *row.0);
    let survived = rows()
        .rev()
        .find(|row| !failed(row))
        .map_or(0.0, |row| *row.0);
    let latest = if sample.exact_failures() == sample.failures() {
        rows().find(failed).map_or(f64::INFINITY, |row| *row.1)
    } else {
        columns.upper.iter().copied().fold(f64::INFINITY, f64::min)
    };
    (earliest, latest, survived)
}
